#include "core/order/papers.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <string>

#include "core/time/civil.h"
#include "tests/core/cover/spec.h"

namespace ferrule::order {
namespace {

using ::testing::ElementsAre;
using ::testing::IsEmpty;

// A rental from 2026-05-01 for 10 days with those papers.
std::vector<Prescribed> Papers(const std::string& papers) {
  return PrescribedDays(
      testing::RentalOf(
          "zone=Europe/Berlin leg=K-1/2026-05-01T12:00/ lon=10 reading=surgery:1:21 " + papers)
          .order);
}

std::vector<std::string> Text(const std::vector<Days>& all) {
  std::vector<std::string> out;
  for (const Days& days : all) {
    out.push_back(time::FormatDay(days.from).substr(5) + ".." +
                  time::FormatDay(days.end - 1).substr(5));
  }
  return out;
}

TEST(Papers, ExtensionWithoutAFirstDayFollowsOn) {
  const auto spans = Papers("extension=:2026-05-20");
  ASSERT_EQ(spans.size(), 2u);
  EXPECT_EQ(spans[1].days.from, absl::CivilDay(2026, 5, 11));
  EXPECT_THAT(Text(Union(spans)), ElementsAre("05-01..05-20"));
  EXPECT_THAT(Holes(spans), IsEmpty());
  EXPECT_THAT(Overlaps(spans), IsEmpty());
  EXPECT_EQ(Papers("extension=:2026-05-05").size(), 1u);  // says nothing new
}

TEST(Papers, HolesAndOverlapsAreSeen) {
  const auto spans = Papers(
      "extension=2026-05-08:2026-05-12 extension=2026-05-15:2026-05-16 "
      "extension=2026-05-20:2026-05-21");
  EXPECT_THAT(Text(Union(spans)), ElementsAre("05-01..05-12", "05-15..05-16", "05-20..05-21"));
  EXPECT_THAT(Text(Holes(spans)), ElementsAre("05-13..05-14", "05-17..05-19"));
  EXPECT_THAT(Text(Overlaps(spans)), ElementsAre("05-08..05-10"));
}

TEST(Papers, StopTakesAwayWhatThePapersBeforeItSayLater) {
  const auto stopped = Papers("extension=:2026-05-20 stop=2026-05-07");
  EXPECT_THAT(Text(Union(stopped)), ElementsAre("05-01..05-07"));
  ASSERT_EQ(stopped.size(), 1u);
  EXPECT_TRUE(stopped[0].cut_by_stop);
  const auto resumed = Papers("stop=2026-05-07 extension=:2026-05-12");
  EXPECT_THAT(Text(Union(resumed)), ElementsAre("05-01..05-12"));
  const auto later = Papers("stop=2026-05-07 extension=2026-05-10:2026-05-12");
  EXPECT_THAT(Text(Holes(later)), ElementsAre("05-08..05-09"));
}

TEST(Papers, StopStandsUntilAnExtensionGoesBeyondIt) {
  const auto stopped = [](const std::string& papers) {
    return StoppedThrough(testing::RentalOf("zone=Europe/Berlin leg=K-1/2026-05-01T12:00/ " +
                                            papers + " reading=surgery:1:21")
                              .order);
  };
  EXPECT_EQ(stopped("stop=2026-05-07"), absl::CivilDay(2026, 5, 7));
  EXPECT_FALSE(stopped("stop=2026-05-07 extension=:2026-05-12").has_value());
  EXPECT_FALSE(stopped("").has_value());
}

TEST(Papers, OfAnOrderThatIsNotOutAreItsExtensionsAlone) {
  const v1::OrderState order = testing::RentalOf(
                                   "zone=Europe/Berlin lon=10 extension=2026-05-08:2026-05-12 "
                                   "reading=surgery:1:21")
                                   .order;
  EXPECT_THAT(Text(Union(PrescribedDays(order))), ElementsAre("05-08..05-12"));
}

}  // namespace
}  // namespace ferrule::order
