#include "core/outlook/transfers.h"

#include <algorithm>
#include <cmath>
#include <map>
#include <set>

#include "absl/strings/str_cat.h"
#include "absl/strings/str_format.h"
#include "core/fact/counted.h"
#include "core/outlook/forecast.h"
#include "core/outlook/targets.h"
#include "core/plan/transfers.h"
#include "core/time/civil.h"

namespace ferrule::outlook {
namespace {

constexpr int kUsualDays = 7;
constexpr int64_t kMostToOnePlace = 50;

// A branch that has the class.
struct Place {
  const BranchInput* branch;
  size_t device_class;
  std::vector<plan::Pmf> days;
  Targets targets;

  int64_t units() const { return Lendable(branch->fleets[device_class]); }
  // Expected unit-days short from day `from` (0 is tomorrow) on with so many units.
  double Short(int64_t with, size_t from) const {
    double sum = 0;
    for (size_t d = from; d < days.size(); ++d) sum += plan::ExpectedShortage(days[d], with);
    return sum;
  }
};

// What a unit-day short costs: hiring in, else the rent that is lost, else one unit of account, so
// that lanes without a cost still move what is needed.
double ShortDayCost(const Targets& targets) {
  if (targets.has_shortage) return targets.money.shortage_cost;
  return targets.has_rent ? targets.money.rent : 1;
}

class Planner {
 public:
  Planner(const Records& records, std::string device_class, int64_t at_us)
      : records_(records), class_(std::move(device_class)), at_us_(at_us) {}

  void Add(const BranchInput& branch, size_t c, const plan::ClassOccupancy& occupancy) {
    Place place{&branch, c, {}, TargetsOf(records_.rules(), class_, 0)};
    for (const plan::OccupancyDay& day : occupancy.days) place.days.push_back(day.units);
    places_.push_back(std::move(place));
  }

  void Run(v1::ReportTransfersResponse* response) {
    for (const Place& place : places_) PutBalance(place, response);
    const plan::TransferPlan plan = plan::PlanTransfers(Curves(), Lanes());
    std::map<size_t, size_t> sent;
    for (const plan::TransferMove& move : plan.moves) {
      const Place &from = places_[move.from], &to = places_[move.to];
      v1::Transfer& out = *response->add_transfers();
      out.set_from_branch(from.branch->branch);
      out.set_to_branch(to.branch->branch);
      out.set_device_class(class_);
      out.set_unit_count(move.units);
      const std::vector<std::string>& ready = from.branch->fleets[from.device_class].ready_units;
      for (int k = 0; k < move.units && sent[move.from] < ready.size(); ++k) {
        out.add_units(ready[sent[move.from]++]);
      }
      const v1::TransferLane* lane = LaneOf(from.branch->branch, to.branch->branch);
      out.set_cost_minor(lane->cost_minor() * move.units);
      const int64_t usable = from.branch->input.now + 1 + lane->transit_days();
      *out.mutable_usable_date() = time::FromDay(time::DayFromNumber(usable));
      const auto away = static_cast<size_t>(lane->transit_days());
      out.set_saved_unit_days(to.Short(to.units(), away) - to.Short(to.units() + move.units, away));
      response->set_cost_minor(response->cost_minor() + out.cost_minor());
    }
  }

 private:
  void PutBalance(const Place& place, v1::ReportTransfersResponse* response) {
    const Fleet& fleet = place.branch->fleets[place.device_class];
    v1::BranchBalance& balance = *response->add_balances();
    balance.set_branch(place.branch->branch);
    balance.set_device_class(class_);
    balance.set_unit_count(fleet.units);
    balance.set_ready_count(fleet.ready);
    int64_t enough = 0;
    size_t worst = 0;
    for (size_t d = 0; d < place.days.size(); ++d) {
      const int64_t need = plan::Quantile(place.days[d], 1 - place.targets.short_probability);
      if (need > enough) enough = need, worst = d;
    }
    balance.set_enough_units_count(enough);
    balance.set_spare_count(place.units() - enough);
    *balance.mutable_worst_date() = time::FromDay(
        time::DayFromNumber(place.branch->input.now + 1 + static_cast<int64_t>(worst)));
  }

