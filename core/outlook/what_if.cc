#include "core/outlook/what_if.h"

#include <algorithm>
#include <cmath>

#include "absl/strings/str_cat.h"
#include "core/fact/counted.h"
#include "core/outlook/fleet_size.h"
#include "core/outlook/forecast.h"
#include "core/plan/replay.h"
#include "core/time/civil.h"

namespace ferrule::outlook {
namespace {

constexpr int64_t kYear = 364;  // whole weeks, so that a day last year falls on the same weekday
constexpr int kDraws = 200;

// One side of the comparison.
struct Side {
  std::vector<plan::Booking> bookings;
  std::vector<plan::ReplayOrder> recorded;
  plan::OccupancyInput input;
  int64_t units = 0;
};

int64_t DayOf(const google::type::Date& date) { return time::DayNumber(time::ToDay(date)); }
std::string DayText(const google::type::Date& date) { return time::FormatDay(time::ToDay(date)); }

// In [0, 1), the same for the same booking.
double ShareOf(uint64_t id) {
  return static_cast<double>((id * 0x9e3779b97f4a7c15u) >> 11) * 0x1p-53;
}

class Comparison {
 public:
  Comparison(const Records& records, const BranchInput& branch, size_t c, int horizon)
      : records_(records), branch_(branch), class_(static_cast<int>(c)), now_(branch.input.now) {
    base_.units = Lendable(branch.fleets[c]);
    base_.input = branch.input;
    base_.input.horizon = horizon;
    base_.bookings = branch.input.bookings;
    changed_ = base_;
    for (size_t i = 0; i < base_.bookings.size(); ++i) {
      const plan::Booking& b = base_.bookings[i];
      if (b.device_class != class_) continue;
      if (b.changed > now_ && b.surgery > now_ - 365 && b.surgery <= now_) ++orders_of_year_;
    }
  }

  absl::Status Apply(const v1::Change& change) {
    switch (change.what_case()) {
      case v1::Change::kPrescriberAway:
        return Away(change.prescriber_away());
      case v1::Change::kOtherLength:
        return Length(change.other_length());
      case v1::Change::kOtherTurnaround:
        return Turnaround(change.other_turnaround().more_days());
      case v1::Change::kMoreUnits:
        return Units(change.more_units().more_count());
      case v1::Change::kClosetPar:
        return Closets(change.closet_par().par_count());
      case v1::Change::kOtherDemand:
        return Demand(change.other_demand().factor_ratio());
      case v1::Change::WHAT_NOT_SET:
        break;
    }
    return absl::InvalidArgumentError(
        "a change says nothing: give one of prescriber_away, "
        "other_length, other_turnaround, more_units, closet_par or "
        "other_demand");
  }

  void Run(int paths, uint64_t seed, v1::ReportWhatIfResponse* out) {
    for (std::string& text : texts_) out->add_change_texts(std::move(text));
    PutRecorded(seed, out);
    PutComing(paths, seed, out);
  }

 private:
  template <typename Use>
  void EachOf(const std::string& prescriber, Use use) {
    for (size_t i = 0; i < changed_.bookings.size(); ++i) {
      plan::Booking& b = changed_.bookings[i];
      if (b.device_class != class_) continue;
      if (!prescriber.empty() && branch_.sources[i].prescriber != prescriber) continue;
      use(i, b);
    }
  }

  // Share of the last year's orders that are this prescriber's.
  double ShareOfPrescriber(const std::string& prescriber) {
    double own = 0;
    EachOf(prescriber, [&](size_t, const plan::Booking& b) {
      if (b.changed > now_ && b.surgery > now_ - 365 && b.surgery <= now_) own += 1;
    });
    return orders_of_year_ > 0 ? own / orders_of_year_ : 0;
  }

  absl::Status Know(const std::string& prescriber) {
    bool known = false;
    EachOf(prescriber, [&](size_t, const plan::Booking&) { known = true; });
    if (known) return absl::OkStatus();
    return absl::NotFoundError(absl::StrCat("no order of this branch and class is by prescriber ",
                                            prescriber, "; give the reference that orders bear"));
  }

