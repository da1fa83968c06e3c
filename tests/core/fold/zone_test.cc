#include "core/fold/zone.h"

#include <gtest/gtest.h>

#include "tests/support/folded_depot.h"

namespace ferrule::fold {
namespace {

using testing::FoldedDepot;

TEST(ZoneOfSubject, IsTheBranchsWhereItStandsOrIsServed) {
  FoldedDepot d;
  const depot::Rules& rules = d.book().At(FoldedDepot::Us(0));
  d.Receive("K-1", 0);
  v1::SubjectState unit = d.State("units/K-1");
  EXPECT_EQ(ZoneOf(&unit, rules).name(), "Europe/Berlin");
  d.Move("K-1", 10, "west-shelf");
  unit = d.State("units/K-1");
  EXPECT_EQ(ZoneOf(&unit, rules).name(), "America/Los_Angeles");
  d.Tell(10, "order_taken { order: 'R-1' details { branch: 'west' } }");
  const v1::SubjectState order = d.State("orders/R-1");
  EXPECT_EQ(ZoneOf(&order, rules).name(), "America/Los_Angeles");
}

TEST(ZoneOfSubject, IsTheFirstBranchsOtherwiseAndUtcWithoutSettings) {
  FoldedDepot d;
  const depot::Rules& rules = d.book().At(FoldedDepot::Us(0));
  EXPECT_EQ(ZoneOf(nullptr, rules).name(), "Europe/Berlin");
  d.Tell(10, "order_taken { order: 'R-1' }");
  const v1::SubjectState order = d.State("orders/R-1");
  EXPECT_EQ(ZoneOf(&order, rules).name(), "Europe/Berlin");
  const v1::SubjectState part = d.State("parts/P-1");
  EXPECT_EQ(ZoneOf(&part, rules).name(), "Europe/Berlin");
  EXPECT_EQ(ZoneOf(nullptr, depot::SettingsBook().At(0)).name(), "UTC");
}

}  // namespace
}  // namespace ferrule::fold
