// From the dock to the shelf: received, cleaned, inspected, repaired, serviced, put away.
#include <algorithm>
#include <utility>

#include "absl/strings/str_cat.h"
#include "core/demo/rates.h"
#include "core/demo/simulation.h"
#include "core/time/civil.h"

namespace ferrule::demo {
namespace {

// At the bench, service that comes due this soon is done with the inspection.
constexpr int kServiceAheadDays = 75;
constexpr int kServiceAheadHours = 330;
constexpr const char* kRepairCauses[] = {"wear", "cable", "pendant", "drive", "drop"};
constexpr const char* kRepairWork[] = {"part changed to specification", "drive adjusted",
                                       "connector renewed", "travel stop reset"};

}  // namespace

void Simulation::ReceiveUnit(uint32_t unit) {
  Unit& u = units_[unit];
  const v1::Model& model = ModelOf(u);
  const ModelTraits& traits = AllModels()[static_cast<size_t>(u.model)];
  u.stand = Stand::kDock;
  // Some are bought used, with hours on the meter; a few are about to roll over.
  if (random_.Chance(0.6)) {
    const double share = random_.Chance(0.1) ? random_.Real(0.96, 0.999) : random_.Real(0, 0.5);
    u.meter_s = static_cast<int64_t>(share * static_cast<double>(traits.meter_width_s)) / 360 * 360;
  }
  u.read_us = u.serviced_us = now_us_;
  v1::Entry entry = Begin(Tech(u.branch), "station");
  v1::UnitReceived* received = Add(&entry, now_us_)->mutable_unit_received();
  received->set_unit(UnitTag(unit));
  received->set_serial(absl::StrCat("SN", 40'000 + unit * 7));
  received->set_model(model.id());
  received->set_purpose(v1::PURPOSE_RENTAL);
  received->set_cost_minor(traits.cost_minor);
  received->set_place(PlaceId(u));
  if (model.sided()) {
    u.side = random_.Chance(0.5) ? v1::SIDE_LEFT : v1::SIDE_RIGHT;
    received->set_side(u.side);
  }
  received->set_meter_s(u.meter_s);
  for (int i = 0; i < model.parts_size(); ++i) {
    const auto slot = static_cast<size_t>(i);
    u.parts[slot] = ++next_part_;
    v1::PartInPosition* part = received->add_parts();
    part->set_part(PartTag(u.model, i, u.parts[slot]));
    part->set_position(model.parts(i).position());
  }
  Send(std::move(entry));
  PlanCleaning(unit);
}

void Simulation::PlanCleaning(uint32_t unit) {
  const Unit& u = units_[unit];
  const int today = calendar_.DayOf(u.branch, now_us_);
  const int wait = static_cast<int>(random_.Weighted(rates::kCleaningDelay));
  const int64_t at =
      calendar_.At(u.branch, calendar_.AddWorking(today, wait), random_.Between(8 * 60, 12 * 60));
  PlanUnit(Step::kToBay, OfficeTime(u.branch, std::max(at, now_us_ + 20 * kMinute)), unit);
}

// That instant, or the next one at which somebody is at work.
int64_t Simulation::OfficeTime(int branch, int64_t us) {
  if (us >= end_us_) return kNever;
  const int day = calendar_.DayOf(branch, us);
  const int64_t minute = calendar_.MinuteOf(branch, us);
  if (calendar_.IsWorking(day) && minute >= 7 * 60 && minute < 17 * 60) return us;
  const bool today = calendar_.IsWorking(day) && minute < 7 * 60;
  return calendar_.At(branch, today ? day : calendar_.WorkingFrom(day + 1),
                      random_.Between(8 * 60, 9 * 60));
}

// `minutes` ago, but after everything already known of the unit.
int64_t Simulation::Ago(const Unit& unit, int minutes) const {
  return std::min(std::max(now_us_ - minutes * kMinute, unit.last_us + kSecond), now_us_);
}

void Simulation::ReceiveBack(uint32_t unit) {
  Unit& u = units_[unit];
  if (random_.Chance(rates::kDroppedElsewhere)) {
    u.branch = static_cast<int16_t>((u.branch + 1) % branch_count_);
  }
  v1::Entry entry = Begin(Tech(u.branch), "station");
  v1::ReceivedBack* received = Add(&entry, now_us_)->mutable_received_back();
  u.stand = Stand::kDock;
  received->set_unit(UnitTag(unit));
  received->set_place(PlaceId(u));
  received->set_meter_s(u.meter_s);
  u.read_us = now_us_;
  const bool kept_apart = MaybeQuarantine(unit, &entry);
  Send(std::move(entry));
  u.last_us = now_us_;
  if (!kept_apart) PlanCleaning(unit);
}

void Simulation::ToBay(uint32_t unit) {
  if (MaybeMistypeReading(unit)) return;
  Unit& u = units_[unit];
  const std::string& tech = Tech(u.branch);
  SendMove(unit, Stand::kBay, u.branch, now_us_, tech, "station");
  v1::Entry entry = Begin(tech, "station");
  Add(&entry, now_us_)->mutable_cleaning_started()->set_unit(UnitTag(unit));
  Send(std::move(entry));
  u.last_us = now_us_;
  PlanUnit(Step::kCleaned, now_us_ + random_.Between(30, 50) * kMinute, unit);
}

void Simulation::FinishCleaning(uint32_t unit) {
  Unit& u = units_[unit];
  const v1::Settings& settings = EditionAt(now_us_);
  const v1::CleaningProduct& product =
      settings.cleaning_products(static_cast<int>(random_.Between(0, 1)));
  const bool too_short = random_.Chance(rates::kWetTimeShort);
  const double times = too_short ? random_.Real(0.4, 0.9) : random_.Real(1.05, 1.6);
  const int64_t wet_to = now_us_ - kMinute;
  const auto wet_s = static_cast<int64_t>(times * static_cast<double>(product.contact_time_s()));
  const int today = calendar_.DayOf(u.branch, now_us_);
  v1::Entry entry = Begin(Tech(u.branch), "station");
  v1::CleaningFinished* done = Add(&entry, now_us_)->mutable_cleaning_finished();
  done->set_unit(UnitTag(unit));
  done->set_product(product.id());
  done->set_product_lot(absl::StrCat("batch-", today / 60 + 1));
  SetDate((today / 60 + 1) * 60 + 180, done->mutable_product_expiry_date());
  time::SetMicros(wet_to - wet_s * kSecond, done->mutable_wet_from_time());
  time::SetMicros(wet_to, done->mutable_wet_to_time());
  u.last_us = now_us_;
  if (too_short) {
    // The wipe was cut short and that is what gets recorded: a question, and cleaned again.
    AskLater("units/" + UnitTag(unit), entry.entry_id(), v1::REASON_WET_TIME_SHORT, u.branch,
             now_us_);
    Send(std::move(entry), {v1::ENTRY_MODE_OBSERVED});
    v1::Entry again = Begin(Tech(u.branch), "station");
    Add(&again, now_us_)->mutable_cleaning_started()->set_unit(UnitTag(unit));
    Send(std::move(again));
    return PlanUnit(Step::kCleaned, now_us_ + random_.Between(25, 40) * kMinute, unit);
  }
  const int device_class = AllModels()[static_cast<size_t>(u.model)].device_class;
  for (const std::string& item : settings.device_classes(device_class).kit_items()) {
    done->add_discarded(item);
  }
  if (ModelOf(u).keeps_patient_data()) {
    v1::MemoryErased* erased = Add(&entry, now_us_)->mutable_memory_erased();
    erased->set_unit(UnitTag(unit));
    erased->set_method("service menu");
  }
  Send(std::move(entry));
  const int64_t later = now_us_ + random_.Between(60, 150) * kMinute;
  const int64_t tomorrow =
      calendar_.At(u.branch, calendar_.WorkingFrom(today + 1), random_.Between(8 * 60, 13 * 60));
  PlanUnit(Step::kInspect,
           random_.Chance(rates::kInspectedNextDay) ? tomorrow : OfficeTime(u.branch, later), unit);
}

void Simulation::Inspect(uint32_t unit) {
  Unit& u = units_[unit];
  SendMove(unit, Stand::kBench, u.branch, Ago(u, 25), Tech(u.branch), "station");
  FitMissingParts(unit, Ago(u, 20));
  MaybeService(unit, kServiceAheadDays, kServiceAheadHours, Ago(u, 15));
  const double yield = u.faulty ? 0.25 : rates::kFirstPassYield;
  u.faulty = false;
  AfterInspection(unit, SendInspection(unit, yield, Ago(u, 5)));
}

// Puts the unit on the shelf, or opens a repair.
void Simulation::AfterInspection(uint32_t unit, bool passed) {
  Unit& u = units_[unit];
  u.last_us = now_us_;
  if (passed) {
    if (u.recalled) LiftRecall(unit);
    SendMove(unit, Stand::kShelf, u.branch, now_us_, Tech(u.branch), "station");
    return AddToReady(unit);
  }
  static constexpr const char* kComplaints[] = {"out of limits at the inspection",
                                                "noise under load", "pendant does not stop it",
                                                "does not hold the set angle"};
  v1::Entry entry = Begin(Tech(u.branch), "bench");
  v1::RepairOpened* opened = Add(&entry, now_us_)->mutable_repair_opened();
  opened->set_unit(UnitTag(unit));
  opened->set_complaint(kComplaints[random_.Bits() % 4]);
  Send(std::move(entry));
  u.repair_open = true;
  static constexpr int kLeast[] = {0, 1, 2, 3, 6};
  static constexpr int kMost[] = {0, 1, 2, 5, 15};
  const size_t band = random_.Weighted(rates::kRepairDays);
  const int day =
      calendar_.AddWorking(calendar_.DayOf(u.branch, now_us_),
                           static_cast<int>(random_.Between(kLeast[band], kMost[band])));
  const int64_t at = calendar_.At(u.branch, day, random_.Between(10 * 60, 16 * 60));
  PlanUnit(Step::kRepairDone, OfficeTime(u.branch, std::max(at, now_us_ + 70 * kMinute)), unit);
}

bool Simulation::SendInspection(uint32_t unit, double yield, int64_t at_us) {
  const Unit& u = units_[unit];
  const bool passed = random_.Chance(yield);
  const v1::Settings& settings = EditionAt(at_us);
  const bool earth = AllModels()[static_cast<size_t>(u.model)].protective_earth;
  const v1::Checklist& checklist = settings.checklists(earth ? 0 : 1);
  v1::Entry entry = Begin(Tech(u.branch), "bench");
  v1::InspectionDone* done = Add(&entry, at_us)->mutable_inspection_done();
  done->set_unit(UnitTag(unit));
  done->set_checklist(checklist.id());
  done->set_checklist_version(checklist.version());
  done->set_tester(absl::StrCat("tester-", 1 + random_.Bits() % 2));
  AddReadings(checklist, passed, done);
  Send(std::move(entry));
  return passed;
}

// Believable readings within the limits; of a failed inspection one item is out of them.
void Simulation::AddReadings(const v1::Checklist& checklist, bool pass,
                             v1::InspectionDone* inspection) {
  const int fails = pass ? -1 : static_cast<int>(random_.Between(0, checklist.items_size() - 1));
  for (int i = 0; i < checklist.items_size(); ++i) {
    const v1::ChecklistItem& item = checklist.items(i);
    v1::Reading* reading = inspection->add_readings();
    reading->set_item(item.id());
    double value = 1;
    if (item.unit().empty()) {
      value = i == fails ? 0 : 1;
    } else if (item.has_max()) {
      value = item.max() * (i == fails ? random_.Real(1.05, 2.0) : random_.Real(0.1, 0.85));
    } else {
      value = item.min() * (i == fails ? random_.Real(0.1, 0.9) : random_.Real(5, 90));
    }
    // As an instrument shows it: three digits after the point.
    reading->set_value(static_cast<double>(static_cast<int64_t>(value * 1000 + 0.5)) / 1000);
  }
}

void Simulation::FitMissingParts(uint32_t unit, int64_t at_us) {
  Unit& u = units_[unit];
  const unsigned empty = static_cast<unsigned>(u.missing | u.absent);
  if (empty == 0) return;
  v1::Entry entry = Begin(Tech(u.branch), "bench");
  for (int i = 0; i < ModelOf(u).parts_size(); ++i) {
    if ((empty >> i & 1U) == 0) continue;
    FitPart(unit, i, ++next_part_, at_us, &entry);
  }
  u.missing = u.absent = 0;
  Send(std::move(entry));
}

void Simulation::FitPart(uint32_t unit, int position, uint32_t number, int64_t at_us,
                         v1::Entry* entry) {
  Unit& u = units_[unit];
  u.parts[static_cast<size_t>(position)] = number;
  v1::PartFitted* fitted = Add(entry, at_us)->mutable_part_fitted();
  fitted->set_part(PartTag(u.model, position, number));
  fitted->set_unit(UnitTag(unit));
  fitted->set_position(ModelOf(u).parts(position).position());
}

void Simulation::RemovePart(uint32_t unit, int position, int64_t at_us, v1::Entry* entry) {
  const Unit& u = units_[unit];
  v1::PartRemoved* removed = Add(entry, at_us)->mutable_part_removed();
  removed->set_part(PartTag(u.model, position, u.parts[static_cast<size_t>(position)]));
  removed->set_unit(UnitTag(unit));
  removed->set_position(ModelOf(u).parts(position).position());
}

void Simulation::FinishRepair(uint32_t unit) {
  Unit& u = units_[unit];
  FitMissingParts(unit, Ago(u, 45));
  const bool no_fault = random_.Chance(rates::kNoFaultFound);
  if (!no_fault && random_.Chance(rates::kPartChanged)) ChangePart(unit, Ago(u, 40));
  v1::Entry entry = Begin(Tech(u.branch), "bench");
  v1::RepairClosed* closed = Add(&entry, Ago(u, 20))->mutable_repair_closed();
  closed->set_unit(UnitTag(unit));
  closed->set_no_fault_found(no_fault);
  if (!no_fault) closed->set_cause(kRepairCauses[random_.Bits() % 5]);
  closed->set_work(no_fault ? "run for an hour, nothing found" : kRepairWork[random_.Bits() % 4]);
  closed->set_labour_s(60 * random_.Between(15, 120));
  closed->set_cost_minor(no_fault ? 0 : 100 * random_.Between(0, 180));
  Send(std::move(entry));
  u.repair_open = false;
  // The case was opened, so the whole checklist is gone through again.
  AfterInspection(unit, SendInspection(unit, rates::kRetestYield, Ago(u, 8)));
}

// A new part, or one out of another unit that waits for repair and is incomplete from then on.
void Simulation::ChangePart(uint32_t unit, int64_t at_us) {
  Unit& u = units_[unit];
  const int position = random_.Chance(rates::kControllerShare)
                           ? 0
                           : static_cast<int>(random_.Between(1, ModelOf(u).parts_size() - 1));
  v1::Entry entry = Begin(Tech(u.branch), "bench");
  RemovePart(unit, position, at_us, &entry);
  const uint32_t donor =
      position > 0 && random_.Chance(rates::kCannibalised) ? FindDonor(unit, position) : kNone;
  uint32_t number = 0;
  if (donor == kNone) {
    number = ++next_part_;
  } else {
    number = units_[donor].parts[static_cast<size_t>(position)];
    at_us = now_us_;
    RemovePart(donor, position, at_us, &entry);
    units_[donor].absent = static_cast<uint8_t>(units_[donor].absent | 1U << position);
    units_[donor].last_us = now_us_;
    u.last_us = now_us_;
  }
  FitPart(unit, position, number, at_us, &entry);
  if (position == 0) {
    // The meter goes with the controller.
    v1::MeterReplaced* meter = Add(&entry, at_us)->mutable_meter_replaced();
    meter->set_unit(UnitTag(unit));
    if (!random_.Chance(rates::kOldMeterUnread)) meter->set_old_last_s(u.meter_s);
    u.meter_s = 0;
    u.read_us = at_us;
  }
  Send(std::move(entry));
}

uint32_t Simulation::FindDonor(uint32_t unit, int position) {
  // A look round the benches, not a search of the fleet.
  constexpr int kLooks = 200;
  const Unit& u = units_[unit];
  for (int look = 0; look < kLooks; ++look) {
    const auto other = static_cast<uint32_t>(random_.Bits() % units_.size());
    const Unit& o = units_[other];
    if (other == unit || !o.repair_open || o.model != u.model) continue;
    if (((o.absent | o.missing) >> position & 1) != 0) continue;
    return other;
  }
  return kNone;
}

bool Simulation::ServiceDueWithin(const Unit& unit, int days, int hours) const {
  const std::string& id = ModelOf(unit).service_plan();
  for (const v1::ServicePlan& plan : editions_[0].service_plans()) {
    if (plan.id() != id) continue;
    const int64_t since_days = (now_us_ - unit.serviced_us) / (24 * kHour);
    const int64_t since_hours = (unit.run_s - unit.serviced_run_s) / 3600;
    if (plan.interval_days() > 0 && since_days + days >= plan.interval_days()) return true;
    if (plan.interval_hours() > 0 && since_hours + hours >= plan.interval_hours()) return true;
    if (plan.interval_turns() > 0 &&
        unit.turns - unit.serviced_turns + 1 >= plan.interval_turns()) {
      return true;
    }
  }
  return false;
}

void Simulation::MaybeService(uint32_t unit, int days_ahead, int hours_ahead, int64_t at_us) {
  Unit& u = units_[unit];
  if (!ServiceDueWithin(u, days_ahead, hours_ahead)) return;
  v1::Entry entry = Begin(Tech(u.branch), "bench");
  v1::ServiceDone* done = Add(&entry, at_us)->mutable_service_done();
  done->set_unit(UnitTag(unit));
  done->set_plan(ModelOf(u).service_plan());
  Send(std::move(entry));
  u.serviced_us = at_us;
  u.serviced_run_s = u.run_s;
  u.serviced_turns = u.turns;
}

// Off the shelf to the bench, served or corrected there, and back.
void Simulation::ServiceOnShelf(uint32_t unit) {
  Unit& u = units_[unit];
  SendMove(unit, Stand::kBench, u.branch, Ago(u, 40), Tech(u.branch), "station");
  MaybeService(unit, kServiceAheadDays, kServiceAheadHours, Ago(u, 30));
  if (u.recalled) LiftRecall(unit);
  SendMove(unit, Stand::kShelf, u.branch, now_us_, Tech(u.branch), "station");
  u.last_us = now_us_;
  AddToReady(unit);
}

void Simulation::AddToReady(uint32_t unit) {
  Unit& u = units_[unit];
  const int device_class = AllModels()[static_cast<size_t>(u.model)].device_class;
  auto& ready = stock_[static_cast<size_t>(u.branch)].ready[static_cast<size_t>(device_class)];
  u.pool_index = static_cast<int32_t>(ready.size());
  ready.push_back(unit);
}

void Simulation::RemoveFromReady(uint32_t unit) {
  Unit& u = units_[unit];
  const int device_class = AllModels()[static_cast<size_t>(u.model)].device_class;
  auto& ready = stock_[static_cast<size_t>(u.branch)].ready[static_cast<size_t>(device_class)];
  const auto index = static_cast<size_t>(u.pool_index);
  ready[index] = ready.back();
  units_[ready[index]].pool_index = static_cast<int32_t>(index);
  ready.pop_back();
  u.pool_index = -1;
}

}  // namespace ferrule::demo
