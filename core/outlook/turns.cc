#include "core/outlook/turns.h"

#include <algorithm>

#include "core/time/civil.h"

namespace ferrule::outlook {
namespace {

bool BeginsTurn(const UnitStep& step, bool out_before) {
  return step.custody == v1::CUSTODY_HOME &&
         (!out_before || step.what == v1::Fact::kHandedOver || step.what == v1::Fact::kExchanged);
}

void EndStay(const UnitStep& step, Turn* turn) {
  turn->back_us = step.happened_us;
  turn->back_fact = step.fact;
  turn->lost = step.custody == v1::CUSTODY_UNACCOUNTED || step.custody == v1::CUSTODY_LEFT_FLEET;
  if (step.what == v1::Fact::kReceivedBack) turn->received_us = step.happened_us;
}

// What happens between coming back and being ready; a step backward (soiled again, a pass that no
// longer counts) puts the earlier date away, so that the dates are those of the way that led on.
void MakeReady(const UnitStep& step, Turn* turn) {
  if (turn->ready_us != kNever) return;
  turn->gone_us = InFleet(step) ? kNever : std::min(turn->gone_us, step.happened_us);
  if (step.what == v1::Fact::kReceivedBack && turn->received_us == kNever) {
    turn->received_us = step.happened_us;
  }
  if (step.hygiene != v1::HYGIENE_CLEANED) turn->cleaned_us = kNever;
  if (step.hygiene == v1::HYGIENE_CLEANED && turn->cleaned_us == kNever) {
    turn->cleaned_us = step.happened_us;
  }
  if (step.condition != v1::CONDITION_PASSED) turn->passed_us = kNever;
  if (step.condition == v1::CONDITION_PASSED && turn->passed_us == kNever) {
    turn->passed_us = step.happened_us;
  }
  if (!step.ready) return;
  turn->ready_us = step.happened_us;
  turn->ready_fact = step.fact;
}

// The steps of an order that matter to where a unit's days at home go.
struct HomeDays {
  int64_t surgery_us = 0;       // beginning of the operation's day
  int64_t overdue_us = kNever;  // beginning of the first day after the due day
};

HomeDays HomeDaysOf(const Records& records, const std::string& order_id) {
  HomeDays days;
  const OrderRecord* order = records.FindOrder(order_id);
  if (order == nullptr || order->steps.empty()) return days;
  const absl::TimeZone zone = records.rules().ZoneOf(order->branch);
  const OrderStep& last = order->steps.back();
  if (last.surgery_day != kNever) {
    days.surgery_us = time::StartOfDayMicros(time::DayFromNumber(last.surgery_day), zone);
  }
  if (last.due_day != kNever) {
    days.overdue_us = time::StartOfDayMicros(time::DayFromNumber(last.due_day) + 1, zone);
  }
  return days;
}

Stage StageAt(const Records& records, const UnitStep& step) {
  if (step.custody == v1::CUSTODY_UNACCOUNTED) return Stage::kUnaccounted;
  const v1::Place* place = records.rules().FindPlace(step.place);
  if (step.ready) return step.commitment == v1::COMMITMENT_HELD ? Stage::kHeld : Stage::kIdle;
  if (step.condition == v1::CONDITION_FAILED || step.condition == v1::CONDITION_UNDER_REPAIR) {
    return Stage::kRepair;
  }
  if (place != nullptr && place->kind() == v1::PLACE_KIND_VAN_DIRTY) return Stage::kVan;
  if (step.hygiene != v1::HYGIENE_CLEANED) return Stage::kDock;
  if (step.condition != v1::CONDITION_PASSED) return Stage::kToInspect;
  return Stage::kBlocked;
}

void AddSpan(Stage stage, int64_t from_us, int64_t to_us, const FactKey& fact,
             std::vector<StageSpan>* spans) {
  if (from_us >= to_us) return;
  if (!spans->empty() && spans->back().stage == stage && spans->back().to_us == from_us) {
    spans->back().to_us = to_us;
    return;
  }
  spans->push_back({stage, from_us, to_us, fact});
}

}  // namespace

std::vector<Turn> TurnsOf(const Records& records) {
  std::vector<Turn> turns;
  for (size_t u = 0; u < records.units.size(); ++u) {
    Turn turn;
    turn.unit = u;
    bool out = false, any = false;
    for (const UnitStep& step : records.units[u].steps) {
      if (BeginsTurn(step, out)) {
        if (any) {
          if (out) EndStay(step, &turn);  // nobody recorded that it came back
          turn.next_us = step.happened_us;
          turns.push_back(turn);
        }
        turn = Turn();
        turn.unit = u;
        turn.order = step.order;
        turn.out_us = step.happened_us;
        turn.out_fact = step.fact;
        turn.exchange = step.what == v1::Fact::kExchanged;
        out = any = true;
        continue;
      }
      if (out && step.custody != v1::CUSTODY_HOME) {
        out = false;
        EndStay(step, &turn);
      }
      if (any && !out) MakeReady(step, &turn);
    }
    if (any) turns.push_back(turn);
  }
  return turns;
}

const char* StageWords(Stage stage) {
  switch (stage) {
    case Stage::kBeforeSurgery:
      return "at home before the operation";
    case Stage::kInUse:
      return "in use";
    case Stage::kOverdue:
      return "overdue";
    case Stage::kVan:
      return "on the van";
    case Stage::kDock:
      return "waiting to be cleaned";
    case Stage::kToInspect:
      return "waiting to be inspected";
    case Stage::kRepair:
      return "in repair";
    case Stage::kBlocked:
      return "blocked";
    case Stage::kHeld:
      return "held for an order";
    case Stage::kIdle:
      return "ready and free";
    case Stage::kUnaccounted:
      return "unaccounted for";
  }
  return "";
}

std::vector<StageSpan> SpansOf(const Records& records, const UnitRecord& unit, int64_t from_us,
                               int64_t to_us) {
  std::vector<StageSpan> spans;
  for (size_t i = 0; i < unit.steps.size(); ++i) {
    const UnitStep& step = unit.steps[i];
    const int64_t begin = std::max(from_us, step.happened_us);
    const int64_t end =
        std::min(to_us, i + 1 < unit.steps.size() ? unit.steps[i + 1].happened_us : to_us);
    if (begin >= end || step.custody == v1::CUSTODY_LEFT_FLEET) continue;
    if (step.custody != v1::CUSTODY_HOME) {
      AddSpan(StageAt(records, step), begin, end, step.fact, &spans);
      continue;
    }
    const HomeDays days = HomeDaysOf(records, step.order);
    const int64_t surgery = std::clamp(days.surgery_us, begin, end);
    const int64_t overdue = std::clamp(days.overdue_us, surgery, end);
    AddSpan(Stage::kBeforeSurgery, begin, surgery, step.fact, &spans);
    AddSpan(Stage::kInUse, surgery, overdue, step.fact, &spans);
    AddSpan(Stage::kOverdue, overdue, end, step.fact, &spans);
  }
  return spans;
}

const UnitStep* StepAt(const UnitRecord& unit, int64_t us) {
  const auto after =
      std::upper_bound(unit.steps.begin(), unit.steps.end(), us,
                       [](int64_t at, const UnitStep& step) { return at < step.happened_us; });
  return after == unit.steps.begin() ? nullptr : &*(after - 1);
}

std::string BranchOf(const Records& records, const UnitStep& step) {
  if (step.custody == v1::CUSTODY_HOME) {
    const OrderRecord* order = records.FindOrder(step.order);
    if (order != nullptr && !order->branch.empty()) return order->branch;
  }
  const v1::Branch* branch = records.rules().BranchOfPlace(step.place);
  return branch == nullptr ? std::string() : branch->id();
}

bool InFleet(const UnitStep& step) {
  if (step.custody != v1::CUSTODY_PLACE && step.custody != v1::CUSTODY_HOME) return false;
  return step.purpose == v1::PURPOSE_UNSPECIFIED || step.purpose == v1::PURPOSE_RENTAL ||
         step.purpose == v1::PURPOSE_CROSS_RENTED;
}

}  // namespace ferrule::outlook
