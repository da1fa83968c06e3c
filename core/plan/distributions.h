// Count laws (Poisson and negative binomial), the normal and the gamma law, as far as planning
// needs them. Every function is total: arguments outside their range are moved to its nearest
// end, so that no answer is NaN. Discrete quantiles are the smallest integer x with F(x) >= p.
#pragma once

#include <cstdint>
#include <limits>
#include <vector>

namespace ferrule::plan {

double NormalCdf(double x);
// p in (0, 1); p outside is moved to 1e-300 or 1 - 1e-16.
double NormalQuantile(double p);

// shape > 0, scale > 0.
double GammaCdf(double x, double shape, double scale);
double GammaQuantile(double p, double shape, double scale);

// P(F > f) of Fisher's law with these degrees of freedom, both > 0.
double FisherTail(double f, int numerator, int denominator);

// x > 0.
double LogGamma(double x);
double Digamma(double x);
double Trigamma(double x);

// A law of counts with variance mean + mean^2 / size. An infinite size is the Poisson law, and so
// is a size above 1e6, where the negative binomial loses digits and no longer differs.
struct CountLaw {
  double mean = 0;
  double size = std::numeric_limits<double>::infinity();
};

// The law with these moments; Poisson when the variance is at or below the mean.
CountLaw CountLawOfMoments(double mean, double variance);

double Variance(const CountLaw& law);
// P(X = k), P(X <= k) and P(X > k). k < 0 gives 0, 0 and 1.
double Probability(const CountLaw& law, int64_t k);
double LogProbability(const CountLaw& law, int64_t k);
double Cdf(const CountLaw& law, int64_t k);
double Tail(const CountLaw& law, int64_t k);
// Smallest x with F(x) >= p.
int64_t Quantile(const CountLaw& law, double p);
// E[(X - units)+]: units short when `units` are there; computed without cancellation.
double ExpectedShortage(const CountLaw& law, int64_t units);

// The size of greatest likelihood for these counts with these means, each with weight 1; infinite
// when they scatter no more than Poisson counts. counts and means have the same length.
double FitSize(const std::vector<double>& counts, const std::vector<double>& means);

// A gamma law cut into n slices of equal probability, each given by its mean: the mixture over an
// uncertain level. mean > 0; a coefficient of variation of 0 gives n times the mean.
std::vector<double> GammaSlices(double mean, double coefficient_of_variation, int n);

}  // namespace ferrule::plan
