#include "tests/core/plan/branch_truth.h"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "core/plan/calendar.h"
#include "core/plan/random.h"

namespace ferrule::plan {
namespace {

// How this branch is.
struct Nature {
  explicit Nature(Random& random) {
    const auto between = [&](double low, double high) {
      return low + (high - low) * random.Uniform();
    };
    rate[0] = between(1.5, 4), rate[1] = between(.2, .9);
    level_sd = between(.03, .15), persistence = between(.7, .95);
    season = between(.02, .12), peak = between(0, 365), growth = between(-.05, .1);
    mean_lead = between(12, 35), late_share = between(.05, .25);
    cancelled = between(.03, .08), moved = between(.02, .06);
    second_share[0] = between(.1, .3), second_share[1] = between(0, .1);
    short_share = between(.1, .3), long_share = between(.1, .3);
    overstay = between(1, 4), turning = between(1.5, 4), repaired = between(.02, .1);
  }
  double rate[2], second_share[2];
  double level_sd, persistence, season, peak, growth, mean_lead, late_share, cancelled, moved;
  double short_share, long_share, overstay, turning, repaired;
};

bool IsHoliday(int64_t day) {
  const int64_t date = (day + 365) % 365;
  for (int64_t holiday : {0, 120, 184, 357, 358, 359, 364})
    if (date == holiday) return true;
  return false;
}

class Drawing {
 public:
  Drawing(uint64_t seed, int days) : random_(seed, 501), nature_(random_), days_(days) {
    truth_.in_use.assign(2, std::vector<int>(static_cast<size_t>(days), 0));
    for (int64_t day = -30; day < days + 400; ++day)
      if (IsHoliday(day)) truth_.input.holidays.push_back(day);
    truth_.input.classes = 2;
  }

  BranchTruth Run() {
    for (int c = 0; c < 2; ++c) Orders(c);
    return std::move(truth_);
  }

 private:
  void Orders(int device_class) {
    const Nature& n = nature_;
    double log_level = n.level_sd * random_.Normal();
    for (int64_t day = 0; day < days_ + 60; ++day) {
      if (day % 7 == 0)
        log_level = n.persistence * log_level +
                    n.level_sd * std::sqrt(1 - n.persistence * n.persistence) * random_.Normal();
      const double weekday[] = {1.3, 1.25, 1.2, 1.1, .8, .05, 0};
      const double years = static_cast<double>(day) / 365.25;
      const double season =
          std::exp(n.season * std::cos(2 * std::numbers::pi * (years - n.peak / 365)));
      const double rate = n.rate[device_class] * weekday[Weekday(day)] * season *
                          std::exp(log_level - n.level_sd * n.level_sd / 2) *
                          (1 + n.growth * years) * (IsHoliday(day) ? 0 : 1);
      for (int64_t k = random_.Poisson(rate); k > 0; --k) {
        const uint64_t patient = ++patients_;
        Book(device_class, patient, 1, day);
        if (random_.Uniform() < n.second_share[device_class]) {
          int64_t later = day + 40 + static_cast<int64_t>(random_.Gamma(1.6, 80));
          while (Weekday(later) >= 5) ++later;
          Book(device_class, patient, 2, later);
        }
      }
    }
  }

  void Book(int device_class, uint64_t patient, int side, int64_t surgery) {
    const Nature& n = nature_;
    Booking b;
    b.id = truth_.input.bookings.size() + 1;
    b.device_class = device_class, b.patient = patient, b.side = side, b.surgery = surgery;
    const double u = random_.Uniform();
    b.prescribed_days = u < n.short_share ? 14 : u < n.short_share + n.long_share ? 28 : 21;
    b.booked = surgery - (random_.Uniform() < n.late_share
                              ? random_.Poisson(.7)
                              : 3 + random_.Poisson(random_.Gamma(2, n.mean_lead / 2)));
    const double fate = random_.Uniform();
    if (fate < n.cancelled + n.moved) {
      b.changed = std::max(b.booked, surgery - random_.Poisson(random_.Gamma(1, 9)));
      Keep(b);
      if (fate < n.cancelled) return;
      b.booked = b.changed;
      b.changed = kNotYet;
      b.surgery += 7 + static_cast<int64_t>(50 * random_.Uniform());
      while (Weekday(b.surgery) >= 5) ++b.surgery;
    }
    Hold(b);
  }

  // The date holds: the unit goes out and comes back.
  void Hold(Booking b) {
    const Nature& n = nature_;
    const double u = random_.Uniform();
    b.start = b.surgery + (u < .5 ? 1 : u < .85 ? 2 : 3);
    int64_t length = b.prescribed_days + random_.Poisson(random_.Gamma(.8, n.overstay / .8));
    if (random_.Uniform() < .1) length -= random_.Poisson(4);
    b.returned = b.start + std::max<int64_t>(2, length);
    b.ready = b.returned + 1 + random_.Poisson(n.turning);
    if (random_.Uniform() < n.repaired) b.ready += 7 + random_.Poisson(4);
    auto& in_use = truth_.in_use[static_cast<size_t>(b.device_class)];
    for (int64_t day = std::max<int64_t>(0, b.start); day < std::min<int64_t>(b.ready, days_);
         ++day)
      ++in_use[static_cast<size_t>(day)];
    Keep(b);
  }

  void Keep(Booking b) {
    b.id = truth_.input.bookings.size() + 1;
    truth_.input.bookings.push_back(b);
  }

  Random random_;
  Nature nature_;
  int64_t days_;
  uint64_t patients_ = 0;
  BranchTruth truth_;
};

}  // namespace

BranchTruth DrawBranch(uint64_t seed, int days) { return Drawing(seed, days).Run(); }

}  // namespace ferrule::plan
