#include "core/fact/words.h"

#include <algorithm>
#include <utility>

#include "absl/strings/str_cat.h"
#include "core/time/civil.h"
#include "google/protobuf/repeated_field.h"

namespace ferrule::fact {
namespace {

constexpr size_t kLongestQuote = 120;  // bytes of a free text within a line

// A free text as part of a line: no line breaks, cut between characters.
std::string Quote(std::string_view text) {
  std::string line(text.substr(0, kLongestQuote));
  if (text.size() > kLongestQuote) {
    size_t end = kLongestQuote;
    while (end > 0 && (static_cast<unsigned char>(text[end]) & 0xC0) == 0x80) --end;
    line = absl::StrCat(std::string(text.substr(0, end)), "...");
  }
  const auto breaks = [](char c) { return static_cast<unsigned char>(c) < 0x20; };
  std::replace_if(line.begin(), line.end(), breaks, ' ');
  return line;
}

// Builds a line out of a subject and details set off by commas.
class Line {
 public:
  explicit Line(std::string_view kind) : text_(kind) {}

  // " word value" when there is a value.
  Line& Word(std::string_view word, std::string_view value) {
    if (!value.empty()) absl::StrAppend(&text_, " ", std::string(word), Gap(word), Quote(value));
    return *this;
  }
  // ", word value" when there is a value; the first one after a colon.
  Line& Detail(std::string_view word, std::string_view value) {
    if (value.empty()) return *this;
    absl::StrAppend(&text_, details_++ == 0 ? ": " : ", ", std::string(word), Gap(word),
                    Quote(value));
    return *this;
  }
  Line& Count(int64_t count, std::string_view one, std::string_view many) {
    if (count == 0) return *this;
    return Detail("", absl::StrCat(count, " ", std::string(count == 1 ? one : many)));
  }
  Line& Day(std::string_view word, bool known, const google::type::Date& day) {
    return Detail(word, known && time::IsValid(day) ? time::FormatDay(time::ToDay(day)) : "");
  }
  Line& Meter(bool known, int64_t seconds) {
    return Detail("meter", known ? HoursWords(seconds) : "");
  }
  Line& All(std::string_view word, const google::protobuf::RepeatedPtrField<std::string>& list) {
    std::string joined;
    for (const std::string& item : list) absl::StrAppend(&joined, joined.empty() ? "" : " ", item);
    return Detail(word, joined);
  }
  std::string Done() { return std::move(text_); }

 private:
  static const char* Gap(std::string_view word) { return word.empty() ? "" : " "; }

  std::string text_;
  int details_ = 0;
};

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

template <typename Kit>
void AddKit(const Kit& kit, Line* line) {
  for (const v1::KitItem& item : kit) {
    line->Detail("", absl::StrCat(item.piece_count(), " ", item.item(), " of lot ", item.lot()));
  }
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
    case v1::Fact::kSettingsPut:
      return use("settings put", fact.settings_put());
    case v1::Fact::kReversal:
      return use("reversal", fact.reversal());
    case v1::Fact::kQuestionAnswered:
      return use("question answered", fact.question_answered());
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

std::string_view SideWords(v1::Side side) {
  switch (side) {
    case v1::SIDE_UNSPECIFIED:
      return "not stated";
    case v1::SIDE_LEFT:
      return "left";
    case v1::SIDE_RIGHT:
      return "right";
    case v1::SIDE_EITHER:
      return "either";
    default:
      return "other";
  }
}

std::string_view HoldKindWords(v1::HoldKind kind) {
  switch (kind) {
    case v1::HOLD_KIND_UNSPECIFIED:
      return "not stated";
    case v1::HOLD_KIND_RECALL:
      return "recall";
    case v1::HOLD_KIND_INCIDENT:
      return "incident";
    case v1::HOLD_KIND_INFESTATION:
      return "infestation";
    case v1::HOLD_KIND_CONTAMINATION:
      return "contamination";
    case v1::HOLD_KIND_TESTER_DOUBT:
      return "tester doubt";
    case v1::HOLD_KIND_OWNER:
      return "owner";
    default:
      return "other";
  }
}

std::string_view PurposeWords(v1::Purpose purpose) {
  switch (purpose) {
    case v1::PURPOSE_UNSPECIFIED:
    case v1::PURPOSE_RENTAL:
      return "rental";
    case v1::PURPOSE_DEMONSTRATION:
      return "demonstration";
    case v1::PURPOSE_LOANER:
      return "loaner";
    case v1::PURPOSE_CROSS_RENTED:
      return "cross-rented";
    default:
      return "other";
  }
}

std::string_view AliasKindWords(v1::AliasKind kind) {
  switch (kind) {
    case v1::ALIAS_KIND_UNSPECIFIED:
      return "not stated";
    case v1::ALIAS_KIND_OLD_TAG:
      return "old tag";
    case v1::ALIAS_KIND_BOARD_NUMBER:
      return "board number";
    default:
      return "other";
  }
}

std::string_view CleaningStepWords(v1::CleaningStep step) {
  switch (step) {
    case v1::CLEANING_STEP_UNSPECIFIED:
      return "not stated";
    case v1::CLEANING_STEP_PREPARATION:
      return "preparation";
    case v1::CLEANING_STEP_WASHING:
      return "washing";
    case v1::CLEANING_STEP_DISINFECTION:
      return "disinfection";
    case v1::CLEANING_STEP_DRYING:
      return "drying";
    default:
      return "other";
  }
}

std::string HoursWords(int64_t seconds) {
  constexpr int64_t kTenth = 360;
  const int64_t tenths = (seconds < 0 ? -seconds : seconds) / kTenth;
  return absl::StrCat(seconds < 0 ? "-" : "", tenths / 10, ".", tenths % 10, " h");
}

}  // namespace ferrule::fact
