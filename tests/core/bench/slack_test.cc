// The bench list: what to do next, so that nothing promised is missed.
#include "core/bench/slack.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "core/time/civil.h"

namespace ferrule::bench {
namespace {

using ::testing::ElementsAre;

constexpr int64_t kMinute = 60'000'000;

Candidate Soiled(const std::string& unit, int minutes) {
  Candidate candidate;
  candidate.unit = unit;
  candidate.branch = "north";
  candidate.device_class = "knee";
  candidate.minutes = minutes;
  candidate.work = {v1::BENCH_STEP_CLEAN};
  return candidate;
}
Candidate Ready(const std::string& unit) {
  Candidate candidate = Soiled(unit, 0);
  candidate.work.clear();
  candidate.ready = true;
  return candidate;
}
Demand Order(const std::string& order, int64_t need_min, const std::string& held = "") {
  return {order, "north", "knee", v1::SIDE_UNSPECIFIED, held, need_min * kMinute};
}

std::vector<std::string> Lines(const std::vector<v1::BenchRow>& rows) {
  std::vector<std::string> lines;
  for (const v1::BenchRow& row : rows) {
    lines.push_back(row.unit() + " " + (row.order().empty() ? "-" : row.order()) + " " +
                    std::to_string(row.slack_minutes()));
  }
  return lines;
}

TEST(BenchList, TheLeastSlackComesFirstAndNotTheFirstNeed) {
  const auto rows = PlanBench({Soiled("K-1", 30), Soiled("K-2", 300)},
                              {Order("R-1", 100, "K-1"), Order("R-2", 360, "K-2")}, 0);
  EXPECT_THAT(Lines(rows), ElementsAre("K-2 R-2 60", "K-1 R-1 70"));
}

TEST(BenchList, AReadyUnitCoversTheFirstOrderAndTheQuickestTheNext) {
  const auto rows = PlanBench({Soiled("K-1", 200), Soiled("K-2", 50), Ready("K-3")},
                              {Order("R-1", 100), Order("R-2", 400)}, 0);
  EXPECT_THAT(Lines(rows), ElementsAre("K-2 R-2 350", "K-1 - 0"));
}

TEST(BenchList, ChangesWhenThePromisesChange) {
  const std::vector<Candidate> units = {Soiled("K-1", 60), Soiled("K-2", 90)};
  EXPECT_EQ(PlanBench(units, {Order("R-1", 500, "K-1")}, 0)[0].unit(), "K-1");
  EXPECT_EQ(PlanBench(units, {Order("R-1", 500, "K-1"), Order("R-2", 200, "K-2")}, 0)[0].unit(),
            "K-2");
}

TEST(BenchList, TooLateIsBelowNought) {
  EXPECT_THAT(Lines(PlanBench({Soiled("K-1", 60)}, {Order("R-1", 100, "K-1")}, 70 * kMinute)),
              ElementsAre("K-1 R-1 -30"));
}

TEST(BenchList, DoesNotTakeAnotherOrdersUnitOrOneThatIsBlocked) {
  Candidate held = Soiled("K-1", 10);
  held.held_order = "R-9";
  Candidate blocked = Soiled("K-2", 5);
  blocked.blocked = "incident hold";
  const auto rows = PlanBench({held, blocked, Soiled("K-3", 50)}, {Order("R-1", 100)}, 0);
  EXPECT_THAT(Lines(rows), ElementsAre("K-3 R-1 50", "K-1 - 0", "K-2 - 0"));
  EXPECT_EQ(rows[2].blocked(), "incident hold") << "last of all";
}

TEST(BenchList, MatchesBranchClassAndSide) {
  Candidate shoulder = Soiled("S-1", 10);
  shoulder.device_class = "shoulder";
  shoulder.sided = true;
  shoulder.side = v1::SIDE_RIGHT;
  Demand demand = Order("R-1", 100);
  demand.device_class = "shoulder";
  demand.side = v1::SIDE_LEFT;
  EXPECT_EQ(PlanBench({shoulder}, {demand}, 0)[0].order(), "");
  demand.side = v1::SIDE_RIGHT;
  EXPECT_EQ(PlanBench({shoulder}, {demand}, 0)[0].order(), "R-1");
  demand.branch = "south";
  EXPECT_EQ(PlanBench({shoulder}, {demand}, 0)[0].order(), "");
}

std::vector<v1::BenchStep> WorkOf(std::vector<v1::Reason> reasons) {
  std::vector<v1::Finding> findings;
  for (v1::Reason reason : reasons) findings.emplace_back().set_reason(reason);
  return WorkFor(findings);
}

TEST(BenchWork, ComesInItsOrderAndARepairBringsAnInspection) {
  EXPECT_THAT(WorkOf({v1::REASON_NOT_AT_CLEAN_PLACE, v1::REASON_UNDER_REPAIR,
                      v1::REASON_NOT_CLEANED, v1::REASON_MEMORY_NOT_ERASED}),
              ElementsAre(v1::BENCH_STEP_CLEAN, v1::BENCH_STEP_ERASE, v1::BENCH_STEP_REPAIR,
                          v1::BENCH_STEP_INSPECT, v1::BENCH_STEP_PUT_AWAY));
  EXPECT_TRUE(WorkOf({v1::REASON_FIRMLY_PROMISED}).empty());
}

TEST(BenchWork, TakesTheMinutesOfThePolicyAndThirtyOtherwise) {
  v1::BenchPolicy policy;
  v1::BenchTime* time = policy.add_times();
  time->set_step(v1::BENCH_STEP_CLEAN);
  time->set_minutes(45);
  EXPECT_EQ(MinutesOf({v1::BENCH_STEP_CLEAN, v1::BENCH_STEP_INSPECT}, policy), 75);
}

}  // namespace
}  // namespace ferrule::bench
