#include "core/outlook/planner_input.h"

#include <algorithm>
#include <functional>
#include <utility>

#include "core/plan/other_branches.h"
#include "core/plan/week_rate.h"
#include "core/time/civil.h"

namespace ferrule::outlook {
namespace {

constexpr int64_t kWaits = 22;  // days after its day for which an order still waits

int64_t LocalDayNumber(int64_t us, absl::TimeZone zone) {
  return us == kNever ? plan::kNotYet : time::DayNumber(time::LocalDay(us, zone));
}

// The same for the same order in every run and on every machine (FNV-1a).
uint64_t IdOf(const std::string& text, uint64_t part) {
  uint64_t hash = 14695981039346656037u ^ part;
  for (const char c : text) hash = (hash ^ static_cast<unsigned char>(c)) * 1099511628211u;
  return hash;
}

// The day that an order stands for: its surgery, else the day it is needed, else none.
int64_t AnchorOf(const OrderStep& step) {
  return step.surgery_day != kNever ? step.surgery_day : step.needed_day;
}

class Builder {
 public:
  Builder(const Records& records, int64_t at_us) : records_(records), at_us_(at_us) {}

  std::vector<BranchInput> Run() {
    for (const v1::Branch& branch : records_.rules().settings().branches()) Of(branch.id());
    std::map<std::string, std::vector<const Turn*>> turns_of;
    const std::vector<Turn> turns = TurnsOf(records_);
    for (const Turn& turn : turns) turns_of[turn.order].push_back(&turn);
    for (auto& [order, list] : turns_of) {
      std::stable_sort(list.begin(), list.end(),
                       [](const Turn* a, const Turn* b) { return a->out_us < b->out_us; });
    }
    for (const OrderRecord& order : records_.orders) {
      if (order.branch.empty() || order.device_class.empty() || order.steps.empty()) continue;
      const auto it = turns_of.find(order.order);
      AddOrder(order, it == turns_of.end() ? std::vector<const Turn*>() : it->second);
    }
    AddFleet();
    AddIncumbents();
    std::vector<BranchInput> result;
    for (auto& [branch, input] : branches_) {
      // The lists by class grow with the classes seen; every list covers them all.
      input.fleets.resize(input.classes.size());
      input.refused.resize(input.classes.size());
      input.input.classes = static_cast<int>(input.classes.size());
      result.push_back(std::move(input));
    }
    return result;
  }

 private:
  BranchInput& Of(const std::string& branch) {
    const auto [it, fresh] = branches_.try_emplace(branch);
    BranchInput& input = it->second;
    if (!fresh) return input;
    const depot::Rules& rules = records_.rules();
    input.branch = branch;
    input.input.now = LocalDayNumber(at_us_, rules.ZoneOf(branch));
    for (const v1::DeviceClass& c : rules.settings().device_classes()) {
      input.classes.push_back(c.id());
    }
    for (const v1::ClosedDay& day : rules.settings().planning().closed_days()) {
      if (!day.branch().empty() && day.branch() != branch) continue;
      input.input.holidays.push_back(time::DayNumber(time::ToDay(day.closed_date())));
    }
    return input;
  }

  static int ClassOf(BranchInput* input, const std::string& device_class) {
    const auto it = std::find(input->classes.begin(), input->classes.end(), device_class);
    if (it != input->classes.end()) return static_cast<int>(it - input->classes.begin());
    input->classes.push_back(device_class);
    return static_cast<int>(input->classes.size()) - 1;
  }

