#include "core/plan/booking.h"

#include <gtest/gtest.h>

#include <numeric>

namespace ferrule::plan {
namespace {

// Synthetic: a booking every day, 20 days ahead; every fourth is cancelled 10 days before.
std::vector<Booking> Bookings(int days) {
  std::vector<Booking> all;
  for (int d = 0; d < days; ++d) {
    Booking b;
    b.booked = d;
    b.surgery = d + 20;
    if (d % 4 == 0) {
      b.changed = d + 10;
    } else {
      b.start = b.surgery + 1;
      b.returned = b.start + 21;
      b.ready = b.returned + 2;
      b.prescribed_days = 21;
    }
    all.push_back(b);
  }
  return all;
}

TEST(BookingKnowledge, NothingLaterThanTheDayIsKnown) {
  for (const Booking& b : KnownAt(Bookings(200), 100)) {
    EXPECT_LE(b.booked, 100);
    for (int64_t day : {b.changed, b.start, b.returned, b.ready})
      EXPECT_TRUE(day <= 100 || day == kNotYet);
  }
}

TEST(BookingHabitsLearned, DatesHoldAsOftenAsTheyDid) {
  const int64_t now = 600;
  const BookingHabits habits(KnownAt(Bookings(700), now), now);
  EXPECT_EQ(habits.Holds(0), 1);
  EXPECT_GT(habits.Holds(5), .95);  // cancellations come ten days before
  EXPECT_NEAR(habits.Holds(15), .75, .06);
  EXPECT_GT(habits.StartLag()[1], .95);
  EXPECT_NEAR(std::accumulate(habits.StartLag().begin(), habits.StartLag().end(), 0.0), 1, 1e-9);
  EXPECT_GT(habits.BookedBy(0, 20), .85);
  EXPECT_LT(habits.BookedBy(0, 22), .15);
  EXPECT_EQ(habits.BookedBy(7, 20), habits.BookedBy(-1, 20));  // a new class: the branch's habit
}

TEST(BookingHabitsLearned, WithoutHistoryTheUsualOddsHold) {
  const BookingHabits habits({}, 100);
  EXPECT_GT(habits.Holds(60), .7);
  EXPECT_LT(habits.Holds(60), 1);
  double last = 1.01;
  for (int64_t lead = 0; lead < 400; ++lead) {
    EXPECT_LE(habits.BookedBy(0, lead), last);
    last = habits.BookedBy(0, lead);
  }
}

// What is booked and given up within one day is no chance against a date that stood at its end.
TEST(BookingHabitsLearned, DatesGivenUpOnTheirDayAreNoneThatStood) {
  std::vector<Booking> bookings = Bookings(700);
  const double held = BookingHabits(KnownAt(bookings, 600), 600).Holds(15);
  for (int d = 0; d < 700; ++d) {
    Booking b;
    b.booked = b.changed = d;
    b.surgery = d + 15;
    bookings.push_back(b);
  }
  EXPECT_NEAR(BookingHabits(KnownAt(bookings, 600), 600).Holds(15), held, 1e-12);
}

}  // namespace
}  // namespace ferrule::plan
