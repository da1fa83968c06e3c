#include "core/promise/return_law.h"

#include <gtest/gtest.h>

#include <random>

namespace ferrule::promise {
namespace {

constexpr int64_t kToday = 1000;

RentalSeen Rental(int64_t start, int64_t due, std::optional<int64_t> returned) {
  return {start, {{start, due, false}}, returned};
}

// Rentals of 21 days that all come back so many days after the due day.
std::vector<RentalSeen> AllLateBy(int64_t late, int count = 400) {
  std::vector<RentalSeen> rentals;
  for (int i = 0; i < count; ++i) {
    const int64_t start = kToday - 500 + i;
    rentals.push_back(Rental(start, start + 20, start + 20 + late));
  }
  return rentals;
}

TEST(ReturnLaw, WithoutRecordsTellsWhatIsUsual) {
  const ReturnLaw law({}, {}, kToday, 2);
  EXPECT_EQ(law.rentals(), 0);
  EXPECT_LT(law.BackWithin(kToday, -10, false, 5), 0.1) << "few before the due day";
  EXPECT_GT(law.BackWithin(kToday, -1, false, 5), 0.8);
  EXPECT_GT(law.BackWithin(kToday, 30, false, 7), 0.3) << "an overdue one is never given up";
  EXPECT_LT(law.BackWithin(kToday, 30, false, 7), 0.9);
  EXPECT_GT(law.BackWithin(kToday, -1, true, 2), law.BackWithin(kToday, -1, false, 2))
      << "an agreed day";
}

TEST(ReturnLaw, LearnsHowLateTheyComeBack) {
  const ReturnLaw law(AllLateBy(2), {}, kToday, 0);
  EXPECT_LT(law.BackWithin(kToday, -3, false, 4), 0.05);
  EXPECT_GT(law.BackWithin(kToday, -3, false, 5), 0.95);
  EXPECT_GT(law.BackWithin(kToday, 1, false, 1), 0.95) << "one day over: tomorrow is the day";
}

TEST(ReturnLaw, LooksAtRentalsThatStoodTheSameWay) {
  // Half come back on the due day; the other half is extended on the day before it, for a week.
  std::vector<RentalSeen> rentals;
  for (int i = 0; i < 800; ++i) {
    const int64_t start = kToday - 500 + i / 2;
    if (i % 2 == 0) {
      rentals.push_back(Rental(start, start + 20, start + 20));
    } else {
      rentals.push_back(
          {start, {{start, start + 20, false}, {start + 19, start + 27, false}}, start + 27});
    }
  }
  const ReturnLaw law(rentals, {}, kToday, 0);
  // Five days before the day known: 800 first due days, of which half hold, and 400 extended ones.
  EXPECT_NEAR(law.BackWithin(kToday, -5, false, 5), 800.0 / 1200.0, 0.03)
      << "nobody knows yet which";
  EXPECT_GT(law.BackWithin(kToday, -1, false, 1), 0.95) << "the day before, not extended: it comes";
  EXPECT_LT(law.BackWithin(kToday, -8, false, 7), 0.6) << "extended: not before the new day";
}

TEST(ReturnLaw, TellsAgreedDaysApart) {
  std::vector<RentalSeen> rentals = AllLateBy(5);
  for (RentalSeen& r : rentals) {
    r.dues.push_back({r.start + 15, r.start + 25, true});
  }
  const ReturnLaw law(rentals, {}, kToday, 0);
  EXPECT_GT(law.BackWithin(kToday, -4, true, 4), 0.95);
  EXPECT_LT(law.BackWithin(kToday, -4, true, 3), 0.1);
}

TEST(ReturnLaw, CountsRentalsStillOutAsNotYetBack) {
  std::vector<RentalSeen> rentals = AllLateBy(1, 100);
  for (int i = 0; i < 100; ++i) {
    rentals.push_back(Rental(kToday - 140 + i, kToday - 120 + i, std::nullopt));
  }
  const ReturnLaw law(rentals, {}, kToday, 0);
  EXPECT_NEAR(law.BackWithin(kToday, 0, false, 1), 0.5, 0.06);
}

TEST(ReturnLaw, AddsTheTurnaround) {
  // Ready three days later, on every day of the week.
  std::vector<TurnSeen> turns;
  for (int i = 0; i < 300; ++i) {
    const int64_t left = kToday - 400 + i;
    turns.push_back({left, left, left + 3, std::nullopt});
  }
  const ReturnLaw law(AllLateBy(0), turns, kToday, 1);
  const std::vector<double> ready = law.ReadyAfterRental(kToday, -1, false, 10);
  EXPECT_EQ(ready[0], 0);
  EXPECT_LT(ready[3], 0.1) << "back tomorrow, ready three days later";
  EXPECT_GT(ready[4], 0.9);
  for (size_t h = 1; h < ready.size(); ++h) EXPECT_GE(ready[h], ready[h - 1]);
}

// Due days fall on every weekday, and nothing is fetched on a Sunday: what would have been is
// fetched on the Monday.
TEST(ReturnLaw, KnowsTheDaysOnWhichNothingIsFetched) {
  std::mt19937_64 random(5);
  std::vector<RentalSeen> rentals;
  for (int i = 0; i < 4000; ++i) {
    const int64_t start = kToday - 600 + static_cast<int64_t>(random() % 500);
    int64_t back = start + 21 + static_cast<int64_t>(random() % 3);
    if (WeekdayOf(back) == 6) ++back;
    rentals.push_back(Rental(start, start + 20, back));
  }
  const ReturnLaw law(rentals, {}, kToday, 0);
  EXPECT_LT(law.WeekdayFactor(6), 0.1);
  EXPECT_GT(law.WeekdayFactor(0), 1.1);
  const int64_t saturday = kToday - WeekdayOf(kToday) + 5;
  EXPECT_LT(law.BackWithin(saturday, 0, false, 1), 0.05);
  EXPECT_GT(law.BackWithin(saturday - 2, 0, false, 1), 0.25);
}

TEST(ReturnLaw, OddsOfDrawnRentalsAreRight) {
  // Late by 0 to 6 days with even chances; asked about on every day before the due day.
  std::mt19937_64 random(3);
  std::vector<RentalSeen> rentals;
  for (int i = 0; i < 3000; ++i) {
    const int64_t start = kToday - 600 + static_cast<int64_t>(random() % 500);
    const int64_t back = start + 20 + static_cast<int64_t>(random() % 7);
    rentals.push_back(Rental(start, start + 20, back));
  }
  const ReturnLaw law(rentals, {}, kToday, 0);
  for (int64_t late : {-15, -6, -3, -1}) {
    for (int64_t after = 0; after <= 6; ++after) {
      EXPECT_NEAR(law.BackWithin(kToday, late, false, after - late),
                  static_cast<double>(after + 1) / 7, 0.03)
          << late << " " << after;
    }
  }
  EXPECT_NEAR(law.BackWithin(kToday, 2, false, 1), 0.25, 0.03)
      << "of those still out after two days";
}

}  // namespace
}  // namespace ferrule::promise