  void AddOrder(const OrderRecord& order, const std::vector<const Turn*>& turns) {
    BranchInput& input = Of(order.branch);
    const absl::TimeZone zone = records_.rules().ZoneOf(order.branch);
    plan::Booking booking;
    booking.device_class = ClassOf(&input, order.device_class);
    if (!order.patient.empty()) booking.patient = IdOf(order.patient, 0) | 1;
    booking.side = order.side == v1::SIDE_LEFT ? 1 : order.side == v1::SIDE_RIGHT ? 2 : 0;
    BookingSource source{order.order, "", order.prescriber, order.steps.front().fact};
    uint64_t version = 0;
    bool open = false;
    bool turned_away = false;  // no unit could be promised when somebody asked
    const auto close = [&](int64_t day) {
      if (!open) return;
      booking.changed = day;
      booking.id = IdOf(order.order, version++);
      Put(&input, booking, source);
      booking.changed = plan::kNotYet;
      open = false;
    };
    for (const OrderStep& step : order.steps) {
      const int64_t day = LocalDayNumber(step.happened_us, zone);
      booking.prescribed_days = step.length_days;
      source.fact = step.fact;
      if (step.what == v1::Fact::kHandedOver || step.what == v1::Fact::kExchanged) break;
      turned_away |= step.what == v1::Fact::kPromiseRefused || step.what == v1::Fact::kWaitingNoted;
      if (step.status == v1::ORDER_STATUS_CANCELLED) {
        booking.refused = turned_away && open;
        close(day);
        booking.refused = false;
        continue;
      }
      const int64_t anchor = AnchorOf(step);
      const int64_t surgery = anchor != kNever ? anchor : day;
      if (open && surgery == booking.surgery) continue;
      if (open && anchor == kNever) continue;
      close(day);
      booking.booked = std::min(day, surgery);
      booking.surgery = surgery;
      open = true;
    }
    // Nobody waits so long after the day: the order went elsewhere.
    if (open && turned_away && turns.empty() && booking.surgery < input.input.now - kWaits) {
      booking.refused = true;
      close(booking.surgery);
      return;
    }
    AddTurns(order, turns, zone, booking, source, open, version, &input);
  }

  void AddTurns(const OrderRecord& order, const std::vector<const Turn*>& turns,
                absl::TimeZone zone, plan::Booking booking, BookingSource source, bool open,
                uint64_t version, BranchInput* input) {
    const int prescribed = order.steps.back().length_days;
    for (const Turn* turn : turns) {
      const int64_t start = LocalDayNumber(turn->out_us, zone);
      if (!open) {
        // An exchange, or a unit that went out before anybody had booked.
        booking.booked = booking.surgery = start;
        booking.exchange = turn->exchange;
      }
      booking.start = start;
      booking.returned = LocalDayNumber(turn->back_us, zone);
      // A lost unit is none that will be ready again: its use ends where it was lost.
      booking.ready = turn->lost ? booking.returned : LocalDayNumber(turn->ready_us, zone);
      if (booking.ready == plan::kNotYet) booking.ready = LocalDayNumber(turn->gone_us, zone);
      // A unit that went out again was ready, whatever was recorded.
      if (booking.ready == plan::kNotYet && turn->next_us != kNever) {
        booking.ready = LocalDayNumber(turn->next_us, zone);
      }
      booking.prescribed_days = prescribed;
      if (turn->exchange && prescribed > 0) {
        const int64_t first = LocalDayNumber(turns.front()->out_us, zone);
        booking.prescribed_days =
            static_cast<int>(std::max<int64_t>(1, prescribed - (start - first)));
      }
      booking.id = IdOf(order.order, version++);
      source.unit = records_.units[turn->unit].unit;
      source.fact = turn->back_us != kNever ? turn->back_fact : turn->out_fact;
      Put(input, booking, source);
      open = false;
    }
    if (!open) return;
    booking.id = IdOf(order.order, version);
    Put(input, booking, source);
  }

  static void Put(BranchInput* input, const plan::Booking& booking, const BookingSource& source) {
    const auto number = static_cast<size_t>(booking.device_class);
    input->refused.resize(std::max(input->refused.size(), number + 1));
    if (booking.refused && booking.surgery > input->input.now - 365) ++input->refused[number];
    input->input.bookings.push_back(booking);
    input->sources.push_back(source);
  }

  void AddFleet() {
    for (const UnitRecord& unit : records_.units) {
      const UnitStep* step = StepAt(unit, at_us_);
      if (step == nullptr || !InFleet(*step)) continue;
      const std::string branch = BranchOf(records_, *step);
      if (branch.empty() || unit.device_class.empty()) continue;
      BranchInput& input = Of(branch);
      const auto number = static_cast<size_t>(ClassOf(&input, unit.device_class));
      input.fleets.resize(std::max(input.fleets.size(), number + 1));
      Fleet& fleet = input.fleets[number];
      ++fleet.units;
      fleet.cost_minor += unit.cost_minor;
      if (step->held) ++fleet.held;
      if (!step->ready || step->commitment != v1::COMMITMENT_FREE) continue;
      ++fleet.ready;
      fleet.ready_units.push_back(unit.unit);
    }
  }