  absl::Status Away(const v1::PrescriberAway& away) {
    if (away.prescriber().empty()) {
      return absl::InvalidArgumentError("prescriber_away needs a prescriber's reference");
    }
    if (!time::IsValid(away.from_date()) || !time::IsValid(away.through_date()) ||
        DayOf(away.from_date()) > DayOf(away.through_date())) {
      return absl::InvalidArgumentError(
          "prescriber_away needs from_date and through_date, the first not after the second");
    }
    if (absl::Status status = Know(away.prescriber()); !status.ok()) return status;
    const int64_t from = DayOf(away.from_date()), through = DayOf(away.through_date());
    const double share = ShareOfPrescriber(away.prescriber());
    auto& demand = changed_.input.demand;
    demand.resize(static_cast<size_t>(changed_.input.horizon), 1);
    for (size_t i = 0; i < demand.size(); ++i) {
      const int64_t day = now_ + 1 + static_cast<int64_t>(i);
      if (day >= from && day <= through) demand[i] *= 1 - share;
    }
    // Days to come are looked for a year back in what is recorded.
    int64_t back = 0;
    while (through - back > now_) back += kYear;
    EachOf(away.prescriber(), [&](size_t i, plan::Booking& b) {
      if (b.start > now_ && b.surgery >= from && b.surgery <= through) b.changed = b.booked;
      if (b.surgery >= from - back && b.surgery <= through - back) dropped_.push_back(i);
    });
    texts_.push_back(
        absl::StrCat("prescriber ", away.prescriber(), " (", std::lround(100 * share),
                     " % of the orders) does not operate from ", DayText(away.from_date()),
                     " through ", DayText(away.through_date()),
                     back > 0 ? "; in the recorded year the same days " +
                                    fact::Counted(back / 7, "week earlier", "weeks earlier")
                              : std::string()));
    return absl::OkStatus();
  }

  absl::Status Length(const v1::OtherLength& length) {
    if (length.to_days() < 1 || length.to_days() > 730 || length.from_days() < 0) {
      return absl::InvalidArgumentError(
          "other_length needs to_days from 1 to 730, and from_days 0 "
          "for all orders or the length that changes");
    }
    if (!length.prescriber().empty()) {
      if (absl::Status status = Know(length.prescriber()); !status.ok()) return status;
    }
    EachOf(length.prescriber(), [&](size_t i, plan::Booking& b) {
      if (b.prescribed_days <= 0) return;
      if (length.from_days() > 0 && b.prescribed_days != length.from_days()) return;
      more_days_.emplace_back(i, length.to_days() - b.prescribed_days);
      if (b.start > now_) b.prescribed_days = length.to_days();
    });
    changed_.input.stays.from_days = length.from_days();
    changed_.input.stays.to_days = length.to_days();
    changed_.input.stays.share =
        length.prescriber().empty() ? 1 : ShareOfPrescriber(length.prescriber());
    texts_.push_back(absl::StrCat(
        "orders ", length.prescriber().empty() ? "" : "of " + length.prescriber() + " ",
        length.from_days() > 0
            ? absl::StrCat("of ", fact::Counted(length.from_days(), "day", "days"), " ")
            : "",
        "are for ", fact::Counted(length.to_days(), "day", "days")));
    return absl::OkStatus();
  }

  absl::Status Turnaround(int more) {
    if (more == 0 || std::abs(more) > 60) {
      return absl::InvalidArgumentError(
          "other_turnaround needs more_days from -60 to 60, and not 0");
    }
    changed_.input.stays.turning_days += more;
    texts_.push_back(absl::StrCat("the turnaround takes ",
                                  fact::Counted(std::abs(more), "day ", "days "),
                                  more < 0 ? "less" : "more"));
    return absl::OkStatus();
  }

  absl::Status Units(int more) {
    if (more == 0 || std::abs(more) > 1000) {
      return absl::InvalidArgumentError("more_units needs more_count from -1,000 to 1,000, not 0");
    }
    changed_.units = std::max<int64_t>(0, changed_.units + more);
    texts_.push_back(absl::StrCat(fact::Counted(std::abs(more), "unit ", "units "),
                                  more < 0 ? "fewer" : "more"));
    return absl::OkStatus();
  }

  absl::Status Closets(int par) {
    if (par < 0 || par > 1000) {
      return absl::InvalidArgumentError("closet_par needs par_count from 0 to 1,000");
    }
    int64_t closets = 0, standing = 0;
    if (const v1::Branch* branch = records_.rules().FindBranch(branch_.branch)) {
      for (const v1::Place& place : branch->places())
        closets += place.kind() == v1::PLACE_KIND_CLOSET ? 1 : 0;
    }
    for (const UnitRecord& unit : records_.units) {
      const UnitStep* step = unit.steps.empty() ? nullptr : &unit.steps.back();
      if (step == nullptr || step->custody != v1::CUSTODY_PLACE) continue;
      const v1::Place* place = records_.rules().FindPlace(step->place);
      if (place == nullptr || place->kind() != v1::PLACE_KIND_CLOSET) continue;
      if (BranchOf(records_, *step) != branch_.branch) continue;
      if (unit.device_class == branch_.classes[static_cast<size_t>(class_)]) ++standing;
    }
    if (closets == 0) {
      return absl::NotFoundError(absl::StrCat("branch ", branch_.branch,
                                              " has no closet among its places in the settings"));
    }
    base_.units = std::max<int64_t>(0, base_.units - standing);
    changed_.units = std::max<int64_t>(0, changed_.units - par * closets);
    texts_.push_back(absl::StrCat(
        "each of ", fact::Counted(closets, "closet", "closets"), " keeps ", par, "; now ",
        fact::Counted(standing, "unit stands in closets", "units stand in closets")));
    return absl::OkStatus();
  }

