// Tests core/order/records.cc, core/order/in_home.cc.
#include "core/order/records.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "core/time/civil.h"
#include "tests/support/folded_depot.h"

namespace ferrule::order {
namespace {

using ::testing::ElementsAre;
using testing::FoldedDepot;
using ::testing::IsEmpty;

TEST(Records, AreHeldAndReleasedByMatter) {
  FoldedDepot d;
  d.TakeOrder("R-1", 0);
  d.Tell(1, "records_held { order: 'R-1' matter: 'claim-4' because: 'open' }");
  d.Tell(2, "records_held { order: 'R-1' matter: 'claim-4' because: 'told again' }");
  d.Tell(3, "records_held { order: 'R-1' matter: 'court-1' because: 'asked' }");
  d.Tell(4, "records_released { order: 'R-1' matter: 'claim-4' because: 'settled' }");
  d.Tell(5, "records_disclosed { order: 'R-1' recipient: 'payer' content: 'order' purpose: 'x' }");
  const v1::OrderState order = d.Order("R-1");
  ASSERT_EQ(order.records_holds_size(), 2);
  EXPECT_EQ(order.records_holds(0).because(), "open");
  EXPECT_TRUE(order.records_holds(0).has_released());
  EXPECT_FALSE(order.records_holds(1).has_released());
  EXPECT_EQ(order.disclosures(0).recipient(), "payer");
  EXPECT_THAT(d.Questions("orders/R-1"), IsEmpty());
  d.Tell(6, "records_released { order: 'R-1' matter: 'claim-4' because: 'settled' }");
  EXPECT_THAT(d.Questions("orders/R-1"), ElementsAre("RECORDS_NOT_HELD"));
}

// The list is the whole of it; the same again, in whatever order, keeps the first stamp.
TEST(Precautions, AreReplacedWholeAndKeepTheirFirstStamp) {
  FoldedDepot d;
  d.TakeOrder("R-1", 0);
  d.Tell(1, "precautions_noted { order: 'R-1' because: 'nothing was ever asked' }");
  EXPECT_FALSE(d.Order("R-1").has_precautions_noted());
  d.Tell(2,
         "precautions_noted { order: 'R-1' precautions: [PRECAUTION_GLOVES, "
         "PRECAUTION_RING_FIRST] because: 'seen' }");
  const v1::Stamp first = d.Order("R-1").precautions_noted();
  d.Tell(3,
         "precautions_noted { order: 'R-1' precautions: [PRECAUTION_RING_FIRST, "
         "PRECAUTION_GLOVES] because: 'seen again' }");
  EXPECT_THAT(d.Order("R-1").precautions(),
              ElementsAre(v1::PRECAUTION_RING_FIRST, v1::PRECAUTION_GLOVES));
  EXPECT_EQ(d.Order("R-1").precautions_noted().fact().entry_id(), first.fact().entry_id());
  d.Tell(4, "precautions_noted { order: 'R-1' precautions: PRECAUTION_NO_OUTLET because: 'x' }");
  EXPECT_THAT(d.Order("R-1").precautions(), ElementsAre(v1::PRECAUTION_NO_OUTLET));
  EXPECT_NE(d.Order("R-1").precautions_noted().fact().entry_id(), first.fact().entry_id());
  d.Tell(5, "precautions_noted { order: 'R-1' because: 'mended' }");
  EXPECT_THAT(d.Order("R-1").precautions(), IsEmpty());
  EXPECT_TRUE(d.Order("R-1").has_precautions_noted());
  EXPECT_THAT(d.Questions("orders/R-1"), IsEmpty());
}

TEST(Breakdown, LastsFromTheFirstCallUntilItWorks) {
  FoldedDepot d;
  d.TakeOrder("R-1", 0);
  d.Tell(10, "breakdown_reported { order: 'R-1' unit: 'K-1' words: 'stops' }");
  d.Tell(20, "breakdown_reported { order: 'R-1' words: 'still' }");
  d.Tell(30, "breakdown_settled { order: 'R-1' cure: BREAKDOWN_CURE_BY_TELEPHONE }");
  v1::OrderState order = d.Order("R-1");
  ASSERT_EQ(order.breakdowns_size(), 1);
  EXPECT_EQ(order.breakdowns(0).words(), "stops");
  EXPECT_EQ(time::ToMicros(order.breakdowns(0).settled().time()) -
                time::ToMicros(order.breakdowns(0).reported().time()),
            20 * 60 * int64_t{1'000'000});
  EXPECT_THAT(d.Questions("orders/R-1"), IsEmpty());
  d.Tell(40, "breakdown_settled { order: 'R-1' cure: BREAKDOWN_CURE_BY_ITSELF }");
  EXPECT_THAT(d.Questions("orders/R-1"), ElementsAre("NO_BREAKDOWN_OPEN"));
}

TEST(Breakdown, IsSettledByAnExchange) {
  FoldedDepot d;
  d.ReadyKnee();
  d.TakeOrder("R-1", 0);
  d.HandOver("K-1", "R-1", 60);
  d.Tell(100, "breakdown_reported { order: 'R-1' unit: 'K-1' words: 'stops' }");
  d.Tell(160,
         "exchanged { order: 'R-1' unit_out: 'K-1' to_place: 'van' unit_in: 'K-2' unit_in_model: "
         "'knee-a' unit_in_side: SIDE_LEFT }");
  const v1::OrderState order = d.Order("R-1");
  ASSERT_EQ(order.breakdowns_size(), 1);
  EXPECT_TRUE(order.breakdowns(0).has_settled());
  EXPECT_EQ(order.breakdowns(0).cure(), v1::BREAKDOWN_CURE_UNSPECIFIED);
}

}  // namespace
}  // namespace ferrule::order
