#include "core/plan/booking.h"

#include <algorithm>
#include <array>
#include <cmath>

namespace ferrule::plan {
namespace {

constexpr int64_t kHistory = 730;  // days of history that habits are learned from
constexpr size_t kLeads = 366;
constexpr size_t kLags = 22;
constexpr double kPriorDays = 20;  // booking-days that the usual odds weigh
constexpr double kPriorBookings = 40;
// Usual odds per day that a date is cancelled or moved, by days left.
constexpr std::array<int64_t, 7> kBand = {0, 1, 3, 7, 14, 30, 1 << 30};
constexpr std::array<double, 7> kUsual = {.01, .005, .004, .003, .003, .002, .001};

size_t BandOf(int64_t left) {
  size_t band = 0;
  while (left > kBand[band]) ++band;
  return band;
}

}  // namespace

std::vector<Booking> KnownAt(const std::vector<Booking>& bookings, int64_t now) {
  std::vector<Booking> known;
  for (Booking b : bookings) {
    if (b.booked > now) continue;
    for (int64_t* day : {&b.changed, &b.start, &b.returned, &b.ready})
      if (*day > now) *day = kNotYet;
    known.push_back(b);
  }
  return known;
}

BookingHabits::BookingHabits(const std::vector<Booking>& known, int64_t now) {
  std::array<double, 7> events{}, days{};
  std::vector<double> lags(kLags, 0);
  double out = 0, held = 0;
  int classes = 1;
  for (const Booking& b : known) classes = std::max(classes, b.device_class + 1);
  std::vector<std::vector<double>> leads(static_cast<size_t>(classes),
                                         std::vector<double>(kLeads, 0));
  for (const Booking& b : known) {
    if (b.surgery <= now - kHistory) continue;
    const bool changed = b.changed <= now;
    const int64_t until = std::min({b.surgery, now, changed ? b.changed : kNotYet});
    // The odds are those of dates that stand at the end of a day: what is booked and given up
    // within one day never stood at one.
    for (int64_t day = std::max(b.booked + 1, b.surgery - 400); day <= until; ++day)
      days[BandOf(b.surgery - day)] += 1;
    if (changed && !b.refused && b.changed > b.booked)
      events[BandOf(std::max<int64_t>(0, b.surgery - b.changed))] += 1;
    if ((changed && !b.refused) || b.surgery > now) continue;
    const size_t lead =
        static_cast<size_t>(std::clamp<int64_t>(b.surgery - b.booked, 0, kLeads - 1));
    leads[static_cast<size_t>(b.device_class)][lead] += 1;
    if (b.refused || b.exchange) continue;
    // Only surgeries so long ago that every lag has had its time tell the lag without bias.
    if (b.surgery > now - static_cast<int64_t>(kLags)) continue;
    held += 1;
    if (b.start > now) continue;
    out += 1;
    lags[static_cast<size_t>(std::clamp<int64_t>(b.start - b.surgery, 0, kLags - 1))] += 1;
  }
  holds_.assign(kLeads, 1);
  for (size_t l = 1; l < kLeads; ++l) {
    const size_t band = BandOf(static_cast<int64_t>(l) - 1);
    const double odds = (events[band] + kPriorDays * kUsual[band]) / (days[band] + kPriorDays);
    holds_[l] = holds_[l - 1] * (1 - std::min(odds, .9));
  }
  goes_out_ = (out + 19) / (held + 20);
  const double usual_lag[] = {.1, .3, .3, .2, .1};
  lag_.assign(kLags, 0);
  for (size_t k = 0; k < kLags; ++k)
    lag_[k] = (lags[k] + (k < 5 ? 5 * usual_lag[k] : 0)) / (out + 5);
  // From the longest lead down: shares booked at least so early, thin classes drawn to all.
  std::vector<double> all(kLeads, 0);
  double total = 0;
  for (const auto& one : leads)
    for (size_t l = 0; l < kLeads; ++l) all[l] += one[l], total += one[l];
  booked_by_.assign(leads.size() + 1, std::vector<double>(kLeads, 0));
  std::vector<double>& pool = booked_by_.back();
  double sum = 0;
  for (size_t l = kLeads; l-- > 0;) {
    sum += all[l];
    // Without any history half of the bookings come in each further fortnight.
    const double usual = std::exp2(-static_cast<double>(l) / 14);
    pool[l] = (sum + 10 * usual) / (total + 10);
  }
  for (size_t c = 0; c < leads.size(); ++c) {
    double own = 0, n = 0;
    for (double x : leads[c]) n += x;
    for (size_t l = kLeads; l-- > 0;) {
      own += leads[c][l];
      booked_by_[c][l] = (own + kPriorBookings * pool[l]) / (n + kPriorBookings);
    }
  }
}

double BookingHabits::Holds(int64_t lead) const {
  return holds_[static_cast<size_t>(std::clamp<int64_t>(lead, 0, kLeads - 1))];
}

double BookingHabits::BookedBy(int device_class, int64_t lead) const {
  const size_t known = booked_by_.size() - 1;
  const size_t c = device_class >= 0 ? std::min(static_cast<size_t>(device_class), known) : known;
  return booked_by_[c][static_cast<size_t>(std::clamp<int64_t>(lead, 0, kLeads - 1))];
}

}  // namespace ferrule::plan
