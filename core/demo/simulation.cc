#include "core/demo/simulation.h"

#include <algorithm>
#include <set>
#include <utility>

#include "absl/strings/str_cat.h"
#include "core/demo/rates.h"
#include "core/time/civil.h"

namespace ferrule::demo {
namespace {

constexpr size_t kBatchMost = 500;

std::vector<absl::TimeZone> ZonesOf(const v1::Settings& settings) {
  std::vector<absl::TimeZone> zones;
  for (const v1::Branch& branch : settings.branches()) {
    zones.push_back(time::Zone(branch.time_zone()).value_or(absl::UTCTimeZone()));
  }
  return zones;
}

int DaysOf(const Options& options) {
  const absl::CivilDay end(options.start_day.year() + options.years, options.start_day.month(),
                           options.start_day.day());
  return static_cast<int>(end - options.start_day);
}

}  // namespace

absl::CivilDay StartDayFor(absl::CivilDay last_day, int years) {
  const absl::CivilDay end = last_day + 1;
  const absl::CivilDay start(end.year() - years, end.month(), end.day());
  // There is no 29 February in most years.
  return start.day() == end.day() ? start : start - 1;
}

Simulation::Simulation(const Options& options)
    : options_(options),
      random_(options.seed),
      editions_({MakeSettings(BranchCount(options.units), Edition::kOpening),
                 MakeSettings(BranchCount(options.units), Edition::kRevised)}),
      calendar_(options.start_day, DaysOf(options), ZonesOf(editions_[0])),
      branch_count_(editions_[0].branches_size()) {
  std::set<std::string> items;
  for (const v1::DeviceClass& c : editions_[0].device_classes()) {
    items.insert(c.kit_items().begin(), c.kit_items().end());
  }
  kit_items_.assign(items.begin(), items.end());
  const size_t classes = AllClasses().size();
  for (const v1::Branch& branch : editions_[0].branches()) {
    stock_.push_back(
        {std::vector<std::vector<uint32_t>>(classes), std::vector<LotInUse>(kit_items_.size())});
    units_at_.emplace_back(classes, 0.0);
    desks_.push_back(absl::StrCat("desk-", branch.id()));
    auto& techs = techs_.emplace_back();
    for (int i = 1; i <= 3; ++i) techs.push_back(absl::StrCat("tech-", branch.id(), "-", i));
    auto& reps = reps_.emplace_back();
    for (int i = 1; i <= 4; ++i) reps.push_back(absl::StrCat("rep-", branch.id(), "-", i));
  }
  start_us_ = calendar_.At(0, 0, 0);
  int last_day = calendar_.days() - 1;
  while (!calendar_.IsWorking(last_day)) --last_day;
  end_us_ = calendar_.At(0, last_day, 11 * 60);
  now_us_ = start_us_;
  PlanOpening();
}

void Simulation::PlanOpening() {
  PutSettings();
  Plan(Step::kPutSettings, calendar_.At(0, calendar_.WorkingFrom(calendar_.days() / 2), 10 * 60), 0,
       0);
  BuildFleet();
  for (int branch = 0; branch < branch_count_; ++branch) {
    Plan(Step::kOrderDay, calendar_.At(branch, 0, 7 * 60), static_cast<uint32_t>(branch), 0);
  }
  // A recall in each stretch of the run, so that even a short one meets one.
  const int stretch = static_cast<int>(365 / rates::kRecallsPerYear);
  for (int from = 0; from < calendar_.days(); from += stretch) {
    const int day =
        calendar_.WorkingFrom(from + static_cast<int>(random_.Between(60, stretch - 1)));
    Plan(Step::kRecall, calendar_.At(0, day, 9 * 60 + 30), 0, 0);
  }
  // And one shortly before the end, so that the depot is left with units on hold.
  Plan(Step::kRecall,
       calendar_.At(0, calendar_.WorkingFrom(std::max(calendar_.days() - 9, 0)), 9 * 60 + 30), 0,
       0);
  const double lost_in_depot =
      rates::kLostPerUnitYear / 2 * options_.units * calendar_.days() / 365.0;
  for (int left = random_.Count(lost_in_depot); left > 0; --left) {
    const int day = calendar_.WorkingFrom(static_cast<int>(random_.Between(30, calendar_.days())));
    Plan(Step::kLoseUnit, calendar_.At(0, day, 15 * 60 + random_.Between(0, 59)), 0, 0);
  }
}

// Most units are there from the first days; the rest are bought over the run.
void Simulation::BuildFleet() {
  constexpr double kThereFromTheStart = 0.93;
  std::vector<double> model_weights;
  for (const ModelTraits& model : AllModels()) {
    model_weights.push_back(AllClasses()[static_cast<size_t>(model.device_class)].fleet_share *
                            model.class_share);
  }
  units_.resize(static_cast<size_t>(options_.units));
  for (uint32_t i = 0; i < units_.size(); ++i) {
    Unit& unit = units_[i];
    // The first units cover every model, so that the smallest depot has one of each.
    unit.model =
        static_cast<int8_t>(i < model_weights.size() ? i : random_.Weighted(model_weights));
    unit.branch = static_cast<int16_t>(i % static_cast<uint32_t>(branch_count_));
    const int device_class = AllModels()[static_cast<size_t>(unit.model)].device_class;
    units_at_[static_cast<size_t>(unit.branch)][static_cast<size_t>(device_class)] += 1.0;
    const bool early = random_.Chance(kThereFromTheStart);
    const int day = calendar_.WorkingFrom(static_cast<int>(
        early ? random_.Between(0, 11) : random_.Between(12, calendar_.days() - 1)));
    PlanUnit(Step::kUnitReceive, calendar_.At(unit.branch, day, random_.Between(8 * 60, 15 * 60)),
             i);
  }
}

void Simulation::Plan(Step step, int64_t at_us, uint32_t id, uint64_t token) {
  if (at_us >= end_us_) return;
  // Nothing happens in the past, and every instant is a whole second.
  const int64_t at = std::max(at_us, now_us_ + kMinute) + random_.Between(0, 59) * kSecond;
  if (at >= end_us_) return;
  events_.push({at, ++next_tie_, token, id, step});
}

void Simulation::PlanUnit(Step step, int64_t at_us, uint32_t unit) {
  Plan(step, at_us, unit, ++units_[unit].token);
}

void Simulation::PlanOrder(Step step, int64_t at_us, uint32_t order) {
  Order& o = orders_[order];
  o.plan = static_cast<uint8_t>((o.plan + 1) % 255);
  Plan(step, at_us, order, o.life * 256 + o.plan);
}

void Simulation::PlanAside(Step step, int64_t at_us, uint32_t order) {
  Plan(step, at_us, order, orders_[order].life * 256 + 255);
}

bool Simulation::IsStale(const Event& event) const {
  if (event.step < Step::kUnitReceive) return false;
  if (event.step < Step::kTake) return units_[event.id].token != event.token;
  const Order& order = orders_[event.id];
  if (order.life != event.token / 256) return true;
  const uint64_t plan = event.token % 256;
  return plan != 255 && plan != order.plan;
}

bool Simulation::Next(Batch* batch) {
  batch->entries.clear();
  while (true) {
    const bool window_over = events_.empty() || events_.top().at_us >= window_end_us_;
    const size_t waiting = out_.size() - out_taken_;
    if (waiting >= kBatchMost || (waiting > 0 && window_over)) {
      const size_t taken = std::min(waiting, kBatchMost);
      const auto from = out_.begin() + static_cast<std::ptrdiff_t>(out_taken_);
      batch->entries.assign(std::make_move_iterator(from),
                            std::make_move_iterator(from + static_cast<std::ptrdiff_t>(taken)));
      batch->recorded_us = window_end_us_;
      out_taken_ += taken;
      if (out_taken_ == out_.size()) {
        out_.clear();
        out_taken_ = 0;
      }
      for (const v1::Entry& entry : batch->entries) fact_count_ += entry.facts_size();
      return true;
    }
    if (events_.empty()) return false;
    if (options_.fact_limit > 0 && fact_count_ >= options_.fact_limit) return false;
    const Event event = events_.top();
    events_.pop();
    if (IsStale(event)) continue;
    now_us_ = event.at_us;
    if (now_us_ >= window_end_us_) {
      window_end_us_ = (now_us_ / options_.batch_span_us + 1) * options_.batch_span_us;
    }
    Run(event);
  }
}

void Simulation::Run(const Event& event) {
  switch (event.step) {
    case Step::kPutSettings:
      return PutSettings();
    case Step::kOrderDay:
      return RunOrderDay(event.id);
    case Step::kRecall:
      return Recall();
    case Step::kLoseUnit:
      return LoseUnit();
    case Step::kAnswer:
      return AnswerQuestion(event.id);
    case Step::kArrive:
      out_.push_back(std::move(late_[event.id]));
      free_late_.push_back(event.id);
      return;
    default:
      return event.step < Step::kTake ? RunUnit(event.step, event.id)
                                      : RunOrder(event.step, event.id);
  }
}

void Simulation::RunUnit(Step step, uint32_t unit) {
  const Unit& u = units_[unit];
  if (u.settled_us > now_us_) {
    return PlanUnit(step, OfficeTime(u.branch, u.settled_us + kMinute), unit);
  }
  switch (step) {
    case Step::kUnitReceive:
      return ReceiveUnit(unit);
    case Step::kToBay:
      return ToBay(unit);
    case Step::kCleaned:
      return FinishCleaning(unit);
    case Step::kInspect:
      return Inspect(unit);
    case Step::kRepairDone:
      return FinishRepair(unit);
    case Step::kReturnReceive:
      return ReceiveBack(unit);
    case Step::kQuarantineEnd:
      return EndQuarantine(unit);
    case Step::kServiceOnShelf:
      return ServiceOnShelf(unit);
    case Step::kFoundOrWrittenOff:
      return FindOrWriteOff(unit);
    case Step::kCorrectReading:
      return CorrectReading(unit);
    default:
      return;
  }
}

// The instant by which everything late about the order and its units is recorded. Until then no
// enforced entry about them is sent.
int64_t Simulation::SettledBy(const Order& order) const {
  int64_t settled = order.settled_us;
  for (const uint32_t unit : {order.unit, order.spare}) {
    if (unit != kNone) settled = std::max(settled, units_[unit].settled_us);
  }
  return settled;
}

void Simulation::RunOrder(Step step, uint32_t order) {
  const int64_t settled = SettledBy(orders_[order]);
  if (settled > now_us_) {
    const bool aside = step == Step::kComplete || step == Step::kMove || step == Step::kCancel ||
                       step == Step::kExchangeLoad || step == Step::kExtend || step == Step::kAgree;
    const int64_t at = OfficeTime(orders_[order].branch, settled + kMinute);
    return aside ? PlanAside(step, at, order) : PlanOrder(step, at, order);
  }
  switch (step) {
    case Step::kTake:
      return TakeOrder(order);
    case Step::kComplete:
      return CompleteOrder(order);
    case Step::kMove:
      return MoveOrder(order);
    case Step::kCancel:
      return CancelOrder(order, nullptr);
    case Step::kAllocate:
      return Allocate(order);
    case Step::kLoad:
      return Load(order);
    case Step::kDeliver:
      return Deliver(order);
    case Step::kExchangeLoad:
      return LoadExchange(order);
    case Step::kExchange:
      return Exchange(order);
    case Step::kExtend:
      return Extend(order);
    case Step::kAgree:
      return AgreePickup(order);
    case Step::kPickup:
      return Pickup(order);
    case Step::kMissingAtHome:
      return MissingAtHome(order);
    default:
      return;
  }
}

}  // namespace ferrule::demo
