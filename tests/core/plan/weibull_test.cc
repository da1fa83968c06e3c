#include "core/plan/weibull.h"

#include <gtest/gtest.h>

#include <cmath>

namespace ferrule::plan {
namespace {

// NIST/SEMATECH e-Handbook 8.4.1.3: ten of twenty units failed within 500 hours.
TEST(WeibullFit, CensoredLifeTestOfTheReliabilityHandbook) {
  std::vector<Stay> stays;
  for (double t : {54., 187., 216., 240., 244., 335., 361., 373., 375., 386.}) stays.push_back({t});
  for (int i = 0; i < 10; ++i) stays.push_back({500, false});
  const auto fit = FitWeibull(stays);
  ASSERT_TRUE(fit.ok());
  EXPECT_NEAR(fit->shape, 1.7208, 5e-5);
  EXPECT_NEAR(fit->scale, 606.5280, 1e-3 * 606);
  EXPECT_NEAR(fit->log_likelihood, -75.134618, 1e-5);
  EXPECT_NEAR(fit->Mean(), 540.7374, 1e-2);
  EXPECT_NEAR(fit->StandardDeviation(), 323.8056, 2e-2);
  EXPECT_NEAR(fit->Survival(fit->scale), std::exp(-1.0), 1e-12);
}

// Treated arm of the remission trial (Freireich et al. 1963); R survival 3.5-3 survreg.
TEST(WeibullFit, TreatedArmOfTheRemissionTrial) {
  std::vector<Stay> stays;
  for (double t : {6., 6., 6., 7., 10., 13., 16., 22., 23.}) stays.push_back({t});
  for (double t : {6., 9., 10., 11., 17., 19., 20., 25., 32., 32., 34., 35.})
    stays.push_back({t, false});
  const auto fit = FitWeibull(stays);
  ASSERT_TRUE(fit.ok());
  EXPECT_NEAR(fit->shape, 1.353735, 1e-5);
  EXPECT_NEAR(fit->scale, 33.76515, 1e-3);
  EXPECT_NEAR(fit->log_likelihood, -41.65868, 1e-5);
}

TEST(WeibullFit, TooFewEndsGiveNoFit) {
  EXPECT_EQ(FitWeibull({}).status().code(), absl::StatusCode::kFailedPrecondition);
  EXPECT_FALSE(FitWeibull({{4}, {9, false}}).ok());
  EXPECT_FALSE(FitWeibull({{4}, {4}, {9, false}}).ok());
  EXPECT_EQ(FitWeibull({{0}, {3}}).status().code(), absl::StatusCode::kInvalidArgument);
}

}  // namespace
}  // namespace ferrule::plan
