#include "core/plan/second_side.h"

#include <cmath>
#include <numeric>

#include "core/plan/random.h"
#include "gtest/gtest.h"

namespace ferrule::plan {
namespace {

TEST(SecondSides, WithoutHistoryAreTheUsualOnes) {
  const SecondSideLaw law({}, 20'000);
  EXPECT_NEAR(law.Within(104), .25, 1e-9);
  EXPECT_NEAR(law.Within(52), .125, 1e-9);
  EXPECT_EQ(law.Within(4), 0);
  EXPECT_EQ(law.Within(0), 0);
  EXPECT_NEAR(law.Within(1000), .25, 1e-9);
}

// 40 % come back, evenly over weeks 10 to 29; first sides of five years, the late ones censored.
TEST(SecondSides, AreLearnedThroughCensoring) {
  Random random(5);
  std::vector<FirstSide> sides;
  const int64_t now = 20'000;
  for (int i = 0; i < 6000; ++i) {
    FirstSide side;
    side.done = now - static_cast<int64_t>(random.Uniform() * 1825);
    if (random.Uniform() < .4) {
      side.second = side.done + 70 + static_cast<int64_t>(random.Uniform() * 140);
    }
    sides.push_back(side);
  }
  const SecondSideLaw law(sides, now);
  EXPECT_NEAR(law.Within(104), .4, .03);
  EXPECT_NEAR(law.Within(20), .2, .03);
  EXPECT_LT(law.Within(9), .02);
  // What is expected comes: the seconds dated after now are the truth of these sides.
  const std::vector<double> expected = law.Expected(sides, now, 56);
  double came = 0;
  for (const FirstSide& side : sides)
    if (side.second > now && side.second <= now + 56) came += 1;
  const double sum = std::accumulate(expected.begin(), expected.end(), 0.0);
  EXPECT_NEAR(sum, came, 4 * std::sqrt(came));
}

// First sides of every day lead to as many second sides as those of the same days already done:
// what is expected of coming ones is Expected of them, each seen from its own day.
TEST(SecondSides, OfComingFirstSidesAreThoseOfDoneOnes) {
  const int64_t now = 20'000;
  const SecondSideLaw law({}, now);
  std::vector<double> first(200, 0);
  first[0] = 2;
  first[30] = 1;
  const std::vector<double> coming = law.OfComing(first);
  // Done on day now + 1 and now + 31: told from these days on.
  const std::vector<double> a = law.Expected({{now + 1, INT64_MAX, false}}, now + 1, 199);
  const std::vector<double> b = law.Expected({{now + 31, INT64_MAX, false}}, now + 31, 169);
  double sum = 0;
  for (size_t d = 1; d < 200; ++d) {
    EXPECT_NEAR(coming[d], 2 * a[d - 1] + (d > 30 ? b[d - 31] : 0), 1e-12) << d;
    sum += coming[d];
  }
  EXPECT_EQ(coming[0], 0);
  EXPECT_NEAR(sum, 2 * law.Within(28) + law.Within(24), .01);
}

TEST(SecondSides, DoneOnesAreNotExpectedAgain) {
  const int64_t now = 20'000;
  const SecondSideLaw law({}, now);
  const std::vector<FirstSide> none = {
      {now - 100, now - 5, false}, {now + 3, INT64_MAX, false}, {now - 900, INT64_MAX, false}};
  for (double e : law.Expected(none, now, 30)) EXPECT_EQ(e, 0);
  const std::vector<double> one = law.Expected({{now - 100, INT64_MAX, false}}, now, 30);
  EXPECT_GT(one[0], 0);
  EXPECT_TRUE(law.Expected({{now - 100, INT64_MAX, false}}, now, 0).empty());
}

TEST(SecondSides, AreToldByPatientAndSide) {
  const auto booking = [](uint64_t patient, int side, int64_t surgery) {
    Booking b;
    b.patient = patient;
    b.side = side;
    b.surgery = surgery;
    b.booked = surgery - 10;
    return b;
  };
  std::vector<Booking> known = {booking(1, 1, 19'000), booking(1, 2, 19'100),  // staged
                                booking(2, 1, 19'000), booking(2, 2, 19'001),  // both at once
                                booking(3, 1, 19'000), booking(3, 1, 19'200),  // the same side
                                booking(4, 1, 19'900), booking(0, 2, 19'950),  // patient not known
                                booking(5, 2, 19'900), booking(5, 1, 20'010)};
  const SidesOf sides = TellSides(known, 20'000, 1);
  EXPECT_EQ(sides.is_second, (std::vector<char>{0, 1, 0, 0, 0, 0, 0, 0, 0, 1}));
  ASSERT_EQ(sides.first[0].size(), 5u);
  EXPECT_EQ(sides.first[0][0].second, 19'100);
  EXPECT_FALSE(sides.first[0][1].second_booked);
  EXPECT_TRUE(sides.first[0][4].second_booked);
}

}  // namespace
}  // namespace ferrule::plan
