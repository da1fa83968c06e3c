// How long a unit is in use: the rental, seen relative to its due date because returns cluster
// there, then the turnaround until it is ready again.
#pragma once

#include <cstdint>
#include <map>
#include <utility>
#include <vector>

#include "core/plan/booking.h"

namespace ferrule::plan {

// What is changed of how long units stay, for orders that have not begun.
struct StayChange {
  int turning_days = 0;  // turnaround longer, or shorter when negative
  // Of orders with `from_days` (0: of all), `share` get `to_days`; none when to_days is 0.
  int from_days = 0;
  int to_days = 0;
  double share = 1;
};

// Of one branch. Each class has curves of its own, by prescribed days: drawn towards those of the
// same prescription in any class, and these towards all, as far as its rentals are few.
class StayLaw {
 public:
  // Learns from all rentals known; those still out count as not yet ended. The turnaround changes
  // for units out now, too.
  StayLaw(const std::vector<Booking>& known, int64_t now, const StayChange& change = {});

  // P(rental lasts beyond k days), by prescribed days (0: not known).
  double Out(int device_class, int prescribed_days, int64_t k) const;
  // P(turnaround lasts beyond k days after the return).
  double Turning(int64_t k) const;
  // P(in use k days after the start), for a rental about to start.
  double Busy(int device_class, int prescribed_days, int64_t k) const;
  // The same over the mix of prescriptions that the class has seen lately, drawn towards that of
  // the branch where they are few.
  double BusyAny(int device_class, int64_t k) const;
  // P(not ready `ahead` days from now), for a unit out for `age` days and for one returned `age`
  // days ago. Never 0 for ahead = 0, however late the unit is.
  double StillBusy(int device_class, int prescribed_days, int64_t age, int64_t ahead) const;
  double StillTurning(int64_t age, int64_t ahead) const;

 private:
  struct Curve {
    std::vector<double> out;  // beyond k days
    std::vector<double> busy;
  };
  using Key = std::pair<int, int>;    // class and prescribed days; kAnyClass for all together
  using Mix = std::map<int, double>;  // rentals by prescribed days
  static constexpr int kAnyClass = -1;

  const Curve& Of(int device_class, int prescribed_days) const;
  void ChangeTurning(int days);
  void PutBusy(Curve* curve) const;
  std::vector<double> BusyOf(int device_class, const Mix& own, const Mix& branch,
                             const StayChange& change) const;

  std::map<Key, Curve> curves_;
  std::vector<double> turning_;
  std::map<int, std::vector<double>> busy_any_;  // by class, kAnyClass too
};

}  // namespace ferrule::plan