  std::vector<plan::TransferPlace> Curves() const {
    std::vector<plan::TransferPlace> curves;
    for (const Place& place : places_) {
      plan::TransferPlace curve;
      const double cost = ShortDayCost(place.targets);
      const int64_t units = place.units();
      for (int64_t k = 1; k <= place.branch->fleets[place.device_class].ready; ++k) {
        curve.loss.push_back(cost * (place.Short(units - k, 0) - place.Short(units - k + 1, 0)));
      }
      for (int64_t k = 1; k <= kMostToOnePlace; ++k) {
        const double gain = cost * (place.Short(units + k - 1, 0) - place.Short(units + k, 0));
        if (gain < 1e-6) break;
        curve.gain.push_back(gain);
      }
      curves.push_back(std::move(curve));
    }
    return curves;
  }

  const v1::TransferLane* LaneOf(const std::string& from, const std::string& to) const {
    for (const v1::TransferLane& lane : records_.rules().settings().planning().transfer_lanes())
      if (lane.from_branch() == from && lane.to_branch() == to) return &lane;
    return nullptr;
  }

  // A unit under way helps nobody: the days of its way are part of the lane's cost.
  std::vector<plan::TransferLane> Lanes() const {
    std::vector<plan::TransferLane> lanes;
    for (size_t from = 0; from < places_.size(); ++from)
      for (size_t to = 0; to < places_.size(); ++to) {
        const v1::TransferLane* lane =
            from == to ? nullptr : LaneOf(places_[from].branch->branch, places_[to].branch->branch);
        if (lane == nullptr) continue;
        const Place& place = places_[to];
        const auto away = static_cast<size_t>(lane->transit_days());
        const int64_t units = place.units();
        const double missed = (place.Short(units, 0) - place.Short(units + 1, 0)) -
                              (place.Short(units, away) - place.Short(units + 1, away));
        lanes.push_back({from, to,
                         static_cast<double>(lane->cost_minor()) +
                             ShortDayCost(place.targets) * std::max(0.0, missed)});
      }
    return lanes;
  }

  const Records& records_;
  const std::string class_;
  const int64_t at_us_;
  std::vector<Place> places_;
};

std::string Words(const v1::ReportTransfersResponse& response, bool has_lanes, int days) {
  if (!has_lanes) {
    return "the settings have no transfer lanes, so nothing can be moved; "
           "planning.transfer_lanes says how units travel";
  }
  if (!response.transfers().empty()) {
    return absl::StrCat("these moves save more shortage over ", fact::Counted(days, "day", "days"),
                        " than they cost and than the senders give up");
  }
  for (const v1::BranchBalance& b : response.balances()) {
    if (b.spare_count() < 0) {
      return "some branch is short, but no other has a ready unit whose move would pay";
    }
  }
  return "nothing should move: every branch has enough for " + fact::Counted(days, "day", "days");
}

}  // namespace

absl::StatusOr<v1::ReportTransfersResponse> SuggestTransfers(
    const Records& records, const v1::ReportTransfersRequest& request, int64_t at_us) {
  const auto horizon = HorizonOf(request.horizon_days(), kUsualDays, 1, 60);
  if (!horizon.ok()) return horizon.status();
  const std::vector<BranchInput> inputs = ForecastInput(records, at_us);
  const auto asked = AskedOf(inputs, "", request.device_class());
  if (!asked.ok()) return asked.status();
  v1::ReportTransfersResponse response;
  time::SetMicros(at_us, response.mutable_at_time());
  response.set_currency(records.rules().settings().currency());
  std::map<std::string, Planner> planners;
  for (const Asked& one : *asked) {
    plan::OccupancyInput input = one.branch->input;
    input.horizon = *horizon;
    const std::vector<plan::ClassOccupancy> all = plan::ForecastOccupancy(input);
    for (const size_t c : one.classes) {
      const std::string& name = one.branch->classes[c];
      planners.try_emplace(name, records, name, at_us).first->second.Add(*one.branch, c, all[c]);
    }
  }
  for (auto& [name, planner] : planners) planner.Run(&response);
  std::stable_sort(response.mutable_transfers()->begin(), response.mutable_transfers()->end(),
                   [](const v1::Transfer& a, const v1::Transfer& b) {
                     return a.saved_unit_days() > b.saved_unit_days();
                   });
  const bool has_lanes = !records.rules().settings().planning().transfer_lanes().empty();
  response.set_text(Words(response, has_lanes, *horizon) + Silence(records, at_us));
  return response;
}

}  // namespace ferrule::outlook
