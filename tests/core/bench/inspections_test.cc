// Inspections as they were judged on their day, readings over time, repeats.
#include "core/bench/inspections.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "core/bench/repairs.h"
#include "tests/support/folded_depot.h"

namespace ferrule::bench {
namespace {

using ferrule::testing::FoldedDepot;
using ferrule::testing::FoldSettings;

constexpr int64_t kDay = 24 * 60;
const absl::TimeZone kBerlin = time::Zone("Europe/Berlin").value();

struct Past {
  InspectionLog inspections;
  RepairLog repairs;
  FirstPass first{0};
  explicit Past(const FoldedDepot& d) : inspections(d.book()), repairs(d.book(), 30) {
    Replay("units/K-1", d.FactsOf("units/K-1"), d.book(), [&](const Moment& moment) {
      inspections.Visit(moment);
      repairs.Visit(moment);
      first.Visit(moment);
    });
  }
};

TEST(InspectionLog, JudgesByTheVersionInForceThatDay) {
  FoldedDepot d;
  std::string stricter = FoldSettings("2");
  const std::string limit = "max: 0.3";
  d.Settings(60, stricter.replace(stricter.find(limit), limit.size(), "max: 0.1"));
  d.Receive("K-1", 0);
  d.Clean("K-1", 5);
  d.Inspect("K-1", 10, "0.2", "1");
  d.Inspect("K-1", 70, "0.2", "2");
  d.Inspect("K-1", 80, "0.1", "1");
  const Past past(d);
  const auto& rows = past.inspections.rows();
  ASSERT_EQ(rows.size(), 3u);
  EXPECT_TRUE(rows[0].passed());
  EXPECT_FALSE(rows[1].passed());
  ASSERT_EQ(rows[1].failed_size(), 1);
  EXPECT_EQ(rows[1].failed(0).limit(), "at most 0.1 ohm");
  EXPECT_EQ(rows[2].no_verdict_because(), v1::REASON_CHECKLIST_NOT_IN_FORCE);
}

TEST(InspectionLog, KeepsTheReadingsOfEachMeasuredItem) {
  FoldedDepot d;
  d.Receive("K-1", 0);
  d.Clean("K-1", 5);
  for (int i = 0; i < 3; ++i) d.Inspect("K-1", 10 + i, "0." + std::to_string(i + 1));
  const auto trends = Past(d).inspections.Trends("K-1", 8);
  ASSERT_EQ(trends.size(), 2u) << "a yes or no has no trend";
  EXPECT_EQ(trends[0].item(), "arc");
  EXPECT_EQ(trends[1].item(), "earth");
  EXPECT_EQ(trends[1].measure(), "ohm");
  EXPECT_DOUBLE_EQ(trends[1].max_reading(), 0.3);
  ASSERT_EQ(trends[1].points_size(), 3);
  EXPECT_DOUBLE_EQ(trends[1].points(2).value_reading(), 0.3);
  EXPECT_FALSE(trends[1].has_center_reading()) << "too few for a habit";
}

FoldedDepot Creeping(bool repaired) {
  FoldedDepot d;
  d.Receive("K-1", 0);
  d.Clean("K-1", 5);
  const char* const kEarth[] = {"0.10", "0.12", "0.11", "0.10", "0.12", "0.19"};
  for (int i = 0; i < 6; ++i) {
    if (i == 5 && repaired) {
      d.Tell(15, "repair_opened { unit: 'K-1' complaint: 'cord' }");
      d.Tell(16, "repair_closed { unit: 'K-1' work: 'new cord' }");
    }
    d.Inspect("K-1", 10 + 2 * i, kEarth[i]);
  }
  return d;
}

TEST(InspectionLog, WarnsOfAReadingThatStillPassesAndLeavesItsHabit) {
  const auto trends = Past(Creeping(false)).inspections.Trends("K-1", 5);
  EXPECT_TRUE(trends[1].drifting());
  EXPECT_NEAR(trends[1].center_reading(), 0.11, 1e-9);
  EXPECT_LT(trends[1].high_reading(), 0.19);
  EXPECT_FALSE(trends[0].drifting()) << "always 1: nothing moves by chance";
}

TEST(InspectionLog, BeginsANewHabitWithARepair) {
  const auto trends = Past(Creeping(true)).inspections.Trends("K-1", 5);
  EXPECT_FALSE(trends[1].drifting());
  EXPECT_FALSE(trends[1].has_center_reading());
}

FoldedDepot FailedTwice(int64_t days) {
  FoldedDepot d;
  d.Receive("K-1", 0);
  d.Clean("K-1", 5);
  d.Inspect("K-1", 10, "0.4");
  d.Tell(20, "repair_opened { unit: 'K-1' complaint: 'earth' }");
  d.Tell(30, "repair_closed { unit: 'K-1' work: 'cord' }");
  d.Inspect("K-1", 40, "0.2");
  d.Inspect("K-1", 10 + days * kDay, "0.5");
  return d;
}

TEST(Repeats, OfTheSameItemWithinThirtyDaysAreNamedWithTheRepairBetween) {
  for (int64_t days : {30, 31}) {
    const Past past(FailedTwice(days));
    const auto repeats = Repeats(past.inspections.rows(), past.repairs.rows(), 30, kBerlin);
    ASSERT_EQ(repeats.size(), 1u);
    EXPECT_EQ(repeats[0].item(), "earth");
    EXPECT_EQ(repeats[0].days(), days);
    EXPECT_EQ(repeats[0].within_days(), days == 30);
    EXPECT_EQ(time::ToMicros(repeats[0].repaired().time()), FoldedDepot::Us(30));
  }
}

// Summer time begins on 2026-03-29 in Berlin: from 2026-03-28 to 2026-04-05 is a week and a day,
// and an hour less than eight times 24.
TEST(Repeats, AreCountedInLocalDaysNeverAsTwentyFourHoursEach) {
  std::vector<v1::InspectionRow> rows(2);
  for (int i = 0; i < 2; ++i) {
    rows[i].add_failed()->set_item("earth");
    const absl::CivilMinute at =
        i == 0 ? absl::CivilMinute(2026, 3, 28, 11, 0) : absl::CivilMinute(2026, 4, 5, 11, 0);
    time::SetMicros(absl::ToUnixMicros(absl::FromCivil(at, kBerlin)),
                    rows[i].mutable_done()->mutable_time());
  }
  EXPECT_EQ(Repeats(rows, {}, 30, kBerlin)[0].days(), 8);
  EXPECT_TRUE(Repeats(rows, {}, 8, kBerlin)[0].within_days());
  EXPECT_FALSE(Repeats(rows, {}, 7, kBerlin)[0].within_days());
}

TEST(Repeats, OfAFirstFailureAreNone) {
  FoldedDepot d;
  d.Receive("K-1", 0);
  d.Clean("K-1", 5);
  d.Inspect("K-1", 10, "0.4");
  const Past past(d);
  EXPECT_TRUE(Repeats(past.inspections.rows(), past.repairs.rows(), 30, kBerlin).empty());
  EXPECT_TRUE(Repeats({}, {}, 30, kBerlin).empty());
}

TEST(FirstPass, CountsTheFirstInspectionAfterAReturnAndNoRetest) {
  FoldedDepot d = FailedTwice(2);  // fails, is repaired, passes the retest, fails once more
  Past past(d);
  EXPECT_EQ(past.first.inspections(), 1);
  EXPECT_EQ(past.first.passed(), 0);
  d.ReceiveBack("K-1", 10 * kDay);
  d.Clean("K-1", 10 * kDay + 10);
  d.Tell(10 * kDay + 11, "repair_opened { unit: 'K-1' complaint: 'earth' }");
  d.Tell(10 * kDay + 12, "repair_closed { unit: 'K-1' }");
  d.Inspect("K-1", 10 * kDay + 20, "0.1");
  const Past later(d);
  EXPECT_EQ(later.first.inspections(), 1) << "a failed unit that comes back is retested";
}

}  // namespace
}  // namespace ferrule::bench
