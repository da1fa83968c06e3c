// Run hours over reading, roll-over and replacement; hours are given in seconds.
#include "core/unit/meter.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/support/folded_depot.h"

namespace ferrule::unit {
namespace {

using ::testing::ElementsAre;
using testing::FoldedDepot;
using ::testing::IsEmpty;

constexpr int64_t kHourS = 3600;
constexpr int64_t kDayMin = 24 * 60;

std::string Tenths(int64_t tenths_of_hours) { return std::to_string(tenths_of_hours * 360); }

// A unit that arrives with that reading, in tenths of hours.
void Arrive(FoldedDepot* d, int64_t tenths) {
  d->Receive("K-1", 0, "knee-a", "meter_s: " + Tenths(tenths));
}

int64_t TrueRun(const FoldedDepot& d) { return TrueRunSeconds(d.Unit("K-1").meter()); }

TEST(UnitMeter, HoursAreTheDifferenceOfReadings) {
  FoldedDepot d;
  Arrive(&d, 1000);
  d.Tell(kDayMin, "meter_read { unit: 'K-1' reading_s: " + Tenths(1080) + " }");
  EXPECT_EQ(TrueRun(d), 8 * kHourS);
  EXPECT_THAT(d.Questions("units/K-1"), IsEmpty());
}

TEST(UnitMeter, RollsOverAtItsWidth) {
  // 9987.4 to 0031.2 at a width of 10000.0 is 43.8 hours (computed), here in 14 days.
  FoldedDepot d;
  Arrive(&d, 99874);
  d.Tell(14 * kDayMin,
         "meter_rolled_over { unit: 'K-1' reading_s: " + Tenths(312) + " width_s: 36000000 }");
  EXPECT_EQ(TrueRun(d), 438 * 360);
  EXPECT_THAT(d.Questions("units/K-1"), IsEmpty());
  d.Tell(15 * kDayMin, "meter_read { unit: 'K-1' reading_s: " + Tenths(322) + " }");
  EXPECT_EQ(TrueRun(d), 448 * 360);
  EXPECT_EQ(d.Unit("K-1").meter().segment_count(), 2);
}

TEST(UnitMeter, AFallWithoutARecordIsAQuestionAndNotTaken) {
  FoldedDepot d;
  Arrive(&d, 99874);
  d.Tell(14 * kDayMin, "meter_read { unit: 'K-1' reading_s: " + Tenths(312) + " }");
  const v1::SubjectState state = d.State("units/K-1");
  ASSERT_THAT(testing::Reasons(state.questions()), ElementsAre("METER_FELL"));
  EXPECT_EQ(testing::ValueOf(state.questions(0), "found"), "31.2");
  EXPECT_EQ(testing::ValueOf(state.questions(0), "limit"), "9987.4");
  EXPECT_EQ(TrueRun(d), 0);
  // The roll-over told late explains it.
  d.Tell(13 * kDayMin,
         "meter_rolled_over { unit: 'K-1' reading_s: " + Tenths(300) + " width_s: 36000000 }");
  EXPECT_THAT(d.Questions("units/K-1"), IsEmpty());
  EXPECT_EQ(TrueRun(d), 438 * 360);
}

TEST(UnitMeter, MoreThanElapsedIsAQuestionButTheResolutionIsGranted) {
  FoldedDepot d;
  Arrive(&d, 0);
  d.Tell(60, "meter_read { unit: 'K-1' reading_s: 3960 }");  // 1.1 h in 1 h
  EXPECT_THAT(d.Questions("units/K-1"), IsEmpty());
  EXPECT_EQ(TrueRun(d), 3960);
  FoldedDepot e;
  Arrive(&e, 0);
  e.Tell(60, "meter_read { unit: 'K-1' reading_s: 3961 }");
  EXPECT_THAT(e.Questions("units/K-1"), ElementsAre("METER_BEYOND_ELAPSED"));
  EXPECT_EQ(TrueRun(e), 0);
}

TEST(UnitMeter, AMistypedReadingDoesNotSpoilTheNextOne) {
  FoldedDepot d;
  Arrive(&d, 0);
  d.Tell(kDayMin, "meter_read { unit: 'K-1' reading_s: " + Tenths(5000) + " }");  // 500 h in a day
  d.Tell(2 * kDayMin, "meter_read { unit: 'K-1' reading_s: " + Tenths(90) + " }");
  EXPECT_THAT(d.Questions("units/K-1"), ElementsAre("METER_BEYOND_ELAPSED"));
  EXPECT_EQ(TrueRun(d), 9 * kHourS);
}

TEST(UnitMeter, ReplacementKeepsTheHoursOfTheOldOne) {
  FoldedDepot d;
  Arrive(&d, 1000);
  d.Tell(kDayMin, "meter_replaced { unit: 'K-1' old_last_s: " + Tenths(1050) +
                      " new_first_s: " + Tenths(20) + " }");
  d.Tell(2 * kDayMin, "meter_read { unit: 'K-1' reading_s: " + Tenths(50) + " }");
  EXPECT_EQ(TrueRun(d), 8 * kHourS);
  EXPECT_FALSE(d.Unit("K-1").meter().incomplete());
  EXPECT_THAT(d.Questions("units/K-1"), IsEmpty());
}

TEST(UnitMeter, ReplacementWithoutALastReadingIsIncomplete) {
  FoldedDepot d;
  Arrive(&d, 1000);
  d.Tell(kDayMin, "meter_replaced { unit: 'K-1' new_first_s: 0 }");
  d.Tell(2 * kDayMin, "meter_read { unit: 'K-1' reading_s: " + Tenths(30) + " }");
  EXPECT_EQ(TrueRun(d), 3 * kHourS);
  EXPECT_TRUE(d.Unit("K-1").meter().incomplete());
  EXPECT_THAT(d.Questions("units/K-1"), IsEmpty());
}

TEST(UnitMeter, ReplacementWithAnImpossibleLastReadingIsAskedAndIncomplete) {
  FoldedDepot d;
  Arrive(&d, 1000);
  d.Tell(kDayMin, "meter_replaced { unit: 'K-1' old_last_s: " + Tenths(900) + " new_first_s: 0 }");
  EXPECT_THAT(d.Questions("units/K-1"), ElementsAre("METER_FELL"));
  EXPECT_TRUE(d.Unit("K-1").meter().incomplete());
  EXPECT_EQ(d.Unit("K-1").meter().segment_count(), 2);
}

TEST(UnitMeter, ARollOverWithAnImplausibleIncrementIsAskedAndNotTaken) {
  FoldedDepot d;
  Arrive(&d, 99874);
  d.Tell(kDayMin, "meter_rolled_over { unit: 'K-1' reading_s: " + Tenths(312) +
                      " width_s: 36000000 }");  // 43.8 h in a day
  EXPECT_THAT(d.Questions("units/K-1"), ElementsAre("METER_BEYOND_ELAPSED"));
  EXPECT_EQ(d.Unit("K-1").meter().segment_count(), 1);
  FoldedDepot e;
  Arrive(&e, 99874);
  e.Tell(14 * kDayMin, "meter_rolled_over { unit: 'K-1' reading_s: 0 width_s: 3600000 }");
  EXPECT_THAT(e.Questions("units/K-1"), ElementsAre("METER_FELL")) << "a width below the reading";
}

TEST(UnitMeter, IsReadAtHandOverPickUpAndReceipt) {
  FoldedDepot d;
  d.ReadyKnee();
  d.TakeOrder("O-1", 1);
  d.HandOver("K-1", "O-1", 20, "meter_s: 0");
  d.PickUp("K-1", "O-1", 2 * kDayMin, "meter_s: " + std::to_string(7 * kHourS));
  EXPECT_EQ(TrueRun(d), 7 * kHourS);
  d.ReceiveBack("K-1", 2 * kDayMin + 60, "meter_s: " + std::to_string(6 * kHourS));
  EXPECT_THAT(d.Questions("units/K-1"), ElementsAre("METER_FELL"));
  EXPECT_EQ(TrueRun(d), 7 * kHourS);
}

}  // namespace
}  // namespace ferrule::unit
