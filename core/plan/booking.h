// One booked surgery side as it is known now, and what such bookings teach: whether they hold,
// when the unit goes out after the surgery, and how early they are made.
#pragma once

#include <cstdint>
#include <limits>
#include <vector>

namespace ferrule::plan {

// A day that has not come or is not known.
inline constexpr int64_t kNotYet = std::numeric_limits<int64_t>::max();

// Days are day numbers (since 1970-01-01). Whatever is dated after `now` counts as not yet known.
struct Booking {
  uint64_t id = 0;       // parts its chance from that of others when futures are drawn
  int device_class = 0;  // classes are numbered from 0
  int64_t booked = 0;
  int64_t surgery = 0;
  int64_t changed = kNotYet;  // cancelled or moved (the new date is a booking of its own)
  int64_t start = kNotYet;    // unit handed over
  int64_t returned = kNotYet;
  int64_t ready = kNotYet;  // cleaned, inspected, on the shelf again
  int prescribed_days = 0;  // 0: not known
  uint64_t patient = 0;     // the same for the same patient; 0: not known
  int side = 0;             // 1 left, 2 right; 0: not known
  // No unit could be had (then `changed` says when it was turned away): demand all the same.
  bool refused = false;
  // It followed another unit in the same home: a unit was needed at once, nothing had been booked.
  bool exchange = false;
};

// What is known at the end of day `now`: later bookings left out, later dates unknown.
std::vector<Booking> KnownAt(const std::vector<Booking>& bookings, int64_t now);

// Odds learned from all bookings of a branch. Thin data are drawn towards what is usual; the usual
// values are those of published cancellation series (about 4 to 9 % of dates do not hold).
class BookingHabits {
 public:
  BookingHabits(const std::vector<Booking>& known, int64_t now);

  // P(the date holds | it still stands `lead` days ahead).
  double Holds(int64_t lead) const;
  // P(unit out k days after the surgery | it goes out).
  const std::vector<double>& StartLag() const { return lag_; }
  // P(a unit goes out | the date has held).
  double GoesOut() const { return goes_out_; }
  // Share of the surgeries that are booked at least `lead` days ahead.
  double BookedBy(int device_class, int64_t lead) const;

 private:
  std::vector<double> holds_;
  std::vector<double> lag_;
  double goes_out_ = 1;
  std::vector<std::vector<double>> booked_by_;
};

}  // namespace ferrule::plan
