// Control limits on readings: a reading that still passes but has left its own habit.
#pragma once

#include <cstddef>
#include <optional>
#include <vector>

namespace ferrule::reliability {

struct ControlLimits {
  double center = 0;
  double low = 0;
  double high = 0;
  double sigma = 0;  // mean moving range / 1.128
};

// Limits of single readings from their mean and mean moving range: mean +- 3 MR / 1.128
// (NIST/SEMATECH e-Handbook, section 6.3.2.2). Absent with fewer than two readings.
std::optional<ControlLimits> IndividualLimits(const std::vector<double>& readings);

// Exponentially weighted means, z[0] = start, z[i] = weight x[i-1] + (1 - weight) z[i-1]
// (section 6.3.2.4); one more than the readings.
std::vector<double> Smooth(const std::vector<double>& readings, double start, double weight);
// Their limits: center +- 3 sigma sqrt(weight / (2 - weight)).
ControlLimits SmoothLimits(double center, double sigma, double weight);

// The weight that the depot's watch uses: 0.3, within the 0.2 to 0.3 of section 6.3.2.4.
inline constexpr double kWeight = 0.3;

struct Drift {
  ControlLimits limits;          // from the first readings
  std::vector<double> smoothed;  // one a reading
  bool outside = false;          // the last reading lies outside its limits
  bool wandering = false;        // the last smoothed one lies outside the narrower limits
};
// The first `base` readings (at least 2) set the limits and later ones are held against them.
// Absent when there is none later, or when the base readings are all the same: nothing moves then
// by chance, and any other reading would alarm.
std::optional<Drift> WatchDrift(const std::vector<double>& readings, size_t base);

}  // namespace ferrule::reliability
