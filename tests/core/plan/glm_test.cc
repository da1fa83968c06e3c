#include "core/plan/glm.h"

#include <gtest/gtest.h>

#include <cmath>

namespace ferrule::plan {
namespace {

// Insects per plot under six sprays (Beall 1942); Poisson regression by R 4.2.2 glm.
TEST(CountRegression, InsectsUnderSixSprays) {
  const std::vector<std::vector<double>> plots = {{10, 7, 20, 14, 14, 12, 10, 23, 17, 20, 14, 13},
                                                  {11, 17, 21, 11, 16, 14, 17, 17, 19, 21, 7, 13},
                                                  {0, 1, 7, 2, 3, 1, 2, 1, 3, 0, 1, 4},
                                                  {3, 5, 12, 6, 4, 3, 5, 5, 5, 5, 2, 4},
                                                  {3, 5, 3, 5, 3, 6, 1, 1, 3, 2, 6, 4},
                                                  {11, 9, 15, 22, 15, 16, 13, 10, 26, 26, 24, 13}};
  CountRegression p;
  p.design.columns = 6;
  p.overdispersed = false;
  for (size_t g = 0; g < 6; ++g)
    for (double y : plots[g]) {
      for (size_t j = 0; j < 6; ++j) p.design.values.push_back(j == 0 || j == g ? 1 : 0);
      p.counts.push_back(y);
    }
  const auto fit = FitCounts(p);
  ASSERT_TRUE(fit.ok());
  EXPECT_TRUE(fit->converged);
  const double want[] = {2.67414864943,  .05588045839,   -1.94017947435,
                         -1.08151785531, -1.42138568093, .13926206733};
  for (size_t j = 0; j < 6; ++j) EXPECT_NEAR(fit->coefficients[j], want[j], 1e-7);
  EXPECT_NEAR(fit->deviance, 98.3286630208, 1e-6);
}

TEST(CountRegression, SizeOfMitesOnLeaves) {  // Bliss and Fisher 1953; R 4.2.2
  CountRegression p;
  p.design.columns = 1;
  const int times[] = {70, 38, 17, 10, 9, 3, 2, 1};
  for (int k = 0; k < 8; ++k) p.counts.insert(p.counts.end(), static_cast<size_t>(times[k]), k);
  p.design.values.assign(150, 1);
  const auto fit = FitCounts(p);
  ASSERT_TRUE(fit.ok());
  EXPECT_NEAR(fit->size, 1.02459315, 1e-5);
  EXPECT_NEAR(fit->coefficients[0], std::log(1.14666666667), 1e-8);
  EXPECT_NEAR(fit->log_likelihood, -222.437153598, 1e-7);
}

TEST(CountRegression, PenaltyDrawsTowardsThePrior) {
  CountRegression p;
  p.design = {1, {1, 1, 1}};
  p.counts = {8, 10, 12};
  p.overdispersed = false;
  p.prior = {0};
  p.penalty = {1e9};
  const auto fit = FitCounts(p);
  ASSERT_TRUE(fit.ok());
  EXPECT_NEAR(fit->coefficients[0], 0, 1e-6);
}

TEST(CountRegression, ThinOrWrongDataGiveNoNonsense) {
  CountRegression p;
  p.design = {2, {1, 0, 1, 0, 1, 0}};
  p.counts = {0, 0, 0};
  p.penalty = {1e-4, 1};
  const auto zeros = FitCounts(p);
  ASSERT_TRUE(zeros.ok());
  EXPECT_TRUE(std::isfinite(zeros->coefficients[0]));
  EXPECT_EQ(zeros->coefficients[1], 0);
  p.counts = {0, -1, 0};
  EXPECT_EQ(FitCounts(p).status().code(), absl::StatusCode::kInvalidArgument);
  p.counts = {0, 1};
  EXPECT_FALSE(FitCounts(p).ok());
}

TEST(CountFits, DoubtOfAMean) {  // log of a Poisson mean: variance 1 / (events + prior precision)
  CountRegression problem;
  problem.overdispersed = false;
  problem.design.columns = 1;
  problem.design.values = {1, 1, 1, 1};
  problem.counts = {3, 5, 4, 8};
  const auto fit = FitCounts(problem);
  ASSERT_TRUE(fit.ok());
  ASSERT_EQ(fit->covariance.size(), 1u);
  EXPECT_NEAR(fit->covariance[0], 1 / 20.0, 1e-9);
  problem.penalty = {5};
  problem.prior = fit->coefficients;
  EXPECT_NEAR(FitCounts(problem)->covariance[0], 1 / 25.0, 1e-9);
}

}  // namespace
}  // namespace ferrule::plan