  absl::Status Demand(double factor) {
    if (!(factor > 0 && factor <= 10)) {
      return absl::InvalidArgumentError(
          "other_demand needs factor_ratio above 0 and at most 10; 1.2 is a fifth more");
    }
    auto& demand = changed_.input.demand;
    demand.resize(static_cast<size_t>(changed_.input.horizon), 1);
    for (double& d : demand) d *= factor;
    demand_ *= factor;
    texts_.push_back(absl::StrCat(factor, " times as many orders"));
    return absl::OkStatus();
  }

  // The use that came of a booking of the recorded year, from which changes start.
  std::vector<plan::ReplayOrder> Recorded(bool changed) const {
    std::vector<plan::ReplayOrder> orders;
    for (size_t i = 0; i < base_.bookings.size(); ++i) {
      const plan::Booking& b = base_.bookings[i];
      if (b.device_class != class_ || b.start > now_ || b.start <= now_ - kYear) continue;
      int64_t rental = (b.returned <= now_ ? b.returned : now_ + 1) - b.start;
      const int64_t turning = b.ready <= now_      ? b.ready - b.returned
                              : b.returned <= now_ ? now_ + 1 - b.returned
                                                   : 0;
      if (!changed) {
        orders.push_back({b.start, rental + turning});
        continue;
      }
      if (std::find(dropped_.begin(), dropped_.end(), i) != dropped_.end()) continue;
      for (const auto& [which, more] : more_days_)
        if (which == i) rental = std::max<int64_t>(1, rental + more);
      const int64_t length =
          rental + std::max<int64_t>(0, turning + changed_.input.stays.turning_days);
      double times = demand_;
      for (uint64_t copy = 0; times > 0; ++copy, times -= 1)
        if (times >= 1 || ShareOf(b.id + copy) < times) orders.push_back({b.start, length});
    }
    return orders;
  }

  static void Row(const std::string& text, const char* unit, double base, double changed,
                  double error, v1::ReportWhatIfResponse* out) {
    v1::WhatIfRow& row = *out->add_rows();
    row.set_text(text);
    row.set_unit(unit);
    row.set_base_value(base);
    row.set_changed_value(changed);
    row.set_difference_error_value(error);
  }

  void PutRecorded(uint64_t seed, v1::ReportWhatIfResponse* out) {
    const std::vector<plan::ReplayOrder> base = Recorded(false), changed = Recorded(true);
    // The first weeks fill the fleet and are not counted.
    const int64_t first = now_ - kYear + 1;
    const plan::ReplayResult a = plan::Replay(base, first, now_, base_.units);
    const plan::ReplayResult b = plan::Replay(changed, first, now_, changed_.units);
    const plan::ReplayError error =
        plan::PairedError(base, base_.units, changed, changed_.units, first, now_, kDraws, seed);
    const std::string year = "recorded 52 weeks: ";
    Row(year + "orders", "orders", a.orders, b.orders, 0, out);
    Row(year + "orders without a unit", "orders", a.lost, b.lost, error.lost, out);
    Row(year + "share of orders without a unit", "%", a.orders > 0 ? 100 * a.lost / a.orders : 0,
        b.orders > 0 ? 100 * b.lost / b.orders : 0, 100 * error.lost_share, out);
    Row(year + "unit-days used", "unit-days", a.used_unit_days, b.used_unit_days,
        error.used_unit_days, out);
  }

  // Mean and its error over paired paths.
  static std::pair<double, double> Paired(const std::vector<double>& a,
                                          const std::vector<double>& b) {
    double sum = 0, squares = 0;
    const auto n = static_cast<double>(a.size());
    for (size_t i = 0; i < a.size(); ++i)
      sum += b[i] - a[i], squares += (b[i] - a[i]) * (b[i] - a[i]);
    const double mean = sum / n;
    return {mean, std::sqrt(std::max(0.0, squares / n - mean * mean) / n)};
  }
  static double MeanOf(const std::vector<double>& v) {
    double sum = 0;
    for (double x : v) sum += x;
    return v.empty() ? 0 : sum / static_cast<double>(v.size());
  }

