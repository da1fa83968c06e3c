// Run hours segment by segment, and the use on a day on rent.
#include "core/bench/run_hours.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "core/unit/ready.h"
#include "tests/support/folded_depot.h"

namespace ferrule::bench {
namespace {

using ferrule::testing::FoldedDepot;

constexpr int64_t kDay = 24 * 60;

RunLog LogOf(const FoldedDepot& d) {
  RunLog log;
  Replay("units/K-1", d.FactsOf("units/K-1"), d.book(),
         [&](const Moment& moment) { log.Visit(moment); });
  return log;
}

// Computed by hand: at a width of 10000.0 h, 9987.4 to 0031.2 is 43.8 h.
TEST(RunLog, AddsTheHoursOverARollOver) {
  FoldedDepot d;
  d.Receive("K-1", 0, "knee-a", "meter_s: 35954640");
  d.Tell(14 * kDay, "meter_rolled_over { unit: 'K-1' reading_s: 112320 width_s: 36000000 }");
  const RunLog log = LogOf(d);
  ASSERT_EQ(log.segments().size(), 2u);
  EXPECT_EQ(log.segments()[0].end(), v1::SEGMENT_END_ROLLED_OVER);
  EXPECT_EQ(log.segments()[0].last_s(), 36'000'000);
  EXPECT_EQ(log.segments()[1].end(), v1::SEGMENT_END_OPEN);
  EXPECT_EQ(log.segments()[0].run_s() + log.segments()[1].run_s(), 43 * 3'600 + 8 * 360);
  EXPECT_EQ(unit::TrueRunSeconds(d.Unit("K-1").meter()), 157'680);
}

TEST(RunLog, ClosesASegmentWithTheMeterAndOpensTheNextAtItsFirstReading) {
  for (const bool read : {true, false}) {
    FoldedDepot d;
    d.Receive("K-1", 0, "knee-a", "meter_s: 36000");
    d.Tell(2 * kDay, "meter_read { unit: 'K-1' reading_s: 72000 }");
    d.Tell(3 * kDay, std::string("meter_replaced { unit: 'K-1' new_first_s: 1800 ") +
                         (read ? "old_last_s: 79200 }" : "}"));
    d.Tell(4 * kDay, "meter_read { unit: 'K-1' reading_s: 5400 }");
    const RunLog log = LogOf(d);
    ASSERT_EQ(log.segments().size(), 2u);
    EXPECT_EQ(log.segments()[0].run_s(), read ? 43'200 : 36'000);
    EXPECT_EQ(log.segments()[0].end(),
              read ? v1::SEGMENT_END_REPLACED : v1::SEGMENT_END_REPLACED_UNREAD);
    EXPECT_EQ(log.segments()[1].first_s(), 1'800);
    EXPECT_EQ(log.segments()[1].run_s(), 3'600);
    EXPECT_EQ(d.Unit("K-1").meter().incomplete(), !read) << "at least what is shown";
  }
}

TEST(RunLog, SetsReadingsAsideThatCannotBeTrue) {
  FoldedDepot d;
  d.Receive("K-1", 0, "knee-a", "meter_s: 36000");
  d.Tell(60, "meter_read { unit: 'K-1' reading_s: 360000 }");  // 90 h in an hour
  d.Tell(120, "meter_read { unit: 'K-1' reading_s: 3600 }");   // fell
  const RunLog log = LogOf(d);
  EXPECT_EQ(log.doubtful(), 2);
  EXPECT_EQ(log.segments()[0].run_s(), 0);
}

TEST(RunLog, TellsTheUseOnADayOnRent) {
  FoldedDepot d;
  d.Receive("K-1", 0, "knee-a", "meter_s: 36000 parts { part: 'P' position: 'pendant' }");
  d.MakeReady("K-1", 1);
  d.TakeOrder("O-1", 10);
  d.HandOver("K-1", "O-1", 20);
  d.PickUp("K-1", "O-1", 20 + 10 * kDay);
  EXPECT_EQ(LogOf(d).daily_use_s(), 0) << "no reading yet";
  d.ReceiveBack("K-1", 60 + 10 * kDay, "meter_s: 180000");
  EXPECT_EQ(LogOf(d).daily_use_s(), 14'400) << "40 h in ten days";
  EXPECT_EQ(LogOf(d).rental_days(), 10);
}

}  // namespace
}  // namespace ferrule::bench
