// Exact distributions of sums of counts on any day: units that may or may not still be out
// (Poisson binomial), counts of orders to come, and their convolution.
#pragma once

#include <cstdint>
#include <vector>

#include "core/plan/distributions.h"

namespace ferrule::plan {

// P(X = first + i) = weight[i]. The weights sum to 1 within 1e-12; what a law has beyond its kept
// range is less than 1e-14 and goes to the nearest kept count.
struct Pmf {
  int64_t first = 0;
  std::vector<double> weight = {1.0};
};

Pmf Point(int64_t value);
Pmf PmfOf(const CountLaw& law);
// The number of successes among independent trials. A chance below 1e-12 counts as never and one
// above 1 - 1e-12 as sure; chances are moved into [0, 1].
Pmf PoissonBinomial(const std::vector<double>& chances);
// The sum of two independent counts.
Pmf Convolve(const Pmf& a, const Pmf& b);
// The mixture, parts weighted; weights >= 0, not all 0.
Pmf Mix(const std::vector<Pmf>& parts, const std::vector<double>& weights);

double Mean(const Pmf& pmf);
double Variance(const Pmf& pmf);
double Cdf(const Pmf& pmf, int64_t k);
double Tail(const Pmf& pmf, int64_t k);  // P(X > k)
// Smallest x with F(x) >= p.
int64_t Quantile(const Pmf& pmf, double p);
// The quantile when the weight of each count x is spread evenly over (x - 1/2, x + 1/2], never
// below 0. Between integers an interval can hold its nominal share of a small count; the integer
// quantile always holds more. Units are counted with Quantile.
double SpreadQuantile(const Pmf& pmf, double p);
// Counts from `low` to `high`.
struct CountRange {
  int64_t low = 0;
  int64_t high = 0;
};
// The whole counts about the middle whose weight is nearest to `share`, the wider ones of two as
// near: from the quantile (1 - share) / 2, or the count after it, to the quantile (1 + share) / 2,
// or the count before. Bounds at both quantiles hold more than their share by construction, much
// more where one count has much of the weight.
CountRange CentralRange(const Pmf& pmf, double share);
// SpreadQuantile at p < 1/2 (or above), moved to the side of the bound of `range` that makes bounds
// at 1 - p too hold the counts of `range` and no others; range = CentralRange(pmf, 1 - 2p).
double RangeQuantile(const Pmf& pmf, double p, const CountRange& range);
// E[(X - units)+] and E[(units - X)+].
double ExpectedShortage(const Pmf& pmf, int64_t units);
double ExpectedSpare(const Pmf& pmf, int64_t units);

}  // namespace ferrule::plan