  // Whose weekly level the latest forecast in the diary took.
  void AddIncumbents() {
    std::map<std::string, const v1::ForecastNoted*> latest;
    const auto day = [](const v1::ForecastNoted& noted) { return time::ToDay(noted.as_of_date()); };
    for (const v1::ForecastNoted& noted : records_.diary) {
      const v1::ForecastNoted*& last = latest[noted.branch()];
      if (last == nullptr || day(*last) <= day(noted)) last = &noted;
    }
    for (const auto& [branch, noted] : latest) {
      const auto it = branches_.find(branch);
      if (it == branches_.end()) continue;
      BranchInput& input = it->second;
      input.input.incumbents.assign(input.classes.size(), plan::Method::kCalendar);
      for (const v1::ClassForecastNoted& c : noted->classes()) {
        const auto at = std::find(input.classes.begin(), input.classes.end(), c.device_class());
        if (at == input.classes.end()) continue;
        input.input.incumbents[static_cast<size_t>(at - input.classes.begin())] =
            plan::MethodIn(c.basis()).value_or(plan::Method::kCalendar);
      }
    }
  }

  const Records& records_;
  const int64_t at_us_;
  std::map<std::string, BranchInput> branches_;
};

}  // namespace

std::vector<BranchInput> PlannerInput(const Records& records, int64_t at_us) {
  return Builder(records, at_us).Run();
}

std::vector<BranchInput> ForecastInput(const Records& records, int64_t at_us) {
  std::vector<BranchInput> inputs = PlannerInput(records, at_us);
  std::vector<const plan::OccupancyInput*> branches;
  for (const BranchInput& input : inputs) branches.push_back(&input.input);
  std::vector<plan::OtherBranches> others = plan::TellOthers(branches);
  for (size_t i = 0; i < inputs.size(); ++i) inputs[i].input.others = std::move(others[i]);
  return inputs;
}

PastUses::PastUses(const Records& records, int64_t first, int64_t last) {
  if (last < first) return;
  const auto days = static_cast<size_t>(last - first + 1);
  none_.in_use.assign(days, 0);
  none_.fleet.assign(days, 0);
  const auto of = [&](const std::string& branch, const std::string& device_class) -> PastUse& {
    return uses_.try_emplace({branch, device_class}, none_).first->second;
  };
  for (const UnitRecord& unit : records.units) {
    for (size_t d = 0; d < days; ++d) {
      // The end of the day at the branch where the unit is counted.
      const absl::CivilDay day = time::DayFromNumber(first + static_cast<int64_t>(d));
      const UnitStep* rough = StepAt(unit, time::StartOfDayMicros(day + 1, absl::UTCTimeZone()));
      if (rough == nullptr) continue;
      const absl::TimeZone zone = records.rules().ZoneOf(BranchOf(records, *rough));
      const UnitStep* step = StepAt(unit, time::StartOfDayMicros(day + 1, zone) - 1);
      if (step == nullptr || !InFleet(*step)) continue;
      ++of(BranchOf(records, *step), unit.device_class).fleet[d];
    }
  }
  for (const BranchInput& input : PlannerInput(records, records.known_us)) {
    for (const plan::Booking& b : input.input.bookings) {
      if (b.start == plan::kNotYet) continue;
      PastUse& use = of(input.branch, input.classes[static_cast<size_t>(b.device_class)]);
      const int64_t end = std::min(b.ready == plan::kNotYet ? last + 1 : b.ready, last + 1);
      for (int64_t day = std::max(b.start, first); day < end; ++day) {
        ++use.in_use[static_cast<size_t>(day - first)];
      }
    }
  }
}

const PastUse& PastUses::Of(const std::string& branch, const std::string& device_class) const {
  const auto it = uses_.find({branch, device_class});
  return it == uses_.end() ? none_ : it->second;
}

}  // namespace ferrule::outlook
