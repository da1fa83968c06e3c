// A unit's facts told again.
#include "core/bench/replay.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/support/folded_depot.h"

namespace ferrule::bench {
namespace {

using ferrule::testing::FoldedDepot;

TEST(Replay, VisitsFactsInTrueTimeWithTheUnitBeforeAndAfter) {
  FoldedDepot d;
  d.Move("K-1", 30, "bay");  // told first, happened last
  d.Receive("K-1", 0);
  std::vector<std::string> places;
  Replay("units/K-1", d.FactsOf("units/K-1"), d.book(), [&](const Moment& moment) {
    places.push_back(moment.before.place() + ">" + moment.after.place());
    EXPECT_EQ(time::ToMicros(moment.stamp.time()), moment.view.happened_us);
  });
  EXPECT_THAT(places, ::testing::ElementsAre(">dock", "dock>bay"));
}

TEST(Replay, LeavesOutWhatIsReversed) {
  FoldedDepot d;
  d.Receive("K-1", 0);
  const std::string wrong = "e" + std::to_string(1000 + d.entries().size());
  d.Move("K-1", 10, "vendor");
  d.Tell(20, "reversal { fact { entry_id: '" + wrong +
                 "' } subjects: 'units/K-1' because: 'mistyped' }");
  int visited = 0;
  Replay("units/K-1", d.FactsOf("units/K-1"), d.book(), [&](const Moment& moment) {
    ++visited;
    EXPECT_NE(moment.after.place(), "vendor");
  });
  EXPECT_EQ(visited, 1);
}

TEST(Replay, EndsInTheStateOfTheFold) {
  FoldedDepot d;
  d.ReadyKnee();
  v1::UnitState last;
  Replay("units/K-1", d.FactsOf("units/K-1"), d.book(),
         [&](const Moment& moment) { last = moment.after; });
  EXPECT_EQ(last.SerializeAsString(), d.Unit("K-1").SerializeAsString());
}

}  // namespace
}  // namespace ferrule::bench
