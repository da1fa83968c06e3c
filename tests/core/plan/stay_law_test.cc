#include "core/plan/stay_law.h"

#include <gtest/gtest.h>

namespace ferrule::plan {
namespace {

std::vector<Booking> Rentals(int64_t now) {
  std::vector<Booking> all;
  for (int d = 0; d < 400; ++d) {
    Booking b;
    b.booked = b.surgery = d;
    b.start = d + 1;
    b.prescribed_days = d % 2 == 0 ? 14 : 21;
    b.returned = b.start + b.prescribed_days + (d % 5 == 0 ? 4 : 0);  // a fifth is 4 days late
    b.ready = b.returned + 2;
    all.push_back(b);
  }
  return KnownAt(all, now);
}

TEST(LengthInUse, ReturnsClusterAtTheDueDate) {
  const StayLaw law(Rentals(380), 380);
  EXPECT_GT(law.Out(0, 21, 20), .97);
  EXPECT_NEAR(law.Out(0, 21, 21), .2, .05);
  EXPECT_LT(law.Out(0, 21, 26), .05);
  EXPECT_NEAR(law.Out(0, 14, 14), .2, .05);
  EXPECT_GT(law.Turning(1), .9);
  EXPECT_LT(law.Turning(3), .1);
  EXPECT_NEAR(law.Busy(0, 21, 24), .25, .08);
  EXPECT_GT(law.BusyAny(0, 10), .97);
}

TEST(LengthInUse, AnOverdueUnitIsNeverSureToBeBack) {
  const StayLaw law(Rentals(380), 380);
  for (int64_t age : {15, 40, 200, 499, 5000}) {
    EXPECT_EQ(law.StillBusy(0, 14, age, 0), 1);
    double last = 1;
    for (int64_t ahead = 1; ahead < 60; ++ahead) {
      const double p = law.StillBusy(0, 14, age, ahead);
      EXPECT_GT(p, 0) << age << " " << ahead;
      EXPECT_LE(p, last + 1e-12);
      last = p;
    }
    EXPECT_GT(law.StillTurning(age, 1), 0);
  }
}

TEST(LengthInUse, WithoutHistoryAUnitComesBackSomeDay) {
  const StayLaw law({}, 10);
  EXPECT_GT(law.Busy(0, 0, 5), .5);
  EXPECT_LT(law.Busy(0, 0, 200), .05);
  EXPECT_LT(law.Busy(0, 21, 200), .05);
  EXPECT_GT(law.BusyAny(0, 1), 0);
}

// Two classes at one branch, one prescribed for two weeks and one for six: an order of either stays
// as long as its own class does, and one of a class never seen as the branch's mix.
TEST(LengthInUse, EachClassHasItsOwnMix) {
  std::vector<Booking> all;
  for (int d = 0; d < 400; ++d) {
    Booking b;
    b.device_class = d % 4 == 0 ? 1 : 0;
    b.booked = b.surgery = d;
    b.start = d + 1;
    b.prescribed_days = b.device_class == 1 ? 42 : 14;
    b.returned = b.start + b.prescribed_days;
    b.ready = b.returned + 2;
    all.push_back(b);
  }
  const StayLaw law(KnownAt(all, 400), 400);
  const auto mean = [&](int device_class) {
    double days = 0;
    for (int64_t k = 0; k < 200; ++k) days += law.BusyAny(device_class, k);
    return days;
  };
  EXPECT_NEAR(mean(0), 16, 1.2);
  EXPECT_NEAR(mean(1), 44, 4);
  EXPECT_NEAR(mean(2), .75 * 16 + .25 * 44, 1.5);
}

// One prescription that one class overstays by a week and the other does not.
TEST(LengthInUse, TheSamePrescriptionMayLastLongerInOneClass) {
  std::vector<Booking> all;
  for (int d = 0; d < 800; ++d) {
    Booking b;
    b.device_class = d % 2;
    b.booked = b.surgery = d / 2;
    b.start = b.booked + 1;
    b.prescribed_days = 21;
    b.returned = b.start + 21 + 7 * b.device_class;
    b.ready = b.returned + 2;
    all.push_back(b);
  }
  const StayLaw law(KnownAt(all, 400), 400);
  EXPECT_LT(law.Out(0, 21, 22), .1);
  EXPECT_GT(law.Out(1, 21, 26), .9);
  EXPECT_LT(law.StillBusy(0, 21, 20, 5), .25);
  EXPECT_GT(law.StillBusy(1, 21, 20, 5), .9);
}

}  // namespace
}  // namespace ferrule::plan
