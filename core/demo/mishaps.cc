// What goes wrong: recalls, losses, quarantine, typing mistakes, questions; and the settings, which
// change once.
#include <algorithm>
#include <utility>

#include "absl/strings/str_cat.h"
#include "core/demo/rates.h"
#include "core/demo/simulation.h"
#include "core/time/civil.h"

namespace ferrule::demo {

const v1::Settings& Simulation::EditionAt(int64_t us) const {
  return editions_[second_edition_us_ != 0 && us >= second_edition_us_ ? 1 : 0];
}

// The first time at the opening, the second time a week ahead of the day on which they bind.
void Simulation::PutSettings() {
  const bool first = next_entry_ == 0;
  constexpr int kDaysAhead = 7;
  const int64_t from =
      first ? start_us_ : calendar_.At(0, calendar_.DayOf(0, now_us_) + kDaysAhead, 0);
  if (from == kNever) return;
  v1::Entry entry = Begin("manager", "counter");
  v1::SettingsPut* put = Add(&entry, now_us_)->mutable_settings_put();
  *put->mutable_settings() = editions_[first ? 0 : 1];
  time::SetMicros(from, put->mutable_from_time());
  window_end_us_ =
      std::max(window_end_us_, (now_us_ / options_.batch_span_us + 1) * options_.batch_span_us);
  Send(std::move(entry));
  if (!first) second_edition_us_ = from;
}

// A notice about part of one model. Units are blocked wherever they are, and each is corrected the
// next time it passes the bench.
void Simulation::Recall() {
  const auto model =
      static_cast<int8_t>(random_.Between(0, static_cast<int64_t>(AllModels().size()) - 1));
  const int64_t notice = random_.Between(100, 999);
  v1::Entry entry = Begin("quality-lead", "counter");
  std::vector<uint32_t> released;
  for (uint32_t i = 0; i < units_.size(); ++i) {
    Unit& u = units_[i];
    const bool here = u.stand != Stand::kAbsent && u.stand != Stand::kGone &&
                      u.stand != Stand::kUnaccounted && u.stand != Stand::kVanClean;
    if (u.model != model || !here || u.recalled || u.settled_us > now_us_) continue;
    if (!random_.Chance(rates::kRecallShare)) continue;
    if (u.order != kNone && orders_[u.order].phase == Phase::kHeld) {
      released.push_back(u.order);
      ReleaseHold(u.order, "unit recalled", &entry);
    }
    u.recalled = true;
    u.last_us = now_us_;
    v1::HoldPlaced* hold = Add(&entry, now_us_)->mutable_hold_placed();
    hold->set_unit(UnitTag(i));
    hold->set_kind(v1::HOLD_KIND_RECALL);
    hold->set_reason(absl::StrCat("synthetic notice ", notice, ": check the cord clamp"));
    if (u.pool_index >= 0) {
      RemoveFromReady(i);
      const int day = calendar_.AddWorking(calendar_.DayOf(u.branch, now_us_),
                                           static_cast<int>(random_.Between(2, 20)));
      PlanUnit(Step::kServiceOnShelf, calendar_.At(u.branch, day, random_.Between(9 * 60, 15 * 60)),
               i);
    }
    if (entry.facts_size() >= 50) {
      Send(std::move(entry));
      entry = Begin("quality-lead", "counter");
    }
  }
  if (entry.facts_size() > 0) Send(std::move(entry));
  for (const uint32_t order : released) PlanAllocation(order);
}

void Simulation::LiftRecall(uint32_t unit) {
  Unit& u = units_[unit];
  v1::Entry entry = Begin(Tech(u.branch), "bench");
  v1::HoldLifted* lifted = Add(&entry, now_us_)->mutable_hold_lifted();
  lifted->set_unit(UnitTag(unit));
  lifted->set_kind(v1::HOLD_KIND_RECALL);
  lifted->set_outcome("cord clamp checked, corrected to the notice");
  Send(std::move(entry));
  u.recalled = false;
}

// A free unit that is not on its shelf.
void Simulation::LoseUnit() {
  auto& ready = stock_[random_.Bits() % stock_.size()].ready[random_.Bits() % AllClasses().size()];
  if (ready.empty()) return;
  const uint32_t unit = ready[random_.Bits() % ready.size()];
  RemoveFromReady(unit);
  Unit& u = units_[unit];
  v1::Entry entry = Begin(desks_[static_cast<size_t>(u.branch)], "counter");
  v1::UnitMissing* missing = Add(&entry, now_us_)->mutable_unit_missing();
  missing->set_unit(UnitTag(unit));
  missing->set_evidence("not on the shelf at the count; shelf, bench and vans searched");
  Send(std::move(entry));
  u.stand = Stand::kUnaccounted;
  const int day = calendar_.AddWorking(calendar_.DayOf(u.branch, now_us_),
                                       static_cast<int>(random_.Between(5, 70)));
  PlanUnit(Step::kFoundOrWrittenOff, calendar_.At(u.branch, day, 11 * 60), unit);
}

// The patient has moved and nobody knows where. The rental stays open: nothing says that it ended.
void Simulation::MissingAtHome(uint32_t order) {
  Order& o = orders_[order];
  if (o.phase != Phase::kOnRent) return;
  Unit& u = units_[o.unit];
  v1::Entry entry = Begin(desks_[static_cast<size_t>(o.branch)], "counter");
  v1::UnitMissing* missing = Add(&entry, now_us_)->mutable_unit_missing();
  missing->set_unit(UnitTag(o.unit));
  missing->set_evidence("three pick-ups failed, letter came back, number not in service");
  Send(std::move(entry));
  u.stand = Stand::kUnaccounted;
  u.lost_at_home = true;
  const int day = calendar_.AddWorking(calendar_.DayOf(o.branch, now_us_),
                                       static_cast<int>(random_.Between(20, 80)));
  PlanUnit(Step::kFoundOrWrittenOff, calendar_.At(o.branch, day, 11 * 60), o.unit);
}

void Simulation::FindOrWriteOff(uint32_t unit) {
  Unit& u = units_[unit];
  const bool found = random_.Chance(rates::kFoundAgain);
  if (u.lost_at_home) {
    // A relative brings it in, which closes the rental after the fact; otherwise it stays missing.
    if (!found) return;
    const uint32_t order = u.order;
    v1::Entry entry = Begin(desks_[static_cast<size_t>(u.branch)], "paper");
    v1::PickedUp* picked = Add(&entry, now_us_)->mutable_picked_up();
    picked->set_unit(UnitTag(unit));
    picked->set_order(OrderId(orders_[order]));
    u.stand = Stand::kVanDirty;
    picked->set_to_place(PlaceId(u));
    picked->set_condition("brought in by a relative");
    AskLater("units/" + UnitTag(unit), entry.entry_id(), v1::REASON_UNACCOUNTED, u.branch, now_us_);
    Send(std::move(entry), {v1::ENTRY_MODE_OBSERVED});
    u.order = kNone;
    u.lost_at_home = false;
    u.last_us = now_us_;
    FreeOrder(order);
    return PlanUnit(Step::kReturnReceive, now_us_ + 60 * kMinute, unit);
  }
  v1::Entry entry = Begin(desks_[static_cast<size_t>(u.branch)], "counter");
  if (found) {
    v1::UnitFound* fact = Add(&entry, now_us_)->mutable_unit_found();
    fact->set_unit(UnitTag(unit));
    u.stand = Stand::kDock;
    fact->set_place(PlaceId(u));
    Send(std::move(entry));
    return PlanCleaning(unit);
  }
  v1::UnitWrittenOff* off = Add(&entry, now_us_)->mutable_unit_written_off();
  off->set_unit(UnitTag(unit));
  off->set_reason("not found after search and two counts");
  off->set_approved_by("manager");
  u.stand = Stand::kGone;
  Send(std::move(entry));
}

// An injury alleged, insects, or body fluid: held, and put apart as it came.
bool Simulation::MaybeQuarantine(uint32_t unit, v1::Entry* entry) {
  constexpr double kNothing = 1 - rates::kIncident - rates::kInfested - rates::kContaminated;
  static constexpr double kWeights[] = {kNothing, rates::kIncident, rates::kInfested,
                                        rates::kContaminated};
  static constexpr v1::HoldKind kKinds[] = {v1::HOLD_KIND_UNSPECIFIED, v1::HOLD_KIND_INCIDENT,
                                            v1::HOLD_KIND_INFESTATION, v1::HOLD_KIND_CONTAMINATION};
  static constexpr const char* kReasons[] = {"", "patient reports a skin burn; kept as found",
                                             "insects seen at the dock",
                                             "dried blood on the carriage"};
  static constexpr int kLeastDays[] = {0, 10, 3, 1};
  static constexpr int kMostDays[] = {0, 40, 15, 5};
  const size_t kind = random_.Weighted(kWeights);
  if (kind == 0) return false;
  Unit& u = units_[unit];
  u.hold = kKinds[kind];
  v1::HoldPlaced* hold = Add(entry, now_us_)->mutable_hold_placed();
  hold->set_unit(UnitTag(unit));
  hold->set_kind(u.hold);
  hold->set_reason(kReasons[kind]);
  AddMove(entry, unit, Stand::kQuarantine, u.branch, now_us_);
  const int day =
      calendar_.AddWorking(calendar_.DayOf(u.branch, now_us_) + 1,
                           static_cast<int>(random_.Between(kLeastDays[kind], kMostDays[kind])));
  PlanUnit(Step::kQuarantineEnd, calendar_.At(u.branch, day, random_.Between(9 * 60, 14 * 60)),
           unit);
  return true;
}

// The treatment that the settings ask for, done before now.
void Simulation::AddTreatment(uint32_t unit, v1::Entry* entry) {
  const bool insects = units_[unit].hold == v1::HOLD_KIND_INFESTATION;
  v1::TreatmentDone* done = Add(entry, now_us_ - 20 * kMinute)->mutable_treatment_done();
  done->set_unit(UnitTag(unit));
  done->set_treatment(insects ? "heat" : "decontamination");
  if (insects) done->set_temperature_c(52);
  time::SetMicros(now_us_ - 120 * kMinute, done->mutable_from_time());
  time::SetMicros(now_us_ - 20 * kMinute, done->mutable_to_time());
}

void Simulation::EndQuarantine(uint32_t unit) {
  Unit& u = units_[unit];
  v1::Entry entry = Begin("quality-lead", "counter");
  if (u.hold != v1::HOLD_KIND_INCIDENT) AddTreatment(unit, &entry);
  v1::HoldLifted* lifted = Add(&entry, now_us_)->mutable_hold_lifted();
  lifted->set_inspected_by("quality-lead");
  lifted->set_unit(UnitTag(unit));
  lifted->set_kind(u.hold);
  switch (u.hold) {
    case v1::HOLD_KIND_INCIDENT:
      lifted->set_outcome("file closed: photographs, settings and meter kept");
      break;
    case v1::HOLD_KIND_INFESTATION:
      lifted->set_outcome("heat-treated, then inspected and found free");
      break;
    default:
      lifted->set_outcome("decontaminated by a trained handler");
  }
  Send(std::move(entry));
  u.hold = v1::HOLD_KIND_UNSPECIFIED;
  u.last_us = now_us_;
  PlanUnit(Step::kToBay, OfficeTime(u.branch, now_us_ + 30 * kMinute), unit);
}

// A reading typed wrong at the dock: high enough to be possible, and reversed a little later.
bool Simulation::MaybeMistypeReading(uint32_t unit) {
  Unit& u = units_[unit];
  if (u.stand != Stand::kDock || !random_.Chance(rates::kMistyped)) return false;
  const int64_t elapsed_s = (now_us_ - u.read_us) / kSecond;
  const int64_t wrong = u.meter_s + std::min<int64_t>(elapsed_s / 2, 18'000) / 360 * 360;
  const int64_t width = AllModels()[static_cast<size_t>(u.model)].meter_width_s;
  if (wrong <= u.meter_s || wrong >= width) return false;
  v1::Entry entry = Begin(Tech(u.branch), "station");
  v1::MeterRead* read = Add(&entry, now_us_)->mutable_meter_read();
  read->set_unit(UnitTag(unit));
  read->set_reading_s(wrong);
  mistyped_.push_back({unit, entry.entry_id(), u.meter_s});
  Send(std::move(entry));
  PlanUnit(Step::kCorrectReading, now_us_ + random_.Between(5, 20) * kMinute, unit);
  return true;
}

void Simulation::CorrectReading(uint32_t unit) {
  const auto slip = std::find_if(mistyped_.begin(), mistyped_.end(),
                                 [unit](const Mistyped& m) { return m.unit == unit; });
  if (slip == mistyped_.end()) return;
  Unit& u = units_[unit];
  v1::Entry entry = Begin(Tech(u.branch), "station");
  v1::Reversal* reversal = Add(&entry, now_us_)->mutable_reversal();
  reversal->mutable_fact()->set_entry_id(slip->entry_id);
  reversal->add_subjects("units/" + UnitTag(unit));
  reversal->set_because("reading typed wrong");
  v1::MeterRead* read = Add(&entry, now_us_)->mutable_meter_read();
  read->set_unit(UnitTag(unit));
  read->set_reading_s(slip->right_s);
  Send(std::move(entry));
  mistyped_.erase(slip);
  u.read_us = now_us_;
  u.last_us = now_us_;
  PlanUnit(Step::kToBay, OfficeTime(u.branch, now_us_ + 10 * kMinute), unit);
}

// Most questions are answered the working day after; the rest stay open.
void Simulation::AskLater(std::string subject, std::string entry_id, v1::Reason rule, int branch,
                          int64_t known_us) {
  if (!random_.Chance(rates::kQuestionAnswered) || known_us >= end_us_) return;
  uint32_t slot = static_cast<uint32_t>(flaws_.size());
  Flaw flaw{std::move(subject), std::move(entry_id), rule};
  if (free_flaws_.empty()) {
    flaws_.push_back(std::move(flaw));
  } else {
    slot = free_flaws_.back();
    free_flaws_.pop_back();
    flaws_[slot] = std::move(flaw);
  }
  const int day = calendar_.WorkingFrom(calendar_.DayOf(branch, known_us) + 1);
  Plan(Step::kAnswer, calendar_.At(branch, day, random_.Between(9 * 60, 16 * 60)), slot, 0);
}

void Simulation::AnswerQuestion(uint32_t slot) {
  const Flaw flaw = std::exchange(flaws_[slot], {});
  free_flaws_.push_back(slot);
  v1::Entry entry = Begin("quality-lead", "counter");
  v1::QuestionAnswered* answered = Add(&entry, now_us_)->mutable_question_answered();
  answered->set_subject(flaw.subject);
  answered->mutable_fact()->set_entry_id(flaw.entry_id);
  answered->set_rule(flaw.rule);
  switch (flaw.rule) {
    case v1::REASON_KIT_MISSING:
      answered->set_explanation("soft goods were taken along and not written down");
      break;
    case v1::REASON_SIGNATURE_MISSING:
      answered->set_explanation("signed copy found in the van");
      break;
    case v1::REASON_WET_TIME_SHORT:
      answered->set_explanation("cleaned again the same day, in full");
      break;
    default:
      answered->set_explanation("seen and explained by the branch");
  }
  Send(std::move(entry));
}

}  // namespace ferrule::demo
