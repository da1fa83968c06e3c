// What a tester's passes are worth.
#include "core/unit/tester.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/support/folded_depot.h"

namespace ferrule::unit {
namespace {

using ferrule::testing::FoldedDepot;
using ::testing::ElementsAre;
using ::testing::IsEmpty;

std::string Doubt(int64_t from_min, int64_t to_min, const std::string& units = "units: 'K-1'") {
  return "tester_doubted { tester: 'T-1' because: 'dropped' from_time { seconds: " +
         std::to_string(FoldedDepot::Us(from_min) / 1'000'000) +
         " } to_time { seconds: " + std::to_string(FoldedDepot::Us(to_min) / 1'000'000) + " } " +
         units + " }";
}

TEST(Tester, IsTrustedThroughTheLastDayOfItsCalibration) {
  FoldedDepot d;  // minute 0 is 2026-03-02
  d.Tell(0, "tester_calibrated { tester: 'T-1' due_date { year: 2026 month: 3 day: 31 } }");
  d.Tell(60, Doubt(10, 20, ""));
  const v1::TesterState tester = d.State("testers/T-1").tester();
  const auto trust = [&](int64_t at_min, absl::CivilDay day) {
    return TrustIn(tester, FoldedDepot::Us(at_min), day);
  };
  const absl::CivilDay first(2026, 3, 2);
  EXPECT_EQ(trust(-1, first), Trust::kNotCalibrated);
  EXPECT_EQ(trust(0, first), Trust::kCalibrated);
  EXPECT_EQ(trust(10, first), Trust::kDoubted);
  EXPECT_EQ(trust(20, first), Trust::kCalibrated) << "the end does not belong to it";
  EXPECT_EQ(trust(30, absl::CivilDay(2026, 3, 31)), Trust::kCalibrated);
  EXPECT_EQ(trust(30, absl::CivilDay(2026, 4, 1)), Trust::kOutOfDate);
}

TEST(TesterDoubt, TakesBackThePassOfThatTime) {
  FoldedDepot d;
  d.ReadyKnee();  // inspected at minute 8
  d.Tell(60, Doubt(8, 9));
  EXPECT_EQ(d.Unit("K-1").condition(), v1::CONDITION_UNTESTED);
  EXPECT_THAT(d.WhyNot("K-1", 70), ElementsAre("TESTER_IN_DOUBT"));
  EXPECT_THAT(d.Questions("units/K-1"), IsEmpty());
  d.Inspect("K-1", 80);
  EXPECT_THAT(d.WhyNot("K-1", 90), IsEmpty());
}

TEST(TesterDoubt, LeavesPassesOfOtherTimesAndTesters) {
  FoldedDepot d;
  d.ReadyKnee();
  d.Tell(60, Doubt(0, 8));
  d.Tell(61, Doubt(9, 50));
  EXPECT_EQ(d.Unit("K-1").condition(), v1::CONDITION_PASSED);
}

TEST(TesterDoubt, OfAUnitAtHomeTakesItsPassBackThere) {
  FoldedDepot d;
  d.ReadyKnee();
  d.TakeOrder("O-1", 11);
  d.HandOver("K-1", "O-1", 20);
  d.Tell(60, Doubt(0, 50));
  EXPECT_EQ(d.Unit("K-1").custody(), v1::CUSTODY_HOME);
  EXPECT_EQ(d.Unit("K-1").condition(), v1::CONDITION_UNTESTED);
}

TEST(Inspection, WithATesterPastItsCalibrationDoesNotCount) {
  FoldedDepot d;
  d.Receive("K-1", 0);
  d.Clean("K-1", 5);
  const auto inspect = [&](int64_t at, int day) {
    d.Tell(at,
           "inspection_done { unit: 'K-1' checklist: 'knee-check' checklist_version: '1' "
           "tester: 'T-1' tester_due_date { year: 2026 month: 3 day: " +
               std::to_string(day) +
               " } readings { item: 'earth' value: 0.2 } readings { item: 'arc' value: 1 } "
               "readings { item: 'stop' value: 1 } }");
  };
  inspect(10, 1);
  EXPECT_THAT(d.Questions("units/K-1"), ElementsAre("TESTER_OUT_OF_DATE"));
  EXPECT_EQ(d.Unit("K-1").condition(), v1::CONDITION_UNTESTED);
  inspect(20, 2);
  EXPECT_EQ(d.Unit("K-1").condition(), v1::CONDITION_PASSED) << "good through its last day";
}

}  // namespace
}  // namespace ferrule::unit
