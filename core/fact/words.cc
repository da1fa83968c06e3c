#include "core/fact/words.h"

#include "absl/strings/str_cat.h"
#include "core/fact/counted.h"
#include "core/fact/line.h"
#include "core/fact/records_words.h"
#include "core/fact/stores_words.h"
#include "core/time/civil.h"

namespace ferrule::fact {
namespace {

std::string SideText(v1::Side side) {
  return side == v1::SIDE_UNSPECIFIED ? "" : std::string(SideWords(side));
}

std::string Degrees(double value) { return absl::StrCat(value, " deg"); }

void AddMotion(const v1::Motion& m, Line* line) {
  if (m.has_extension_deg()) line->Detail("extension", Degrees(m.extension_deg()));
  if (m.has_flexion_deg()) line->Detail("flexion", Degrees(m.flexion_deg()));
  if (m.has_speed_deg_per_min()) {
    line->Detail("speed", absl::StrCat(m.speed_deg_per_min(), " deg/min"));
  }
  if (m.has_pause_s()) line->Detail("pause", absl::StrCat(m.pause_s(), " s"));
  if (m.has_daily_use_s()) line->Detail("daily use", HoursWords(m.daily_use_s()));
}

// That measures were taken, and what is to be minded; the figures are the patient's own.
void AddMeasures(const v1::PatientMeasures& m, Line* line) {
  const bool leg = m.has_thigh() || m.has_shank() || m.has_leg();
  const bool any = leg || m.has_upper_arm() || m.has_girth() || m.has_weight();
  line->Detail("", any ? "measured" : "");
}

void AddProgression(const v1::MotionProgression& p, Line* line) {
  line->Detail("progression from", ProgressionAnchorWords(p.anchor()));
  if (p.has_start_flexion_deg()) line->Detail("at first", Degrees(p.start_flexion_deg()));
  if (p.has_flexion_step_deg()) {
    line->Detail("", absl::StrCat(p.flexion_step_deg(), " deg a day"));
  }
  line->Count(p.days_size(), "day of its own", "days of their own");
}

template <typename Kit>
void AddKit(const Kit& kit, Line* line) {
  for (const v1::KitItem& item : kit) {
    line->Detail("", absl::StrCat(item.piece_count(), " ", item.item(), " of lot ", item.lot()));
  }
}

void AddPayerAndLink(const v1::OrderDetails& d, Line* line) {
  line->Detail("payer", d.payer());
  line->Day("payer from", d.has_payer_from_date(), d.payer_from_date());
  line->Detail("operation at",
               d.has_surgery_time() ? time::FormatUtc(time::ToMicros(d.surgery_time())) : "");
  line->Detail("procedure code", d.procedure_code()).Detail("joint", d.joint());
  line->Detail("the patient says", SideText(d.patient_side()));
  line->Detail(OrderLinkWords(d.order_link()), d.linked_order());
  line->Day("told of what is not paid", d.has_notice_date(), d.notice_date());
}

// What an order says; whom it is for stays out.
void AddDetails(const v1::OrderDetails& d, Line* line) {
  line->Detail("branch", d.branch()).Detail("for", d.device_class());
  line->Detail("", SideText(d.side())).Detail("", d.procedure());
  line->Day("operation", d.has_surgery_date(), d.surgery_date());
  line->Day("discharge", d.has_discharge_date(), d.discharge_date());
  line->Day("needed by", d.has_needed_date(), d.needed_date());
  if (d.has_length_of_need_days()) line->Count(d.length_of_need_days(), "day", "days");
  AddMotion(d.motion(), line);
  line->Day("signed", d.has_signed_date(), d.signed_date());
  line->Day("authorised through", d.has_authorisation_end_date(), d.authorisation_end_date());
  line->Day("covered through", d.has_cover_end_date(), d.cover_end_date());
  AddPayerAndLink(d, line);
  AddMeasures(d.measures(), line);
  if (d.has_progression()) AddProgression(d.progression(), line);
  if (d.has_mains_voltage_v()) line->Detail("mains", absl::StrCat(d.mains_voltage_v(), " V"));
  line->Detail("model", d.model());
}

void Add(const v1::UnitReceived& f, Line* line) {
  line->Word("", f.unit()).Detail("model", f.model()).Detail("serial", f.serial());
  line->Detail("at", f.place()).Detail("set up", SideText(f.side()));
  if (f.purpose() > v1::PURPOSE_RENTAL) line->Detail("for", PurposeWords(f.purpose()));
  line->Detail("owner", f.owner()).Meter(f.has_meter_s(), f.meter_s());
  line->Count(f.parts_size(), "part", "parts");
}
void Add(const v1::UnitMoved& f, Line* line) {
  line->Word("", f.unit()).Word("from", f.from_place()).Word("to", f.to_place());
}
void Add(const v1::MeterRead& f, Line* line) {
  line->Word("on", f.unit()).Detail("", HoursWords(f.reading_s()));
}
void Add(const v1::MeterReplaced& f, Line* line) {
  line->Word("on", f.unit());
  line->Detail("", f.has_old_last_s() ? absl::StrCat("old one at ", HoursWords(f.old_last_s()))
                                      : "old one not readable");
  line->Detail("new one at", HoursWords(f.new_first_s()));
}
void Add(const v1::MeterRolledOver& f, Line* line) {
  line->Word("on", f.unit()).Detail("", HoursWords(f.reading_s()));
  line->Detail("begins again at", HoursWords(f.width_s()));
}
void Add(const v1::PartFitted& f, Line* line) {
  line->Word("", f.part()).Word("into", f.unit()).Detail("as", f.position());
}
void Add(const v1::PartRemoved& f, Line* line) {
  line->Word("", f.part()).Word("from", f.unit()).Detail("as", f.position());
}
void Add(const v1::HoldPlaced& f, Line* line) {
  line->Word("on", f.unit()).Detail("", HoldKindWords(f.kind())).Detail("", f.reason());
  line->Detail("reference", f.reference());
}
void Add(const v1::HoldLifted& f, Line* line) {
  line->Word("from", f.unit()).Detail("", HoldKindWords(f.kind())).Detail("", f.outcome());
  line->Detail("reference", f.reference()).Detail("inspected by", f.inspected_by());
}
void Add(const v1::CleaningStarted& f, Line* line) { line->Word("on", f.unit()); }
void Add(const v1::CleaningFinished& f, Line* line) {
  const int64_t wet_us = time::ToMicros(f.wet_to_time()) - time::ToMicros(f.wet_from_time());
  line->Word("on", f.unit()).Detail("with", f.product()).Detail("lot", f.product_lot());
  line->Detail("diluted", f.dilution());
  line->Detail("wet for", absl::StrCat(wet_us / 1'000'000, " s"));
  line->All("thrown away", f.discarded()).Detail("seal", f.seal()).All("extra", f.extra());
}
void Add(const v1::MemoryErased& f, Line* line) {
  line->Word("of", f.unit()).Detail("by", f.method());
}
void Add(const v1::InspectionDone& f, Line* line) {
  line->Word("on", f.unit());
  line->Detail("", absl::StrCat(f.checklist(), " version ", f.checklist_version()));
  line->Count(f.readings_size(), "reading", "readings").Detail("with tester", f.tester());
}
void Add(const v1::RepairOpened& f, Line* line) {
  line->Word("on", f.unit()).Detail("", f.complaint());
}
void Add(const v1::RepairClosed& f, Line* line) {
  line->Word("on", f.unit()).Detail("cause", f.cause()).Detail("", f.work());
  line->Detail("", f.no_fault_found() ? "no fault found" : "");
  if (f.labour_s() != 0) line->Detail("labour", HoursWords(f.labour_s()));
}
void Add(const v1::ServiceDone& f, Line* line) { line->Word("on", f.unit()).Detail("", f.plan()); }
void Add(const v1::SideConfigured& f, Line* line) {
  line->Word("of", f.unit()).Detail("", SideText(f.side()));
}
void Add(const v1::UnitMissing& f, Line* line) {
  line->Word("", f.unit()).Detail("", f.evidence());
}
void Add(const v1::UnitFound& f, Line* line) { line->Word("", f.unit()).Detail("at", f.place()); }
void Add(const v1::UnitWrittenOff& f, Line* line) {
  line->Word("", f.unit()).Detail("", f.reason()).Detail("approved by", f.approved_by());
}
void Add(const v1::AliasNoted& f, Line* line) {
  line->Word("of", f.unit()).Detail(AliasKindWords(f.kind()), f.alias());
}
void Add(const v1::CleaningStepDone& f, Line* line) {
  line->Word("on", f.unit()).Detail("", CleaningStepWords(f.step()));
}
void Add(const v1::ContactNoted& f, Line* line) {
  line->Word("of", f.unit()).Word("with soiled", f.beside_unit()).Detail("", f.evidence());
}
void Add(const v1::TreatmentDone& f, Line* line) {
  const int64_t kept_us = time::ToMicros(f.to_time()) - time::ToMicros(f.from_time());
  line->Word("of", f.unit()).Detail("", f.treatment());
  if (f.has_temperature_c()) line->Detail("at", absl::StrCat(f.temperature_c(), " deg C"));
  line->Detail("for", absl::StrCat(kept_us / 60'000'000, " min"));
}
void Add(const v1::ServiceDeferred& f, Line* line) {
  line->Word("of", f.unit()).Detail("", f.plan());
  line->Day("until", f.has_until_date(), f.until_date()).Detail("by", f.authority());
  line->Detail("because", f.because());
}
void Add(const v1::TesterCalibrated& f, Line* line) {
  line->Word("", f.tester()).Day("through", f.has_due_date(), f.due_date());
  line->Detail("certificate", f.certificate());
  line->Detail("", f.found_out_of_tolerance() ? "found out of tolerance" : "");
}
void Add(const v1::TesterDoubted& f, Line* line) {
  line->Word("", f.tester());
  line->Detail("from", f.has_from_time() ? time::FormatUtc(time::ToMicros(f.from_time())) : "");
  line->Detail("to", f.has_to_time() ? time::FormatUtc(time::ToMicros(f.to_time())) : "");
  line->Detail("", f.because()).Count(f.units_size(), "unit", "units");
}
void Add(const v1::OrderTaken& f, Line* line) {
  line->Word("", f.order());
  AddDetails(f.details(), line);
  line->Detail("sender's number", f.sender_reference());
}
void Add(const v1::OrderChanged& f, Line* line) {
  line->Word("", f.order());
  AddDetails(f.details(), line);
  if (f.sender_version() != 0) line->Detail("version", absl::StrCat(f.sender_version()));
}
void Add(const v1::OrderCancelled& f, Line* line) {
  line->Word("", f.order()).Detail("", f.reason());
}
void Add(const v1::UnitHeldForOrder& f, Line* line) {
  line->Word("", f.unit()).Word("for order", f.order()).Detail("", f.firm() ? "firm" : "soft");
}
void Add(const v1::OrderHoldReleased& f, Line* line) {
  line->Word("", f.unit()).Word("for order", f.order()).Detail("", f.reason());
}
void Add(const v1::HandedOver& f, Line* line) {
  line->Word("", f.unit()).Word("with order", f.order()).Detail("model", f.unit_model());
  line->Detail("set up", SideText(f.unit_side())).Meter(f.has_meter_s(), f.meter_s());
  AddKit(f.kit(), line);
  line->All("with", f.accessories());
  AddMotion(f.motion(), line);
  line->All("papers", f.papers()).Detail("signed by", f.signed_by());
}
void Add(const v1::Exchanged& f, Line* line) {
  line->Word("", f.unit_out()).Word("for", f.unit_in()).Word("with order", f.order());
  line->Detail("", f.reason());
  if (f.has_out_meter_s()) line->Detail("old meter", HoursWords(f.out_meter_s()));
  if (f.has_in_meter_s()) line->Detail("new meter", HoursWords(f.in_meter_s()));
  line->Detail("model", f.unit_in_model()).Detail("set up", SideText(f.unit_in_side()));
  line->Detail("old one to", f.to_place());
  AddKit(f.kit(), line);
  AddMotion(f.motion(), line);
}
void Add(const v1::OrderExtended& f, Line* line) {
  line->Word("", f.order()).Day("through", f.has_through_date(), f.through_date());
  line->Day("signed", f.has_signed_date(), f.signed_date());
}
void Add(const v1::PickupAgreed& f, Line* line) {
  line->Word("for order", f.order()).Day("", f.has_pickup_date(), f.pickup_date());
}
void Add(const v1::PickupFailed& f, Line* line) {
  line->Word("for order", f.order()).Detail("", f.outcome());
}
void Add(const v1::PickedUp& f, Line* line) {
  line->Word("", f.unit()).Word("from order", f.order()).Word("to", f.to_place());
  line->Meter(f.has_meter_s(), f.meter_s()).All("with", f.accessories());
  line->All("missing", f.missing()).Detail("", f.condition());
}
void Add(const v1::ReceivedBack& f, Line* line) {
  line->Word("", f.unit()).Word("at", f.place()).Meter(f.has_meter_s(), f.meter_s());
  line->Detail("serial", f.serial()).Count(f.parts_size(), "part seen", "parts seen");
  if (f.accessories_counted()) {
    line->All("with", f.accessories());
    if (f.accessories().empty()) line->Detail("", "no accessories");
  }
  line->Detail("", f.condition());
}
void Add(const v1::OrderMessageReceived& f, Line* line) {
  line->Word("for order", f.order()).Word("from", f.sender());
  line->Detail("", MessageKindWords(f.kind())).Detail("sender's number", f.sender_reference());
  if (f.sender_version() != 0) line->Detail("version", absl::StrCat(f.sender_version()));
  line->Detail("message", f.message()).All("takes away", f.cleared());
}
void Add(const v1::ForecastNoted& f, Line* line) {
  line->Word("of", f.branch()).Day("as of", f.has_as_of_date(), f.as_of_date());
  for (const v1::ClassForecastNoted& c : f.classes()) {
    line->Detail("", absl::StrCat(c.device_class(), " ", Counted(c.days_size(), "day", "days")));
  }
}
void Add(const v1::OrderReinstated& f, Line* line) {
  line->Word("", f.order()).Detail("", f.reason());
  if (f.sender_version() != 0) line->Detail("version", absl::StrCat(f.sender_version()));
}
void Add(const v1::DetailsConfirmed& f, Line* line) {
  line->Word("of order", f.order()).Detail("", DetailKindWords(f.kind()));
  line->Detail("by", f.confirmed_by()).Detail("", f.how());
}
void Add(const v1::AuthorisationNoted& f, Line* line) {
  line->Word("for order", f.order()).Detail("number", f.number());
  line->Day("from", f.has_from_date(), f.from_date());
  line->Day("through", f.has_through_date(), f.through_date());
  line->Count(f.unit_count(), "unit", "units");
}
void Add(const v1::PatientStayNoted& f, Line* line) {
  line->Word("of order", f.order()).Detail("", StayWords(f.stay())).Detail("", f.because());
}
void Add(const v1::OrderStopped& f, Line* line) {
  line->Word("", f.order()).Day("through", f.has_through_date(), f.through_date());
  line->Day("signed", f.has_signed_date(), f.signed_date()).Detail("", f.reason());
}
void Add(const v1::UseNoted& f, Line* line) {
  line->Word("with order", f.order()).Detail("", UseChangeWords(f.change()));
}
void Add(const v1::DaysBilled& f, Line* line) {
  line->Word("of order", f.order()).Detail("claim", f.claim());
  line->Day("from", f.has_from_date(), f.from_date());
  line->Day("through", f.has_through_date(), f.through_date());
  line->Count(f.unit_count(), "unit", "units").Detail("", f.correction() ? "a correction" : "");
}
void Add(const v1::CarriedOver& f, Line* line) {
  line->Word("", f.unit()).Word("from order", f.from_order()).Word("to order", f.to_order());
  line->Detail("model", f.unit_model()).Detail("set up", SideText(f.unit_side()));
  line->Meter(f.has_meter_s(), f.meter_s());
  AddKit(f.kit(), line);
  AddMotion(f.motion(), line);
  line->Detail("signed by", f.signed_by());
}
void Add(const v1::UsageReported& f, Line* line) {
  line->Word("with order", f.order()).Detail("", f.unit()).Meter(f.has_meter_s(), f.meter_s());
  if (f.has_used_s()) line->Detail("used", HoursWords(f.used_s()));
  line->Day("from", f.has_from_date(), f.from_date());
  line->Day("through", f.has_through_date(), f.through_date());
  line->Detail("", UsageSourceWords(f.source()));
}
void Add(const v1::MotionChanged& f, Line* line) {
  line->Word("with order", f.order()).Word("by", MotionChangerWords(f.changed_by()));
  AddMotion(f.motion(), line);
  line->Detail("", f.reason());
}
void Add(const v1::WaitingNoted& f, Line* line) {
  line->Word("", f.order()).Day("asked for", f.has_asked_date(), f.asked_date());
  line->Detail("", f.reason());
}
void Add(const v1::PromiseRefused& f, Line* line) {
  line->Word("for order", f.order()).Day("asked for", f.has_asked_date(), f.asked_date());
  line->Detail("", RefusalKindWords(f.kind()));
  line->Day("offered", f.has_offered_date(), f.offered_date()).Detail("", f.reason());
}
void Add(const v1::UnitPromised& f, Line* line) {
  line->Word("", f.unit()).Word("to order", f.order()).Detail("", f.firm() ? "firm" : "soft");
  line->Day("from", f.has_from_date(), f.from_date());
  line->Day("through", f.has_through_date(), f.through_date());
  line->Detail("after", f.after_order());
  if (f.odds_permille() != 0) line->Detail("odds", absl::StrCat(f.odds_permille() / 10.0, " %"));
}
void Add(const v1::SettingsPut& f, Line* line) {
  line->Detail("version", f.settings().version());
  line->Detail("from", f.has_from_time() ? time::FormatUtc(time::ToMicros(f.from_time())) : "");
}
void Add(const v1::Reversal& f, Line* line) {
  line->Word("", absl::StrCat("of ", f.fact().entry_id(), " fact ", f.fact().index()));
  line->Detail("", f.because());
}
void Add(const v1::QuestionAnswered& f, Line* line) {
  line->Word("on", f.subject()).Detail("", v1::Reason_Name(f.rule())).Detail("", f.explanation());
}
void Add(const v1::SetUpDone& f, Line* line) {
  line->Word("", f.unit()).Word("for order", f.order());
  if (f.thigh_set_mm() > 0) line->Detail("thigh", absl::StrCat(f.thigh_set_mm(), " mm"));
  if (f.shank_set_mm() > 0) line->Detail("shank", absl::StrCat(f.shank_set_mm(), " mm"));
  line->Count(f.tried_cycle_count(), "cycle tried", "cycles tried").Detail("skin", f.skin());
  line->Detail("foot", f.foot()).Detail("", f.taught_back() ? "taught back" : "not taught back");
  line->Detail("still to teach", f.teaching_left()).Detail("guide", f.guide());
  line->Detail("version", f.guide_version()).Detail("language", f.guide_language());
}
void Add(const v1::TicketReturned& f, Line* line) {
  line->Word("of order", f.order()).Day("signed", f.has_signed_date(), f.signed_date());
  line->Detail("by", f.signed_by());
  line->Detail("", f.signer_is_of_depot() ? "signer is of the depot" : "");
  line->Detail("", f.items_described() ? "" : "items not described");
  line->Detail("", f.legible() ? "" : "not legible").Detail("kept as", f.document());
}
void Add(const v1::CallMade& f, Line* line) {
  line->Word("about order", f.order()).Detail("", CallKindWords(f.kind()));
  line->Detail("", CallOutcomeWords(f.outcome()));
  line->Day("again on", f.has_again_date(), f.again_date());
}

// Without the reason: whoever goes there may read this and learns what to do alone.
void Add(const v1::PrecautionsNoted& f, Line* line) {
  line->Word("for order", f.order());
  line->Detail("", f.precautions().empty() ? "none any more" : PrecautionList(f.precautions()));
}

// Calls `use(kind in words, content)` for whatever the fact is; false when it is nothing.
template <typename Use>
bool WithContent(const v1::Fact& fact, Use use) {
  switch (fact.what_case()) {
    case v1::Fact::kUnitReceived:
      return use("unit received", fact.unit_received());
    case v1::Fact::kUnitMoved:
      return use("moved", fact.unit_moved());
    case v1::Fact::kMeterRead:
      return use("meter read", fact.meter_read());
    case v1::Fact::kMeterReplaced:
      return use("meter replaced", fact.meter_replaced());
    case v1::Fact::kMeterRolledOver:
      return use("meter rolled over", fact.meter_rolled_over());
    case v1::Fact::kPartFitted:
      return use("part fitted", fact.part_fitted());
    case v1::Fact::kPartRemoved:
      return use("part removed", fact.part_removed());
    case v1::Fact::kHoldPlaced:
      return use("hold placed", fact.hold_placed());
    case v1::Fact::kHoldLifted:
      return use("hold lifted", fact.hold_lifted());
    case v1::Fact::kCleaningStarted:
      return use("cleaning started", fact.cleaning_started());
    case v1::Fact::kCleaningFinished:
      return use("cleaning finished", fact.cleaning_finished());
    case v1::Fact::kMemoryErased:
      return use("memory erased", fact.memory_erased());
    case v1::Fact::kInspectionDone:
      return use("inspection done", fact.inspection_done());
    case v1::Fact::kRepairOpened:
      return use("repair opened", fact.repair_opened());
    case v1::Fact::kRepairClosed:
      return use("repair closed", fact.repair_closed());
    case v1::Fact::kServiceDone:
      return use("service done", fact.service_done());
    case v1::Fact::kSideConfigured:
      return use("side configured", fact.side_configured());
    case v1::Fact::kUnitMissing:
      return use("unit missing", fact.unit_missing());
    case v1::Fact::kUnitFound:
      return use("unit found", fact.unit_found());
    case v1::Fact::kUnitWrittenOff:
      return use("unit written off", fact.unit_written_off());
    case v1::Fact::kAliasNoted:
      return use("alias noted", fact.alias_noted());
    case v1::Fact::kCleaningStepDone:
      return use("cleaning step", fact.cleaning_step_done());
    case v1::Fact::kContactNoted:
      return use("contact", fact.contact_noted());
    case v1::Fact::kTreatmentDone:
      return use("treatment", fact.treatment_done());
    case v1::Fact::kServiceDeferred:
      return use("service put off", fact.service_deferred());
    case v1::Fact::kTesterCalibrated:
      return use("tester calibrated", fact.tester_calibrated());
    case v1::Fact::kTesterDoubted:
      return use("tester in doubt", fact.tester_doubted());
    case v1::Fact::kOrderTaken:
      return use("order taken", fact.order_taken());
    case v1::Fact::kOrderChanged:
      return use("order changed", fact.order_changed());
    case v1::Fact::kOrderCancelled:
      return use("order cancelled", fact.order_cancelled());
    case v1::Fact::kUnitHeldForOrder:
      return use("unit held", fact.unit_held_for_order());
    case v1::Fact::kOrderHoldReleased:
      return use("unit released", fact.order_hold_released());
    case v1::Fact::kHandedOver:
      return use("handed over", fact.handed_over());
    case v1::Fact::kExchanged:
      return use("exchanged", fact.exchanged());
    case v1::Fact::kOrderExtended:
      return use("order extended", fact.order_extended());
    case v1::Fact::kPickupAgreed:
      return use("pick-up agreed", fact.pickup_agreed());
    case v1::Fact::kPickupFailed:
      return use("pick-up failed", fact.pickup_failed());
    case v1::Fact::kPickedUp:
      return use("picked up", fact.picked_up());
    case v1::Fact::kReceivedBack:
      return use("received back", fact.received_back());
    case v1::Fact::kOrderMessageReceived:
      return use("message received", fact.order_message_received());
    case v1::Fact::kForecastNoted:
      return use("forecast noted", fact.forecast_noted());
    case v1::Fact::kOrderReinstated:
      return use("order reinstated", fact.order_reinstated());
    case v1::Fact::kDetailsConfirmed:
      return use("details confirmed", fact.details_confirmed());
    case v1::Fact::kAuthorisationNoted:
      return use("authorisation noted", fact.authorisation_noted());
    case v1::Fact::kPatientStayNoted:
      return use("patient's stay noted", fact.patient_stay_noted());
    case v1::Fact::kOrderStopped:
      return use("order stopped", fact.order_stopped());
    case v1::Fact::kUseNoted:
      return use("use noted", fact.use_noted());
    case v1::Fact::kDaysBilled:
      return use("days billed", fact.days_billed());
    case v1::Fact::kCarriedOver:
      return use("carried over", fact.carried_over());
    case v1::Fact::kUsageReported:
      return use("usage reported", fact.usage_reported());
    case v1::Fact::kMotionChanged:
      return use("motion changed", fact.motion_changed());
    case v1::Fact::kWaitingNoted:
      return use("waiting noted", fact.waiting_noted());
    case v1::Fact::kPromiseRefused:
      return use("promise refused", fact.promise_refused());
    case v1::Fact::kUnitPromised:
      return use("unit promised", fact.unit_promised());
    case v1::Fact::kSettingsPut:
      return use("settings put", fact.settings_put());
    case v1::Fact::kReversal:
      return use("reversal", fact.reversal());
    case v1::Fact::kQuestionAnswered:
      return use("question answered", fact.question_answered());
    case v1::Fact::kStockReceived:
      return use("stock received", fact.stock_received());
    case v1::Fact::kStockMoved:
      return use("stock moved", fact.stock_moved());
    case v1::Fact::kStockIssued:
      return use("stock issued", fact.stock_issued());
    case v1::Fact::kStockReturned:
      return use("stock returned", fact.stock_returned());
    case v1::Fact::kStockDiscarded:
      return use("stock discarded", fact.stock_discarded());
    case v1::Fact::kStockAdjusted:
      return use("stock adjusted", fact.stock_adjusted());
    case v1::Fact::kTransferSent:
      return use("transfer sent", fact.transfer_sent());
    case v1::Fact::kTransferReceived:
      return use("transfer received", fact.transfer_received());
    case v1::Fact::kClosetUseReported:
      return use("closet use reported", fact.closet_use_reported());
    case v1::Fact::kClosetUseSettled:
      return use("closet use settled", fact.closet_use_settled());
    case v1::Fact::kCountOpened:
      return use("count opened", fact.count_opened());
    case v1::Fact::kCountTallied:
      return use("counted", fact.count_tallied());
    case v1::Fact::kCountClosed:
      return use("count closed", fact.count_closed());
    case v1::Fact::kRecallOpened:
      return use("recall opened", fact.recall_opened());
    case v1::Fact::kRecallOutcomeNoted:
      return use("recall outcome", fact.recall_outcome_noted());
    case v1::Fact::kRecallClosed:
      return use("recall closed", fact.recall_closed());
    case v1::Fact::kSealBroken:
      return use("seal found broken", fact.seal_broken());
    case v1::Fact::kPurposeChanged:
      return use("purpose changed", fact.purpose_changed());
    case v1::Fact::kSetUpDone:
      return use("set up", fact.set_up_done());
    case v1::Fact::kTicketReturned:
      return use("ticket returned", fact.ticket_returned());
    case v1::Fact::kCallMade:
      return use("call made", fact.call_made());
    case v1::Fact::kPrecautionsNoted:
      return use("precautions", fact.precautions_noted());
    case v1::Fact::kBreakdownReported:
      return use("breakdown reported", fact.breakdown_reported());
    case v1::Fact::kBreakdownSettled:
      return use("works again", fact.breakdown_settled());
    case v1::Fact::kComplaintReceived:
      return use("complaint received", fact.complaint_received());
    case v1::Fact::kComplaintAnswered:
      return use("complaint answered", fact.complaint_answered());
    case v1::Fact::kComplaintClosed:
      return use("complaint closed", fact.complaint_closed());
    case v1::Fact::kRecordsHeld:
      return use("records held", fact.records_held());
    case v1::Fact::kRecordsReleased:
      return use("records released", fact.records_released());
    case v1::Fact::kRecordsDisclosed:
      return use("records disclosed", fact.records_disclosed());
    case v1::Fact::WHAT_NOT_SET:
      return false;
  }
  return false;
}

}  // namespace

std::string Describe(const v1::Fact& fact) {
  std::string text(KindWords(fact));
  WithContent(fact, [&text](std::string_view kind, const auto& content) {
    Line line(kind);
    Add(content, &line);
    text = line.Done();
    return true;
  });
  return text;
}

std::string_view KindWords(const v1::Fact& fact) {
  std::string_view words = "nothing stated";
  WithContent(fact, [&words](std::string_view kind, const auto&) {
    words = kind;
    return true;
  });
  return words;
}

std::string HoursWords(int64_t seconds) {
  constexpr int64_t kTenth = 360;
  const int64_t tenths = (seconds < 0 ? -seconds : seconds) / kTenth;
  return absl::StrCat(seconds < 0 ? "-" : "", tenths / 10, ".", tenths % 10, " h");
}

}  // namespace ferrule::fact
