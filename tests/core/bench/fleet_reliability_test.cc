// Reliability figures by model, and units that fail beyond chance. The fleets are invented; the
// laws behind them are held against published values in tests/core/reliability.
#include "core/bench/fleet_reliability.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/support/folded_depot.h"

namespace ferrule::bench {
namespace {

using ferrule::testing::FoldedDepot;

UnitPast Past(const std::string& unit, double hours, std::vector<double> failures,
              const std::string& model = "knee-a") {
  UnitPast past;
  past.unit = unit;
  past.model = model;
  past.to_run_hours = hours;
  past.failure_run_hours = std::move(failures);
  return past;
}

// NIST/SEMATECH e-Handbook, section 8.4.5.1: 800 h, 2 failures, 90 %: 400 h, 127 to 2251 h (from
// memory, recomputed with R 4.2.2).
TEST(Reliability, OfAModelHasThePublishedBounds) {
  const auto rows = ReliabilityOf({Past("K-1", 500, {100, 450}), Past("K-2", 300, {})}, 0.9);
  ASSERT_EQ(rows.size(), 1u);
  EXPECT_DOUBLE_EQ(rows[0].run_hours(), 800);
  EXPECT_EQ(rows[0].failure_count(), 2);
  EXPECT_DOUBLE_EQ(rows[0].between_failures_hours(), 400);
  EXPECT_NEAR(rows[0].low_hours(), 127.069, 1e-3);
  EXPECT_NEAR(rows[0].high_hours(), 2251.229, 1e-3);
}

TEST(Reliability, WithoutAFailureHasALowerBoundOnly) {
  const auto rows = ReliabilityOf({Past("K-1", 1000, {})}, 0.9);
  EXPECT_FALSE(rows[0].has_between_failures_hours());
  EXPECT_NEAR(rows[0].low_hours(), 434.294, 1e-3);
  EXPECT_FALSE(rows[0].has_high_hours());
  EXPECT_FALSE(rows[0].has_weibull_shape());
}

// Section 8.4.1.3: ten failures and ten units removed at 500 h; shape 1.7208, scale 606.53.
TEST(Reliability, WeibullIsFittedToTheStretchesWithOpenOnesAsNotEnded) {
  std::vector<UnitPast> pasts;
  for (double at : {54, 187, 216, 240, 244, 335, 361, 373, 375, 386}) {
    pasts.push_back(Past("K", at, {at}));  // failed at the end of its hours
  }
  for (int i = 0; i < 10; ++i) pasts.push_back(Past("L", 500, {}));
  const auto rows = ReliabilityOf(pasts, 0.9);
  EXPECT_NEAR(rows[0].weibull_shape(), 1.7208, 1e-3);
  EXPECT_NEAR(rows[0].weibull_scale_hours(), 606.53, 1);
}

// Section 8.1.9: growth slope 0.5165, chance of the trend 0.011 on one side (from memory,
// recomputed with R 4.2.2).
TEST(Reliability, TrendIsThatOfCrowAndAmsaa) {
  const auto rows =
      ReliabilityOf({Past("K-1", 1500, {5, 40, 43, 175, 389, 712, 747, 795, 1299, 1478})}, 0.9);
  EXPECT_NEAR(rows[0].growth_slope(), 0.5164940, 1e-6);
  EXPECT_NEAR(rows[0].trend_probability(), 0.021972714, 1e-6);
}

TEST(FailingUnits, AreHeldAgainstTheirModelInTheirHours) {
  std::vector<UnitPast> pasts;
  for (int i = 0; i < 19; ++i) {
    pasts.push_back(Past("K-" + std::to_string(i), 500,
                         i % 5 == 0 ? std::vector<double>{9} : std::vector<double>{}));
  }
  pasts.push_back(Past("BAD", 500, {1, 2, 3, 4, 5, 6}));
  pasts.push_back(Past("S-1", 500, {1, 2}, "shoulder-s"));
  pasts.push_back(Past("S-2", 500, {1, 2}, "shoulder-s"));
  const auto units = FailingUnits(pasts, 0.05);
  ASSERT_EQ(units.size(), 22u);
  EXPECT_EQ(units[0].unit(), "BAD");
  EXPECT_TRUE(units[0].beyond_chance());
  EXPECT_NEAR(units[0].expected_failures(), 0.5, 1e-9) << "10 failures over 20 units";
  EXPECT_LT(units[0].chance_probability(), units[0].corrected_probability());
  for (size_t i = 1; i < units.size(); ++i) EXPECT_FALSE(units[i].beyond_chance());
}

TEST(UnitPast, TakesFailuresOfTheWindowAlone) {
  FoldedDepot d;
  d.Receive("K-1", 0, "knee-a", "meter_s: 0");
  for (int i = 0; i < 2; ++i) {
    d.Tell(100 * i + 10, "repair_opened { unit: 'K-1' complaint: 'noise' }");
    d.Tell(100 * i + 20, "repair_closed { unit: 'K-1' work: 'gear' }");
  }
  RepairLog log(d.book(), 30);
  Replay("units/K-1", d.FactsOf("units/K-1"), d.book(),
         [&](const Moment& moment) { log.Visit(moment); });
  UnitPast past;
  PutRepairs(log, FoldedDepot::Us(50), &past);
  EXPECT_EQ(past.failure_run_hours.size(), 1u);
  EXPECT_EQ(past.repeats, 1);
}

}  // namespace
}  // namespace ferrule::bench
