// Planning beside R: answers of R 4 and its packages forecast, survival and MASS on data sets that
// come with them, made by data/oracle.R while the test runs. Where R is missing the test fails.
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <cstdio>
#include <cstdlib>
#include <map>
#include <sstream>
#include <string>
#include <utility>
#include <vector>

#include "core/plan/airline.h"
#include "core/plan/distributions.h"
#include "core/plan/erlang.h"
#include "core/plan/glm.h"
#include "core/plan/intermittent.h"
#include "core/plan/methods.h"
#include "core/plan/scores.h"
#include "core/plan/smoothing.h"
#include "core/plan/survival.h"

namespace ferrule::plan {
namespace {

using Numbers = std::vector<double>;

struct Oracle {
  bool ran = false;
  std::map<std::string, Numbers> answers;
};

Oracle RunR() {
  Oracle oracle;
  FILE* pipe = popen("LC_ALL=C Rscript --vanilla '" FERRULE_TEST_DATA "/oracle.R'", "r");
  if (pipe == nullptr) return oracle;
  std::string text;
  char part[1 << 16];
  for (size_t n; (n = fread(part, 1, sizeof part, pipe)) > 0;) text.append(part, n);
  oracle.ran = pclose(pipe) == 0;
  std::istringstream lines(text);
  for (std::string line; std::getline(lines, line);) {
    std::istringstream words(line);
    std::string name, word;
    words >> name;
    while (words >> word) oracle.answers[name].push_back(std::strtod(word.c_str(), nullptr));
  }
  return oracle;
}

class PlanBesideR : public testing::Test {
 protected:
  // In each case, not before the suite: there a failure would pass for a skipped suite.
  void SetUp() override {
    ASSERT_TRUE(oracle().ran) << "Rscript did not run to its end: deploy/install installs R and "
                                 "the packages that deploy/packages.txt names";
  }

  static const Numbers& Of(const std::string& name) {
    static const Numbers nothing;
    const auto it = oracle().answers.find(name);
    if (it != oracle().answers.end()) return it->second;
    ADD_FAILURE() << "data/oracle.R gives no " << name;
    return nothing;
  }
  static std::vector<std::string> Names() {
    std::vector<std::string> names;
    for (const auto& [name, numbers] : oracle().answers) names.push_back(name);
    return names;
  }
  static double One(const std::string& name) {
    const Numbers& numbers = Of(name);
    EXPECT_EQ(numbers.size(), 1u) << name;
    return numbers.empty() ? std::nan("") : numbers[0];
  }

