// Tests core/promise/turn_law.cc.
#include "core/promise/turn_law.h"

#include <gtest/gtest.h>

namespace ferrule::promise {
namespace {

constexpr int64_t kMonday = 4 + 7 * 150;

// Ready `days` working days after it left the patient, which happens on Monday to Friday.
std::vector<TurnSeen> Turns(int64_t days, int64_t on_the_way = 0) {
  const OpenDays week;
  std::vector<TurnSeen> turns;
  for (int64_t left = kMonday - 500; left < kMonday - 20; ++left) {
    if (!week.IsOpen(left)) continue;
    int64_t received = left;
    for (int64_t d = 0; d < on_the_way; ++d) received = week.NextAfter(received);
    int64_t ready = received;
    for (int64_t d = 0; d < days; ++d) ready = week.NextAfter(ready);
    turns.push_back({left, received, ready, std::nullopt});
  }
  return turns;
}

TEST(TurnLaw, WithoutRecordsTellsTheSettingsFigure) {
  const TurnLaw law({}, kMonday, 2, {});
  EXPECT_EQ(law.turns(), 0);
  EXPECT_EQ(law.FromPatient(kMonday, kMonday - 1), 0);
  EXPECT_NEAR(law.FromHouse(kMonday, kMonday, kMonday + 1), 1.0 / 3, 1e-12) << "a mean of two days";
  EXPECT_NEAR(law.FromPatient(kMonday, kMonday), 1.0 / 3, 1e-12);
}

TEST(TurnLaw, CountsDaysOnWhichTheBenchWorks) {
  const TurnLaw law(Turns(2), kMonday, 2, {});
  EXPECT_LT(law.FromPatient(kMonday, kMonday + 1), 0.05);
  EXPECT_GT(law.FromPatient(kMonday, kMonday + 2), 0.95);
  const int64_t friday = kMonday + 4;
  EXPECT_LT(law.FromPatient(friday, friday + 3), 0.05) << "the weekend is no time";
  EXPECT_GT(law.FromPatient(friday, friday + 4), 0.95);
  EXPECT_LT(law.FromHouse(friday, friday, friday + 3), 0.05);
  EXPECT_GT(law.FromHouse(friday, friday + 3, friday + 4), 0.95) << "one of two days is over";
}

TEST(TurnLaw, TheWayToTheHouseIsPartOfIt) {
  const TurnLaw law(Turns(1, 1), kMonday, 2, {});
  EXPECT_LT(law.FromPatient(kMonday, kMonday + 1), 0.05);
  EXPECT_GT(law.FromPatient(kMonday, kMonday + 2), 0.95);
  EXPECT_GT(law.FromHouse(kMonday, kMonday, kMonday + 1), 0.95);
  EXPECT_LT(law.FromVan(kMonday, kMonday + 1), 0.05) << "received tomorrow";
  EXPECT_GT(law.FromVan(kMonday, kMonday + 2), 0.95);
  EXPECT_LT(law.FromVan(kMonday + 5, kMonday + 7), 0.05) << "received on the Monday";
}

TEST(TurnLaw, UnitsThatNeverComeOutLowerTheOdds) {
  std::vector<TurnSeen> turns = Turns(1);
  const size_t half = turns.size();
  for (size_t i = 0; i < half; ++i) {
    turns.push_back({turns[i].left, turns[i].left, std::nullopt, std::nullopt});
  }
  const TurnLaw law(turns, kMonday, 2, {});
  EXPECT_NEAR(law.FromPatient(kMonday, kMonday + 1), 0.5, 0.05);
}

// A unit that was lost tells nothing about the days after its loss.
TEST(TurnLaw, LostUnitsAreCountedUntilTheyWereLost) {
  std::vector<TurnSeen> turns = Turns(1);
  const size_t half = turns.size();
  for (size_t i = 0; i < half; ++i) {
    turns.push_back({turns[i].left, turns[i].left, std::nullopt, turns[i].left});
  }
  const TurnLaw law(turns, kMonday, 2, {});
  EXPECT_GT(law.FromPatient(kMonday, kMonday + 1), 0.9);
}

}  // namespace
}  // namespace ferrule::promise