  void PutComing(int paths, uint64_t seed, v1::ReportWhatIfResponse* out) {
    plan::OccupancyInput changed_input = changed_.input;
    changed_input.bookings = changed_.bookings;
    const auto c = static_cast<size_t>(class_);
    const std::vector<plan::ClassOccupancy> all = plan::ForecastOccupancy(base_.input);
    const plan::ClassOccupancy& a = all[c];
    // Both sides by one method, unless the change makes another clearly better.
    changed_input.incumbents.clear();
    for (const plan::ClassOccupancy& one : all)
      changed_input.incumbents.push_back(one.level_method);
    const plan::ClassOccupancy b = plan::ForecastOccupancy(changed_input)[c];
    const plan::PathSet base(a.paths, paths, seed), changed(b.paths, paths, seed);
    const std::string coming = absl::StrCat("coming ", base_.input.horizon, " days: ");
    Row(coming + "units", "units", static_cast<double>(base_.units),
        static_cast<double>(changed_.units), 0, out);
    Row(coming + "orders that want a unit", "orders", base.orders(), changed.orders(), 0, out);
    const std::vector<double> lost_a = base.LostByPath(base_.units),
                              lost_b = changed.LostByPath(changed_.units);
    Row(coming + "orders without a unit, when they go elsewhere", "orders", MeanOf(lost_a),
        MeanOf(lost_b), Paired(lost_a, lost_b).second, out);
    const std::vector<double> short_a = base.ShortUnitDaysByPath(base_.units),
                              short_b = changed.ShortUnitDaysByPath(changed_.units);
    Row(coming + "unit-days short, when they wait", "unit-days", MeanOf(short_a), MeanOf(short_b),
        Paired(short_a, short_b).second, out);
    Row(coming + "short at least once", "probability", base.ShortAtLeastOnce(base_.units),
        changed.ShortAtLeastOnce(changed_.units), 0, out);
    for (size_t d = 0; d < a.days.size(); ++d) {
      v1::WhatIfDay& day = *out->add_days();
      *day.mutable_date() = time::FromDay(time::DayFromNumber(now_ + 1 + static_cast<int64_t>(d)));
      day.set_base_units(plan::Mean(a.days[d].units));
      day.set_changed_units(plan::Mean(b.days[d].units));
      day.set_base_short_probability(plan::Tail(a.days[d].units, base_.units));
      day.set_changed_short_probability(plan::Tail(b.days[d].units, changed_.units));
    }
    out->set_basis(a.basis);
  }

  const Records& records_;
  const BranchInput& branch_;
  const int class_;
  const int64_t now_;
  Side base_, changed_;
  double orders_of_year_ = 0;
  double demand_ = 1;
  std::vector<size_t> dropped_;
  std::vector<std::pair<size_t, int>> more_days_;
  std::vector<std::string> texts_;
};

// Far enough for every dated change, at most a year.
int Reach(const v1::ReportWhatIfRequest& request, int horizon, int64_t now) {
  int64_t days = horizon;
  for (const v1::Change& change : request.changes()) {
    if (!change.has_prescriber_away() || !time::IsValid(change.prescriber_away().through_date())) {
      continue;
    }
    days = std::max(days, DayOf(change.prescriber_away().through_date()) - now + 28);
  }
  return static_cast<int>(std::min<int64_t>(days, 365));
}

}  // namespace

absl::StatusOr<v1::ReportWhatIfResponse> WhatIf(const Records& records,
                                                const v1::ReportWhatIfRequest& request,
                                                int64_t at_us) {
  const auto horizon = HorizonOf(request.horizon_days(), kUsualHorizon, 7, 365);
  if (!horizon.ok()) return horizon.status();
  const auto paths = PathsOf(request.path_count());
  if (!paths.ok()) return paths.status();
  if (request.branch().empty() || request.device_class().empty()) {
    return absl::InvalidArgumentError("give one branch and one class of device");
  }
  if (request.changes().empty()) {
    return absl::InvalidArgumentError("give at least one change, for instance two units more");
  }
  const std::vector<BranchInput> inputs = ForecastInput(records, at_us);
  const auto asked = AskedOf(inputs, request.branch(), request.device_class());
  if (!asked.ok()) return asked.status();
  if (asked->empty()) {
    return absl::NotFoundError(absl::StrCat("branch ", request.branch(),
                                            " has no units and no orders of class ",
                                            request.device_class(), " yet"));
  }
  const BranchInput& branch = *asked->front().branch;
  Comparison comparison(records, branch, asked->front().classes.front(),
                        Reach(request, *horizon, branch.input.now));
  for (const v1::Change& change : request.changes()) {
    if (absl::Status status = comparison.Apply(change); !status.ok()) return status;
  }
  v1::ReportWhatIfResponse response;
  response.set_branch(request.branch());
  response.set_device_class(request.device_class());
  time::SetMicros(at_us, response.mutable_at_time());
  response.set_seed(request.seed() == 0 ? 1 : request.seed());
  comparison.Run(*paths, static_cast<uint64_t>(response.seed()), &response);
  return response;
}

}  // namespace ferrule::outlook