 private:
  static const Oracle& oracle() {
    static const Oracle oracle = RunR();
    return oracle;
  }
};

// Relative where the value is large, absolute near 0.
void ExpectClose(double ours, double theirs, double tolerance, const std::string& what) {
  EXPECT_NEAR(ours, theirs, tolerance * std::max(1.0, std::abs(theirs))) << what;
}

void ExpectRelative(double ours, double theirs, double tolerance, const std::string& what) {
  // Below 1e-300 numbers have fewer digits.
  EXPECT_NEAR(ours, theirs, tolerance * std::abs(theirs) + 1e-310) << what;
}

TEST_F(PlanBesideR, LossFormula) {
  const Numbers &load = Of("loss.load"), &units = Of("loss.units"), &log = Of("loss.log");
  ASSERT_EQ(log.size(), load.size());
  ASSERT_GT(log.size(), 50u);
  for (size_t i = 0; i < log.size(); ++i) {
    const std::string what = std::to_string(load[i]) + " on " + std::to_string(units[i]);
    const int64_t n = static_cast<int64_t>(units[i]);
    ExpectClose(LogLossProbability(load[i], n), log[i], 1e-10, what);
    if (log[i] > -600) ExpectRelative(LossProbability(load[i], n), std::exp(log[i]), 1e-9, what);
  }
}

TEST_F(PlanBesideR, LawsOfCounts) {
  const Numbers &mean = Of("law.mean"), &size = Of("law.size"), &share = Of("law.share");
  ASSERT_EQ(mean.size(), 18u);
  for (size_t i = 0; i < mean.size(); ++i) {
    CountLaw law{mean[i]};
    if (size[i] > 0) law.size = size[i];
    const std::string place = std::to_string(i + 1);
    const std::string what = std::to_string(mean[i]) + ", size " + std::to_string(size[i]);
    const Numbers& quantile = Of("law.quantile." + place);
    ASSERT_EQ(quantile.size(), share.size());
    for (size_t q = 0; q < share.size(); ++q)
      EXPECT_EQ(Quantile(law, share[q]), static_cast<int64_t>(quantile[q]))
          << what << " at " << share[q];
    const Numbers &probability = Of("law.probability." + place), &tail = Of("law.tail." + place);
    ASSERT_EQ(tail.size(), probability.size());
    for (size_t k = 0; k < tail.size(); ++k) {
      const std::string at = what + " at " + std::to_string(k);
      ExpectRelative(Probability(law, static_cast<int64_t>(k)), probability[k], 1e-10, at);
      ExpectRelative(Tail(law, static_cast<int64_t>(k)), tail[k], 1e-10, at);
      EXPECT_NEAR(Cdf(law, static_cast<int64_t>(k)), 1 - tail[k], 1e-12) << at;
    }
  }
}

std::vector<Stay> Stays(const Numbers& entry, const Numbers& exit, const Numbers& ended) {
  std::vector<Stay> stays;
  for (size_t i = 0; i < exit.size(); ++i) stays.push_back({exit[i], ended[i] == 1, entry[i]});
  return stays;
}

TEST_F(PlanBesideR, ProductLimitCurves) {
  for (const std::string name :
       {"stay.gehan.6-MP", "stay.gehan.control", "stay.lung.1", "stay.lung.2", "stay.heart"}) {
    const auto curve =
        ProductLimit(Stays(Of(name + ".entry"), Of(name + ".exit"), Of(name + ".ended")));
    ASSERT_TRUE(curve.ok()) << name;
    const Numbers &time = Of(name + ".time"), &at_risk = Of(name + ".at_risk"),
                  &died = Of(name + ".died"), &survival = Of(name + ".survival"),
                  &hazard = Of(name + ".hazard"), &error = Of(name + ".error"),
                  &low = Of(name + ".low"), &high = Of(name + ".high");
    ASSERT_EQ(curve->steps().size(), time.size()) << name;
    ASSERT_GT(time.size(), 5u);
    for (size_t i = 0; i < time.size(); ++i) {
      const SurvivalStep& step = curve->steps()[i];
      const std::string what = name + " at " + std::to_string(time[i]);
      EXPECT_EQ(step.time, time[i]) << what;
      EXPECT_EQ(step.at_risk, static_cast<int64_t>(at_risk[i])) << what;
      EXPECT_EQ(step.ended, static_cast<int64_t>(died[i])) << what;
      EXPECT_NEAR(step.survival, survival[i], 1e-10) << what;
      ExpectRelative(step.cumulative_hazard, hazard[i], 1e-10, what);
      if (i >= error.size()) continue;  // at 0 there is no error
      ExpectRelative(step.standard_error, error[i], 1e-10, what);
      EXPECT_NEAR(curve->LimitsAt(time[i], .95).low, low[i], 1e-9) << what;
      EXPECT_NEAR(curve->LimitsAt(time[i], .95).high, high[i], 1e-9) << what;
    }
    const Numbers &exit = Of(name + ".exit"), &restricted = Of(name + ".restricted");
    const double limit = *std::max_element(exit.begin(), exit.end());
    ASSERT_EQ(restricted.size(), 2u);
    ExpectRelative(curve->RestrictedMean(limit), restricted[0], 1e-10, name);
    ExpectRelative(curve->RestrictedMeanError(limit), restricted[1], 1e-9, name);
  }
}

TEST_F(PlanBesideR, DifferenceOfTwoCurves) {
  std::vector<std::vector<Stay>> arms;
  for (const std::string name : {"stay.gehan.6-MP", "stay.gehan.control"})
    arms.push_back(Stays(Of(name + ".entry"), Of(name + ".exit"), Of(name + ".ended")));
  const LogRank ours = CompareStays(arms);
  const Numbers& theirs = Of("stay.difference");
  ASSERT_EQ(theirs.size(), 3u);
  ExpectRelative(ours.chi_square, theirs[0], 1e-9, "chi square");
  ExpectRelative(ours.expected[0], theirs[1], 1e-10, "expected with treatment");
  ExpectRelative(ours.expected[1], theirs[2], 1e-10, "expected without");
}

struct Given {
  SmoothingState start;
  int cycle = 1;
};

// Weights and start as data/oracle.R gives them.
Given Parse(const Numbers& weights, const Numbers& start) {
  Given given;
  given.start.alpha = weights.at(0);
  given.start.beta = weights.at(1);
  given.start.gamma = weights.at(2);
  given.cycle = static_cast<int>(weights.at(3));
  given.start.level = start.at(0);
  given.start.slope = start.at(1);
  given.start.season.assign(start.begin() + 2, start.end());
  return given;
}

TEST_F(PlanBesideR, HoltWintersWithGivenWeights) {
  for (const std::string name : {"season.gas", "season.accidents", "season.co2"}) {
    Given given = Parse(Of(name + ".weights"), Of(name + ".start"));
    // R smooths trend and season against the new level, we against the old one.
    given.start.beta *= given.start.alpha;
    given.start.gamma *= 1 - given.start.alpha;
    const SmoothingModel model{Part::kAdditive, Part::kAdditive, false, Part::kAdditive,
                               given.cycle};
    const SmoothingFit fit = RunSmoothing(model, given.start, Of(name + ".values"));
    ExpectRelative(fit.sum_squares, One(name + ".squares"), 1e-10, name);
    const Numbers& ahead = Of(name + ".ahead");
    for (size_t h = 0; h < ahead.size(); ++h)
      ExpectRelative(fit.now.Ahead(model, static_cast<int>(h) + 1), ahead[h], 1e-10,
                     name + " ahead " + std::to_string(h + 1));
  }
}

SmoothingModel ModelOf(const std::string& name, int cycle) {
  if (name.find("ratio") != std::string::npos)
    return {Part::kMultiplicative, Part::kAdditive, false, Part::kMultiplicative, cycle};
  if (name.find("sum") != std::string::npos)
    return {Part::kAdditive, Part::kAdditive, false, Part::kAdditive, cycle};
  return {Part::kAdditive, Part::kNone, false, Part::kNone, 1};
}

const std::vector<std::string> kSmoothed = {"smooth.ratio.air", "smooth.ratio.gas",
                                            "smooth.sum.accidents", "smooth.level.nile"};

TEST_F(PlanBesideR, SmoothingFromTheirStates) {
  for (const std::string& name : kSmoothed) {
    const Given given = Parse(Of(name + ".weights"), Of(name + ".start"));
    const SmoothingModel model = ModelOf(name, given.cycle);
    const SmoothingFit fit = RunSmoothing(model, given.start, Of(name + ".values"));
    ASSERT_TRUE(fit.usable) << name;
    ExpectRelative(fit.log_likelihood, One(name + ".likelihood"), 1e-9, name);
    ExpectRelative(fit.corrected_aic, One(name + ".aicc"), 1e-9, name);
    ExpectRelative(fit.sum_squares, One(name + ".squares"), 1e-9, name);
    ExpectRelative(fit.sigma, One(name + ".sigma"), 1e-9, name);
    const Numbers& ahead = Of(name + ".ahead");
    for (size_t h = 0; h < ahead.size(); ++h)
      ExpectRelative(fit.now.Ahead(model, static_cast<int>(h) + 1), ahead[h], 1e-9,
                     name + " ahead " + std::to_string(h + 1));
  }
}

// Optimisers stop at different places, so ours has to be as good, not the same.
TEST_F(PlanBesideR, FitIsAtLeastAsLikely) {
  for (const std::string& name : kSmoothed) {
    const SmoothingModel model = ModelOf(name, static_cast<int>(Of(name + ".weights").at(3)));
    const SmoothingFit fit = FitSmoothing(model, Of(name + ".values"), Criterion::kLikelihood);
    ASSERT_TRUE(fit.usable) << name;
    EXPECT_GE(fit.log_likelihood, One(name + ".likelihood") - .01) << name;
  }
}

TEST_F(PlanBesideR, HoltWintersRatioHasNoMoreSquares) {
  for (const std::string name : {"air", "gas"}) {
    const std::string series = "smooth.ratio." + name;
    const SmoothingModel model = ModelOf(series, static_cast<int>(Of(series + ".weights").at(3)));
    const SmoothingFit fit = FitSmoothing(model, Of(series + ".values"), Criterion::kSquares);
    ASSERT_TRUE(fit.usable) << name;
    EXPECT_LE(fit.sum_squares, One("holt." + name) * 1.001) << name;
  }
}

// Mean loss of a method at the origins of one series, as data/oracle.R has it.
double LossAtOrigins(Method method, const Numbers& values, int cycle, int horizon,
                     const Numbers& origins) {
  double loss = 0;
  for (double from : origins) {
    const auto origin = static_cast<size_t>(from);
    const Series known{
        Numbers(values.begin(), values.begin() + static_cast<int64_t>(origin)), cycle, 0, {}};
    const SeriesForecast forecast = ForecastBy(method, known, horizon);
    for (size_t h = 0; h < forecast.steps.size(); ++h)
      loss += PinballLoss(values.at(origin + h), forecast.steps[h]) /
              (horizon * NaiveScale(known.values, cycle));
  }
  return loss / static_cast<double>(origins.size());
}

// ets(), thetaf() and hw() from the same origins: on no series more than 2 % nearer, but for those
// named, and in the mean over all series no nearer.
TEST_F(PlanBesideR, ForecastsAreAsNear) {
  const std::vector<std::pair<std::string, Method>> methods = {
      {"smoothing", Method::kSmoothing},
      {"theta", Method::kTheta},
      {"sum", Method::kHoltWintersSum},
      {"ratio", Method::kHoltWintersRatio}};
  // Over 24 origins instead of 6 to 12 (counts in data/oracle.R) the ratio is what the comments
  // say: where it is below 1.02 there, what is worse here is chance.
  const std::map<std::string, double> known_worse = {
      // Two maxima about as likely: at 3 of 24 origins R stops 3 to 4 below ours in log-likelihood,
      // and that came; at the other 21 within 1 % (1.07).
      {"smoothing UKgas", 1.08},
      // 15 to 18 years of steep growth, and R's forecast of them is flat, as it stops its search of
      // models with a trend 12 below the greatest log-likelihood. Our mean errs a seventh of R's,
      // but
      // the
      // errors of war years, .2 of the level, make its bounds wide (1.12, no more origins).
      {"smoothing airmiles", 1.13},
      // R stops before the likeliest weights and starts, .1 to 1.6 in log-likelihood (1.04).
      {"smoothing mdeaths", 1.06},
      {"smoothing DAX", 1.035},       // .99
      {"smoothing FTSE", 1.03},       // not tried
      {"smoothing nottem", 1.03},     // 1.01
      {"smoothing wineind", 1.04},    // 1.02
      {"smoothing woolyrnq", 1.035},  // .97
      // The same path. R's bounds are as wide in each month, ours in proportion (1.06).
      {"theta kms", 1.045},
      {"sum UKgas", 1.045},    // .92
      {"sum austres", 1.1},    // 1.01
      {"sum co2", 1.085},      // .98
      {"sum freeny", 1.05},    // 1.01
      {"ratio freeny", 1.03},  // 1.02
      // Our level and trend still move where R's hardly do, and the mean errs 7 and 3 % more (1.10,
      // 1.07).
      {"sum gas", 1.18},
      {"ratio gas", 1.05},
      {"ratio USAccDeaths", 1.115},  // .90
      // Our mean errs 4 % less; but deaths scatter in proportion, and half of our bounds are as
      // wide
      // in each month (1.07).
      {"ratio fdeaths", 1.08},
      {"ratio wineind", 1.035},  // .98
  };
  const std::string prefix = "origins.", suffix = ".shape";
  for (const auto& [method, ours] : methods) {
    double logs = 0, count = 0;
    for (const std::string& key : Names()) {
      if (!key.starts_with(prefix) || !key.ends_with(suffix)) continue;
      const std::string series =
          key.substr(prefix.size(), key.size() - prefix.size() - suffix.size());
      const std::string base = prefix + series + ".";
      const auto cycle = static_cast<int>(Of(key).at(0)), steps = static_cast<int>(Of(key).at(1));
      if (cycle == 1 && method != "smoothing" && method != "theta") continue;
      const double theirs = One(base + method);
      const double ratio =
          LossAtOrigins(ours, Of(base + "values"), cycle, steps, Of(base + "origins")) / theirs;
      const auto worse = known_worse.find(method + " " + series);
      EXPECT_LE(ratio, worse != known_worse.end() ? worse->second : 1.02)
          << method << " of " << series << ", over R's loss " << theirs;
      logs += std::log(ratio);
      count += 1;
    }
    ASSERT_GE(count, 19) << method;
    EXPECT_LE(std::exp(logs / count), 1) << method;
    RecordProperty("mean_ratio_" + method, std::to_string(std::exp(logs / count)));
  }
}

TEST_F(PlanBesideR, SeasonalDifferences) {
  for (const std::string name :
       {"difference.air", "difference.gas", "difference.accidents", "difference.co2"}) {
    const bool logs = name == "difference.air" || name == "difference.gas";
    const Numbers &values = Of(name + ".values"), &weights = Of(name + ".weights");
    const int cycle = static_cast<int>(One(name + ".cycle"));
    const AirlineFit fit = FitAirline(values, cycle, logs);
    ASSERT_TRUE(fit.usable) << name;
    EXPECT_NEAR(fit.near, weights.at(0), 1e-3) << name;
    EXPECT_NEAR(fit.cycle, weights.at(1), 1e-3) << name;
    ExpectRelative(fit.variance, One(name + ".variance"), 1e-3, name);
    EXPECT_NEAR(fit.deviance, One(name + ".deviance"), .01) << name;
    const Numbers &ahead = Of(name + ".ahead"), &error = Of(name + ".error");
    const SeriesForecast forecast =
        ForecastAirline({values, cycle, 0, {}}, static_cast<int>(ahead.size()));
    if (forecast.basis.ends_with("logs") != logs) continue;
    // R takes no degrees of freedom for the two weights.
    const double n = static_cast<double>(values.size()) - cycle - 1, wider = std::sqrt(n / (n - 2));
    for (size_t h = 0; h < ahead.size(); ++h) {
      const std::string what = name + ", step " + std::to_string(h + 1);
      const auto& q = forecast.steps[h].quantiles;
      const double middle = logs ? std::log(q[2]) : q[2], high = logs ? std::log(q[5]) : q[5];
      ExpectRelative(middle, ahead[h], 1e-4, what);
      ExpectRelative((high - middle) / 1.959963985, error[h] * wider, 2e-3, what);
    }
  }
}

TEST_F(PlanBesideR, DemandWithEmptyPeriods) {
  for (const std::string name : {"empty.discoveries", "empty.seizures", "empty.absence"}) {
    const Numbers &values = Of(name + ".values"), &weights = Of(name + ".weights");
    const Numbers &croston = Of(name + ".croston"), &start = Of(name + ".start"),
                  &apart = Of(name + ".apart");
    ASSERT_GT(values.size(), 50u);
    const CrostonState state = RunCroston(values, weights.at(0));
    ExpectRelative(state.size, croston.at(0), 1e-10, name);
    ExpectRelative(state.interval, croston.at(1), 1e-10, name);
    const double rate = One(name + ".rate");
    ExpectRelative(CrostonRate(state, weights[0], Intermittent::kCroston), rate, 1e-10, name);
    ExpectRelative(CrostonRate(state, weights[0], Intermittent::kSyntetosBoylan),
                   (1 - weights[0] / 2) * rate, 1e-10, name);
    const TsbState tsb = RunTsb(values, weights[0], weights.at(1), {start.at(0), start.at(1)});
    ExpectRelative(tsb.size, apart.at(0), 1e-10, name);
    ExpectRelative(tsb.chance, apart.at(1), 1e-10, name);
  }
}

TEST_F(PlanBesideR, RatesOfRareDemandAreAsNear) {
  const std::vector<std::pair<std::string, Method>> methods = {
      {"croston", Method::kCroston},
      {"corrected", Method::kSyntetosBoylan},
      {"apart", Method::kTsb},
      {"mean", Method::kMeanRate}};
  // The same rates: our size is the likeliest, theirs here that of the moments.
  const std::map<std::string, double> known_worse = {{"croston discoveries", 1.03},
                                                     {"mean insects", 1.03}};
  for (const std::string series : {"discoveries", "seizures", "absence", "insects"})
    for (const auto& [method, ours] : methods) {
      const std::string base = "rare." + series + ".";
      const double loss = LossAtOrigins(ours, Of(base + "values"), 1, 10, Of(base + "origins"));
      const auto worse = known_worse.find(method + " " + series);
      EXPECT_LE(loss / One(base + method), worse != known_worse.end() ? worse->second : 1.02)
          << method << " of " << series;
    }
}

TEST_F(PlanBesideR, CountRegressions) {
  for (const std::string name :
       {"count.absence", "count.seizures", "count.insects", "count.breaks"}) {
    CountRegression problem;
    const Numbers& coefficients = Of(name + ".coefficients");
    problem.design = {coefficients.size(), Of(name + ".design")};
    problem.counts = Of(name + ".counts");
    problem.overdispersed = name != "count.insects";
    const auto fit = FitCounts(problem);
    ASSERT_TRUE(fit.ok()) << name << ": " << fit.status();
    EXPECT_TRUE(fit->converged) << name;
    for (size_t j = 0; j < coefficients.size(); ++j)
      ExpectClose(fit->coefficients[j], coefficients[j], 1e-6, name);
    const Numbers& fitted = Of(name + ".fitted");
    ASSERT_EQ(fit->fitted.size(), fitted.size()) << name;
    for (size_t i = 0; i < fitted.size(); ++i)
      ExpectRelative(fit->fitted[i], fitted[i], 1e-6, name);
    ExpectRelative(fit->deviance, One(name + ".deviance"), 1e-6, name);
    ExpectRelative(fit->log_likelihood, One(name + ".likelihood"), 1e-9, name);
    if (problem.overdispersed) ExpectRelative(fit->size, One(name + ".size"), 1e-5, name);
  }
}

}  // namespace
}  // namespace ferrule::plan
