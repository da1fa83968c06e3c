// The truth behind a generated depot: what its generator does, by brute force. A depot of the same
// days with many times the units is generated for it, not recorded; of its orders each future keeps
// as many as the small depot's units ask for (a Poisson stream thinned is one of the lower rate),
// and its uses and broken dates say how those of the small depot that stand today go on. So every
// rate, lead, stay, extension and turnaround is the generator's own and none is written here again.
#pragma once

#include <cstdint>
#include <map>
#include <string>
#include <vector>

#include "core/demo/simulator.h"
#include "core/plan/booking.h"
#include "core/plan/fleet.h"

namespace ferrule::outlook {

class GeneratedTruth {
 public:
  // Generates; `options` are those of the great depot.
  explicit GeneratedTruth(const demo::Options& options);

  // Units that the generator gave a class, anywhere.
  double UnitsOf(const std::string& device_class) const;

  // Futures of one class at a branch after day `now`: `bookings` is how it stands there, `units`
  // are what the generator gave it.
  struct Future {
    struct Use {
      int start = 0;   // days after now, >= 1
      int length = 0;  // days in use
    };
    std::vector<Use> uses;   // by start
    std::vector<int> ready;  // of the units in use now: days after now, >= 1
  };
  std::vector<Future> Futures(const std::string& device_class,
                              const std::vector<plan::Booking>& bookings, double units, int64_t now,
                              int days, int paths) const;

 private:
  // A date that an order had from one day until the day before another.
  struct Date {
    int64_t since = 0, until = 0, surgery = 0;
  };
  struct Use {
    int64_t start = 0, returned = 0, ready = 0;
    int prescribed_days = 0;
  };
  struct Case {
    std::string device_class;
    int64_t taken = 0;
    int prescribed_days = 0;
    std::vector<Date> dates;
    std::vector<Use> uses;  // the second one after an exchange
    bool turned_away = false;
  };
  class Reader;

  std::vector<Case> cases_;
  std::map<std::string, double> units_;
  int64_t last_ = 0;  // day of the run
};

// Share of the orders that find none of `units` free and go elsewhere.
double LostShareOf(const std::vector<GeneratedTruth::Future>& futures, int days, int64_t units);

// What the formula of core/plan/fleet.h would be told by one who knows the truth: all of it known.
plan::Load TrueLoad(const std::vector<GeneratedTruth::Future>& futures, int days);

}  // namespace ferrule::outlook
