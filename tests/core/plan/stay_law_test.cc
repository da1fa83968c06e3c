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
  EXPECT_GT(law.Out(21, 20), .97);
  EXPECT_NEAR(law.Out(21, 21), .2, .05);
  EXPECT_LT(law.Out(21, 26), .05);
  EXPECT_NEAR(law.Out(14, 14), .2, .05);
  EXPECT_GT(law.Turning(1), .9);
  EXPECT_LT(law.Turning(3), .1);
  EXPECT_NEAR(law.Busy(21, 24), .25, .08);
  EXPECT_GT(law.BusyAny(10), .97);
}

TEST(LengthInUse, AnOverdueUnitIsNeverSureToBeBack) {
  const StayLaw law(Rentals(380), 380);
  for (int64_t age : {15, 40, 200, 499, 5000}) {
    EXPECT_EQ(law.StillBusy(14, age, 0), 1);
    double last = 1;
    for (int64_t ahead = 1; ahead < 60; ++ahead) {
      const double p = law.StillBusy(14, age, ahead);
      EXPECT_GT(p, 0) << age << " " << ahead;
      EXPECT_LE(p, last + 1e-12);
      last = p;
    }
    EXPECT_GT(law.StillTurning(age, 1), 0);
  }
}

TEST(LengthInUse, WithoutHistoryAUnitComesBackSomeDay) {
  const StayLaw law({}, 10);
  EXPECT_GT(law.Busy(0, 5), .5);
  EXPECT_LT(law.Busy(0, 200), .05);
  EXPECT_LT(law.Busy(21, 200), .05);
  EXPECT_GT(law.BusyAny(1), 0);
}

}  // namespace
}  // namespace ferrule::plan
