#include "tests/core/outlook/generated_truth.h"

#include <algorithm>
#include <functional>

#include "core/plan/random.h"
#include "core/time/civil.h"

namespace ferrule::outlook {

// Follows the orders through the entries, in the order of the entries.
class GeneratedTruth::Reader {
 public:
  Reader(const demo::Options& options, GeneratedTruth* truth)
      : settings_(demo::MakeSettings(demo::BranchCount(options.units), demo::Edition::kOpening)),
        truth_(*truth) {
    for (const v1::Branch& branch : settings_.branches())
      zones_[branch.id()] = time::Zone(branch.time_zone()).value_or(absl::UTCTimeZone());
    for (const v1::Model& model : settings_.models())
      class_of_model_[model.id()] = model.device_class();
  }

  void Read(const v1::Fact& fact) {
    const int64_t us = time::ToMicros(fact.happened_time());
    if (fact.has_unit_received()) {
      truth_.units_[class_of_model_[fact.unit_received().model()]] += 1;
    } else if (fact.has_order_taken()) {
      const v1::OrderDetails& details = fact.order_taken().details();
      at_[fact.order_taken().order()] = truth_.cases_.size();
      Case& one = truth_.cases_.emplace_back();
      zone_of_[fact.order_taken().order()] = zones_[details.branch()];
      one.device_class = details.device_class();
      one.taken = Day(fact.order_taken().order(), us);
      one.prescribed_days = details.length_of_need_days();
      one.dates.push_back({one.taken, plan::kNotYet, DayOf(details.surgery_date())});
    } else if (fact.has_order_changed() && fact.order_changed().details().has_surgery_date()) {
      Case& one = Of(fact.order_changed().order());
      const int64_t day = Day(fact.order_changed().order(), us);
      one.dates.back().until = day;
      one.dates.push_back(
          {day, plan::kNotYet, DayOf(fact.order_changed().details().surgery_date())});
    } else if (fact.has_promise_refused()) {
      Of(fact.promise_refused().order()).turned_away = true;
    } else if (fact.has_order_cancelled()) {
      Of(fact.order_cancelled().order()).dates.back().until =
          Day(fact.order_cancelled().order(), us);
    } else if (fact.has_handed_over()) {
      Begin(fact.handed_over().order(), fact.handed_over().unit(), us);
    } else if (fact.has_exchanged()) {
      const v1::Exchanged& exchanged = fact.exchanged();
      Return(exchanged.order(), exchanged.unit_out(), us);
      Begin(exchanged.order(), exchanged.unit_in(), us);
    } else if (fact.has_picked_up()) {
      Return(fact.picked_up().order(), fact.picked_up().unit(), us);
    } else if (fact.has_unit_moved() && fact.unit_moved().to_place().ends_with("-shelf")) {
      const auto turning = turning_.find(fact.unit_moved().unit());
      if (turning == turning_.end()) return;
      const auto& [order, use] = turning->second;
      Of(order).uses[use].ready = Day(order, us);
      turning_.erase(turning);
    }
    truth_.last_ = std::max(truth_.last_, us / 86'400'000'000);
  }

 private:
  static int64_t DayOf(const google::type::Date& date) {
    return time::DayNumber(time::ToDay(date));
  }
  Case& Of(const std::string& order) { return truth_.cases_[at_.at(order)]; }
  int64_t Day(const std::string& order, int64_t us) {
    return time::DayNumber(time::LocalDay(us, zone_of_.at(order)));
  }
  void Begin(const std::string& order, const std::string& unit, int64_t us) {
    Case& one = Of(order);
    const int64_t day = Day(order, us);
    one.dates.back().until = std::min(one.dates.back().until, day);
    int left = one.prescribed_days;
    if (!one.uses.empty()) left -= static_cast<int>(day - one.uses[0].start);
    one.uses.push_back({day, plan::kNotYet, plan::kNotYet, std::max(1, left)});
    turning_.erase(unit);
  }
  void Return(const std::string& order, const std::string& unit, int64_t us) {
    Case& one = Of(order);
    one.uses.back().returned = Day(order, us);
    turning_[unit] = {order, one.uses.size() - 1};
  }

  const v1::Settings settings_;
  GeneratedTruth& truth_;
  std::map<std::string, absl::TimeZone> zones_, zone_of_;
  std::map<std::string, std::string> class_of_model_;
  std::map<std::string, size_t> at_;
  std::map<std::string, std::pair<std::string, size_t>> turning_;  // by unit: order and use
};

GeneratedTruth::GeneratedTruth(const demo::Options& options) {
  Reader reader(options, this);
  demo::Simulator simulator(options);
  for (demo::Batch batch; simulator.Next(&batch);)
    for (const v1::Entry& entry : batch.entries)
      for (const v1::Fact& fact : entry.facts()) reader.Read(fact);
}

double GeneratedTruth::UnitsOf(const std::string& device_class) const {
  return units_.at(device_class);
}

std::vector<GeneratedTruth::Future> GeneratedTruth::Futures(
    const std::string& device_class, const std::vector<plan::Booking>& bookings, double units,
    int64_t now, int days, int paths) const {
  constexpr int64_t kSettled = 150;  // days after which every case has come to its end
  std::vector<const Use*> ended;
  std::vector<std::pair<const Case*, const Date*>> dated;
  std::vector<const Case*> coming;
  for (const Case& one : cases_) {
    if (one.device_class != device_class) continue;
    if (one.taken > now && one.taken <= now + days) coming.push_back(&one);
    if (one.taken > last_ - kSettled) continue;
    for (const Use& use : one.uses)
      if (use.ready != plan::kNotYet) ended.push_back(&use);
    for (const Date& date : one.dates) dated.emplace_back(&one, &date);
  }
  // Those that were as far on as `b` is today.
  const auto like_use = [&](const plan::Booking& b) {
    std::vector<int> ready;
    for (const Use* use : ended) {
      if (b.returned <= now) {
        const int64_t more = use->ready - use->returned - (now - b.returned);
        if (more >= 1) ready.push_back(static_cast<int>(more));
        continue;
      }
      const int64_t age = now - b.start;
      if (use->prescribed_days != b.prescribed_days || use->returned - use->start <= age) continue;
      ready.push_back(static_cast<int>(use->ready - use->start - age));
    }
    return ready;
  };
  const auto like_date = [&](const plan::Booking& b) {
    std::vector<std::pair<const Case*, int64_t>> like;  // and the day that is its today
    for (const auto& [one, date] : dated) {
      const int64_t today = date->surgery - (b.surgery - now);
      if (one->prescribed_days == b.prescribed_days && date->since <= today && today < date->until)
        like.emplace_back(one, today);
    }
    return like;
  };
  std::vector<std::vector<int>> out;
  std::vector<std::vector<std::pair<const Case*, int64_t>>> waiting;
  for (const plan::Booking& b : bookings) {
    if (b.start <= now && b.ready > now) out.push_back(like_use(b));
    if (b.start > now && b.changed > now && b.surgery > now - 12) waiting.push_back(like_date(b));
  }
  std::vector<Future> futures(static_cast<size_t>(paths));
  const double kept = units / UnitsOf(device_class);
  for (size_t p = 0; p < futures.size(); ++p) {
    plan::Random random(7, p);
    const auto pick = [&](const auto& list) -> decltype(auto) {
      return list[static_cast<size_t>(random.Uniform() * static_cast<double>(list.size()))];
    };
    const auto add = [&](const Case& one, int64_t today) {
      for (const Use& use : one.uses) {
        const int64_t start = use.start - today;
        if (start < 1 || start > days) continue;
        // One that was lost, or is still out: as long as any.
        const Use& like = use.ready == plan::kNotYet ? *pick(ended) : use;
        const int64_t length = like.ready - like.start;
        futures[p].uses.push_back({static_cast<int>(start), static_cast<int>(length)});
      }
    };
    for (const auto& like : out)
      if (!like.empty()) futures[p].ready.push_back(pick(like));
    for (const auto& like : waiting) {
      if (like.empty()) continue;
      const auto& [one, today] = pick(like);
      add(*one, today);
    }
    for (const Case* one : coming)
      if (random.Uniform() < kept) add(*one, now);
    std::sort(futures[p].uses.begin(), futures[p].uses.end(),
              [](const auto& a, const auto& b) { return a.start < b.start; });
  }
  return futures;
}

double LostShareOf(const std::vector<GeneratedTruth::Future>& futures, int days, int64_t units) {
  double orders = 0, lost = 0;
  for (const GeneratedTruth::Future& future : futures) {
    std::vector<int64_t> ready(static_cast<size_t>(days) + 2, 0);
    for (int day : future.ready) ++ready[static_cast<size_t>(std::min(day, days + 1))];
    auto in_use = static_cast<int64_t>(future.ready.size());
    auto use = future.uses.begin();
    for (int day = 1; day <= days; ++day) {
      in_use -= ready[static_cast<size_t>(day)];
      for (; use != future.uses.end() && use->start == day; ++use) {
        orders += 1;
        if (in_use >= units) {
          lost += 1;
          continue;
        }
        ++in_use;
        ++ready[static_cast<size_t>(std::min(day + use->length, days + 1))];
      }
    }
  }
  return orders > 0 ? lost / orders : 0;
}

plan::Load TrueLoad(const std::vector<GeneratedTruth::Future>& futures, int days) {
  const auto n = static_cast<size_t>(days);
  const double share = 1 / static_cast<double>(futures.size());
  plan::Load load;
  load.unmet = plan::kUnmetOfWholeDays;
  load.known.resize(n);
  for (const GeneratedTruth::Future& future : futures) {
    std::vector<double> change(n + 1, 0);
    for (int day : future.ready) change[std::min(static_cast<size_t>(day) - 1, n)] -= 1;
    for (const GeneratedTruth::Future::Use& use : future.uses) {
      const auto start = static_cast<size_t>(use.start) - 1;
      change[start] += 1;
      change[std::min(start + static_cast<size_t>(use.length), n)] -= 1;
      load.known[start].orders += share;
    }
    auto in_use = static_cast<double>(future.ready.size());
    for (size_t t = 0; t < n; ++t) {
      in_use += change[t];
      load.known[t].units += in_use * share;
      load.known[t].variance += in_use * in_use * share;  // of the squares yet
    }
  }
  for (plan::KnownLoad& day : load.known) {
    day.variance = std::clamp(day.variance - day.units * day.units, 0.0, day.units);
    load.units.push_back(day.units);
    load.orders.push_back(day.orders);
  }
  return load;
}

}  // namespace ferrule::outlook
