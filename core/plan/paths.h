// The same future many times over: units out, bookings and orders to come drawn together over a
// whole window. For what single days cannot tell: being short at least once, orders lost when every
// refusal frees a later day, two futures side by side. Each booking and each day of orders has a
// stream of its own, so that a change moves nothing but what it changes (common random numbers).
#pragma once

#include <cstddef>
#include <cstdint>
#include <vector>

namespace ferrule::plan {

// A booking that stands.
struct StandingOrder {
  uint64_t stream = 0;               // parts its chance from all others
  double goes = 1;                   // that a unit goes out at all
  std::vector<double> start_chance;  // on day 1, 2, ... given that it does; sums to at most 1
  size_t curve = 0;                  // of PathModel::busy
};

// What is drawn from; days are 1, 2, ... after now, vectors begin with day 1.
struct PathModel {
  size_t horizon = 0;
  // Per unit out: P(still in use at the end of each day), never rising.
  std::vector<std::vector<double>> still;
  std::vector<uint64_t> still_id;  // of the booking behind each, as in StandingOrder::stream
  std::vector<StandingOrder> standing;
  std::vector<double> rate;               // orders to come, by day of surgery
  double dispersion = 1;                  // variance of a day's orders over their mean, >= 1
  std::vector<double> level_covariance;   // of the log level of the weeks ahead, row by row
  double doubt = 0;                       // coefficient of variation of the whole rate
  std::vector<double> lag;                // P(unit out k days after the surgery)
  std::vector<std::vector<double>> busy;  // curves: P(in use k days after the start); [0] for all
};

// P(a standing order has a unit in use at the end of day `day`), day >= 1.
double InUse(const PathModel& model, const StandingOrder& order, size_t day);

class PathSet {
 public:
  // paths >= 1.
  PathSet(const PathModel& model, int paths, uint64_t seed);

  int paths() const { return static_cast<int>(first_.size()) - 1; }
  // Mean units wanted at the end of each day when nobody is refused.
  const std::vector<double>& mean() const { return mean_; }
  double ShortAtLeastOnce(int64_t units) const;
  // Share of paths short on each day.
  std::vector<double> ShortOnDay(int64_t units) const;
  // Expected unit-days wanted beyond `units` over the window.
  double ShortUnitDays(int64_t units) const;
  // Per path: unit-days short, and orders lost when an order without a unit goes elsewhere.
  std::vector<double> ShortUnitDaysByPath(int64_t units) const;
  struct Lost {
    double orders = 0;  // that want a unit within the window, per path
    double lost = 0;
  };
  Lost LostWith(int64_t units) const;
  std::vector<double> LostByPath(int64_t units) const;
  // Mean of orders that want a unit within the window.
  double orders() const { return orders_; }

 private:
  struct Use {
    int32_t start = 0;  // first day in use; 0 for a unit that is out already
    int32_t end = 0;    // first day on which it is no longer in use
  };
  void DrawPath(const PathModel& model, int path, uint64_t seed, const std::vector<double>& factor);

  size_t horizon_ = 0;
  std::vector<Use> uses_;        // path after path, by start
  std::vector<size_t> first_;    // of each path in uses_, and the end
  std::vector<int32_t> wanted_;  // path after path, per day
  std::vector<double> mean_;
  double orders_ = 0;
};

}  // namespace ferrule::plan
