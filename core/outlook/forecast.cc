#include "core/outlook/forecast.h"

#include <algorithm>
#include <cmath>
#include <map>
#include <set>

#include "absl/strings/str_cat.h"
#include "absl/strings/str_format.h"
#include "core/depot/known.h"
#include "core/fact/counted.h"
#include "core/outlook/targets.h"
#include "core/time/civil.h"

namespace ferrule::outlook {
namespace {

constexpr int64_t kPastDays = 56;
constexpr size_t kMostRecords = 200;
// A depot at work records something nearly every day.
constexpr int64_t kSilentDays = 14;

void PutDay(int64_t day, google::type::Date* date) {
  *date = time::FromDay(time::DayFromNumber(day));
}

v1::ForecastDay DayOf(const plan::OccupancyDay& day, int64_t number, int64_t units) {
  v1::ForecastDay out;
  PutDay(number, out.mutable_date());
  out.set_mean_units(plan::Mean(day.units));
  out.set_low_95(plan::Quantile(day.units, .025));
  out.set_low_80(plan::Quantile(day.units, .1));
  out.set_median(plan::Quantile(day.units, .5));
  out.set_high_80(plan::Quantile(day.units, .9));
  out.set_q95(plan::Quantile(day.units, .95));
  out.set_high_95(plan::Quantile(day.units, .975));
  out.set_q99(plan::Quantile(day.units, .99));
  out.set_out_units(day.out);
  out.set_booked_units(day.booked);
  out.set_to_come_units(day.to_come);
  out.set_short_probability(plan::Tail(day.units, units));
  return out;
}

// What makes a day short, in words: the fleet against the three parts of the need.
std::string Cause(const v1::ForecastDay& day, const Fleet& fleet) {
  std::string text = absl::StrFormat(
      "%.1f of the units out now are not yet ready again, %.1f are booked and %.1f are expected of "
      "orders still to come, against %s",
      day.out_units(), day.booked_units(), day.to_come_units(),
      fact::Counted(fleet.units, "unit", "units"));
  if (fleet.held > 0) absl::StrAppend(&text, ", of which a hold keeps back ", fleet.held);
  const double parts[] = {day.out_units(), day.booked_units(), day.to_come_units()};
  const char* const most[] = {"most of it is units that are late or long in coming back",
                              "most of it is booked", "most of it is not booked yet"};
  absl::StrAppend(&text, "; ", most[std::max_element(parts, parts + 3) - parts]);
  return text;
}

void PutRisk(const plan::ClassOccupancy& occupancy, const Fleet& fleet, const Targets& targets,
             uint64_t seed, v1::ClassForecast* out) {
  const int64_t units = Lendable(fleet);
  v1::ShortageRisk& risk = *out->mutable_risk();
  risk.set_target_probability(targets.short_probability);
  const plan::StockOut stock = plan::RiskOf(occupancy, units);
  risk.set_worst_day_probability(stock.worst);
  if (stock.worst_day > 0) {
    *risk.mutable_worst_date() = out->days(stock.worst_day - 1).date();
  }
  risk.set_short_unit_days(stock.unit_days_short);
  double spare = 0;
  for (const plan::OccupancyDay& day : occupancy.days) {
    spare += plan::ExpectedSpare(day.units, units);
  }
  risk.set_spare_unit_days(spare);
  risk.set_enough_units_count(plan::UnitsForRisk(occupancy, targets.short_probability));
  const plan::PathSet paths(occupancy.paths, kForecastPaths, seed);
  // At least once can never be less likely than on the worst day.
  risk.set_at_least_once_probability(std::max(paths.ShortAtLeastOnce(units), stock.worst));
  for (const v1::ForecastDay& day : out->days()) {
    if (day.short_probability() <= targets.short_probability) continue;
    *risk.mutable_first_short_date() = day.date();
    risk.set_first_short_cause(Cause(day, fleet));
    break;
  }
}

std::string Standing(const plan::Booking& b, int64_t now) {
  const auto day = [](int64_t number) { return time::FormatDay(time::DayFromNumber(number)); };
  if (b.start <= now && b.returned <= now) return "back since " + day(b.returned) + ", not ready";
  if (b.start <= now) {
    return absl::StrCat("out since ", day(b.start),
                        b.prescribed_days > 0
                            ? ", for " + fact::Counted(b.prescribed_days, "day", "days")
                            : std::string());
  }
  return absl::StrCat("booked for ", day(b.surgery));
}

// Every booking's part in the worst day, the greatest first.
void PutRecords(const BranchInput& branch, const plan::ClassOccupancy& occupancy,
                v1::ClassForecast* out) {
  size_t worst = 1;
  double most = -1;
  for (int i = 0; i < out->days_size(); ++i) {
    const double weight = out->days(i).short_probability() + 1e-9 * out->days(i).mean_units();
    if (weight > most) most = weight, worst = static_cast<size_t>(i) + 1;
  }
  std::map<uint64_t, double> chance;
  const plan::PathModel& model = occupancy.paths;
  for (size_t u = 0; u < model.still.size(); ++u) {
    chance[model.still_id[u]] = model.still[u][worst - 1];
  }
  for (const plan::StandingOrder& order : model.standing) {
    chance[order.stream] = plan::InUse(model, order, worst);
  }
  std::vector<std::pair<double, size_t>> parts;
  for (size_t i = 0; i < branch.sources.size(); ++i) {
    const auto it = chance.find(branch.input.bookings[i].id);
    if (it != chance.end() && it->second > 1e-6) parts.emplace_back(it->second, i);
  }
  std::stable_sort(parts.begin(), parts.end(),
                   [](const auto& a, const auto& b) { return a.first > b.first; });
  parts.resize(std::min(parts.size(), kMostRecords));
  for (const auto& [p, i] : parts) {
    v1::ForecastRecord* record = out->add_records();
    record->set_name("orders/" + branch.sources[i].order);
    record->set_unit(branch.sources[i].unit);
    record->set_text(Standing(branch.input.bookings[i], branch.input.now));
    record->set_worst_day_probability(p);
    // The service fills the rest in from the ledger.
    record->mutable_since()->mutable_fact()->set_entry_id(
        absl::StrCat(branch.sources[i].fact.sequence));
    record->mutable_since()->mutable_fact()->set_index(branch.sources[i].fact.index);
  }
}

bool IsEmpty(const BranchInput& branch, size_t c) {
  return branch.fleets[c].units == 0 &&
         std::none_of(
             branch.input.bookings.begin(), branch.input.bookings.end(),
             [c](const plan::Booking& b) { return b.device_class == static_cast<int>(c); });
}

}  // namespace

absl::StatusOr<int> HorizonOf(int days, int usual, int least, int most) {
  if (days == 0) return usual;
  if (days >= least && days <= most) return days;
  return absl::InvalidArgumentError(
      absl::StrCat("horizon_days is ", days, ": give ", least, " to ", most, ", or 0 for ", usual));
}

absl::StatusOr<std::vector<Asked>> AskedOf(const std::vector<BranchInput>& inputs,
                                           const std::string& branch,
                                           const std::string& device_class) {
  std::vector<Asked> asked;
  std::set<std::string> branches, classes;
  for (const BranchInput& input : inputs) {
    branches.insert(input.branch);
    classes.insert(input.classes.begin(), input.classes.end());
    if (!branch.empty() && input.branch != branch) continue;
    Asked one{&input, {}};
    for (size_t c = 0; c < input.classes.size(); ++c) {
      if (!device_class.empty() && input.classes[c] != device_class) continue;
      if (!IsEmpty(input, c)) one.classes.push_back(c);
    }
    if (!one.classes.empty()) asked.push_back(std::move(one));
  }
  absl::Status known = depot::BranchAmong({branches.begin(), branches.end()}, branch);
  known.Update(depot::DeviceClassAmong({classes.begin(), classes.end()}, device_class));
  if (!known.ok()) return known;
  return asked;
}

std::string Silence(const Records& records, int64_t at_us) {
  int64_t last_us = 0;
  const auto look = [&](const auto& all) {
    for (const auto& record : all)
      for (const auto& step : record.steps)
        if (step.happened_us <= at_us) last_us = std::max(last_us, step.happened_us);
  };
  look(records.units);
  look(records.orders);
  if (last_us == 0) return "";
  const absl::CivilDay last = time::LocalDay(last_us, absl::UTCTimeZone());
  if (time::LocalDay(at_us, absl::UTCTimeZone()) - last <= kSilentDays) return "";
  return absl::StrCat("; no unit or order has a fact after ", time::FormatDay(last),
                      ": what happened since is not in it");
}

absl::StatusOr<v1::GetForecastResponse> Forecast(const Records& records,
                                                 const v1::GetForecastRequest& request,
                                                 int64_t at_us) {
  const auto horizon = HorizonOf(request.horizon_days(), kUsualHorizon, 1, 365);
  if (!horizon.ok()) return horizon.status();
  const std::vector<BranchInput> inputs = ForecastInput(records, at_us);
  const auto asked = AskedOf(inputs, request.branch(), request.device_class());
  if (!asked.ok()) return asked.status();
  v1::GetForecastResponse response;
  time::SetMicros(at_us, response.mutable_at_time());
  const int64_t today = time::DayNumber(time::LocalDay(at_us, absl::UTCTimeZone()));
  const PastUses past(records, today - kPastDays, today + 1);
  const std::string silence = Silence(records, at_us);
  for (const Asked& one : *asked) {
    plan::OccupancyInput input = one.branch->input;
    input.horizon = *horizon;
    const std::vector<plan::ClassOccupancy> all = plan::ForecastOccupancy(input);
    for (const size_t c : one.classes) {
      const Fleet& fleet = one.branch->fleets[c];
      const plan::ClassOccupancy& occupancy = all[c];
      v1::ClassForecast& out = *response.add_forecasts();
      out.set_branch(one.branch->branch);
      out.set_device_class(one.branch->classes[c]);
      PutDay(input.now, out.mutable_as_of_date());
      out.set_unit_count(fleet.units);
      out.set_blocked_count(fleet.held);
      out.set_in_use_count(static_cast<int>(occupancy.paths.still.size()));
      out.set_booked_count(static_cast<int>(occupancy.paths.standing.size()));
      out.set_basis(occupancy.basis + silence);
      out.set_history_count(occupancy.history);
      out.set_orders_per_day(occupancy.orders_per_day);
      out.set_refused_count(one.branch->refused[c]);
      for (size_t i = 0; i < occupancy.days.size(); ++i) {
        *out.add_days() =
            DayOf(occupancy.days[i], input.now + static_cast<int64_t>(i) + 1, Lendable(fleet));
      }
      const Targets targets = TargetsOf(records.rules(), out.device_class(), 0);
      PutRisk(occupancy, fleet, targets,
              request.seed() == 0 ? 1 : static_cast<uint64_t>(request.seed()), &out);
      const PastUse& use = past.Of(out.branch(), out.device_class());
      for (int64_t d = 0; d < kPastDays; ++d) {
        const int64_t day = input.now - kPastDays + 1 + d;
        const auto at = static_cast<size_t>(day - (today - kPastDays));
        if (day < today - kPastDays || at >= use.in_use.size()) continue;
        v1::PastDay& gone = *out.add_past_days();
        PutDay(day, gone.mutable_date());
        gone.set_in_use_count(use.in_use[at]);
        gone.set_unit_count(use.fleet[at]);
      }
      if (request.explain()) PutRecords(*one.branch, occupancy, &out);
    }
  }
  return response;
}

}  // namespace ferrule::outlook
