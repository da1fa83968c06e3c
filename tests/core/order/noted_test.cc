#include "core/order/noted.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <string>

#include "core/time/civil.h"
#include "google/protobuf/text_format.h"
#include "tests/support/folded_depot.h"

namespace ferrule::order {
namespace {

using ::testing::ElementsAre;
using testing::FoldedDepot;
using ::testing::IsEmpty;

std::vector<std::string> Payers(const std::vector<std::string>& details) {
  v1::OrderState order;
  for (const std::string& text : details) {
    v1::OrderDetails one;
    EXPECT_TRUE(google::protobuf::TextFormat::ParseFromString(text, &one));
    NotePayer(one, &order);
  }
  std::vector<std::string> out;
  for (const v1::PayerPeriod& period : order.payers()) out.push_back(period.payer());
  return out;
}

TEST(NotePayer, PutsEachPayerAtItsFirstDay) {
  const char* kFrom20 = "payer: 'b' payer_from_date { year: 2026 month: 5 day: 20 }";
  EXPECT_THAT(Payers({"payer: 'a'", kFrom20}), ElementsAre("a", "b"));
  EXPECT_THAT(Payers({kFrom20, "payer: 'a'"}), ElementsAre("a", "b"));
  EXPECT_THAT(Payers({"payer: 'a'", "payer: 'c'"}), ElementsAre("c"));
  EXPECT_THAT(
      Payers({"payer: 'a'", kFrom20, "payer: 'd' payer_from_date { year: 2026 month: 5 day: 10 }"}),
      ElementsAre("a", "d", "b"));
  EXPECT_THAT(Payers({"side: SIDE_LEFT"}), IsEmpty());
}

// Minutes count from Monday 2026-03-02 09:00 in Berlin.
TEST(Noted, OrderRemembersItsLife) {
  FoldedDepot d;
  d.ReadyKnee();
  d.TakeOrder("R-1", 0);
  d.HandOver("K-1", "R-1", 60);
  d.Tell(61, "use_noted { order: 'R-1' change: USE_CHANGE_STARTED }");
  d.Tell(62, "patient_stay_noted { order: 'R-1' stay: STAY_HOME because: 'early' }");
  d.Tell(63, "details_confirmed { order: 'R-1' kind: DETAIL_KIND_SIDE confirmed_by: 'D-1' }");
  d.Tell(64, "order_stopped { order: 'R-1' through_date { year: 2026 month: 3 day: 10 } }");
  const v1::OrderState order = d.Order("R-1");
  EXPECT_EQ(order.uses_size(), 1);
  EXPECT_EQ(order.stays(0).because(), "early");
  EXPECT_EQ(order.confirmations(0).value(), "left");
  EXPECT_TRUE(order.papers(0).stops());
  EXPECT_EQ(order.delivery_signed_by(), "patient");
  EXPECT_EQ(order.status(), v1::ORDER_STATUS_ON_RENT);
}

TEST(Noted, CancelledWhileOutEndsThePrescriptionUntilReinstated) {
  FoldedDepot d;
  d.ReadyKnee();
  d.TakeOrder("R-1", 0);
  d.HandOver("K-1", "R-1", 60);
  d.Tell(3000, "order_cancelled { order: 'R-1' }");
  EXPECT_TRUE(d.Order("R-1").has_cancelled());
  EXPECT_EQ(d.Order("R-1").papers_size(), 1);
  EXPECT_EQ(d.Order("R-1").status(), v1::ORDER_STATUS_ON_RENT);
  d.Tell(3060, "order_reinstated { order: 'R-1' }");
  EXPECT_FALSE(d.Order("R-1").has_cancelled());
  EXPECT_EQ(d.Order("R-1").papers_size(), 0);
}

TEST(Noted, EarlierOrderLearnsOfTheLaterOnes) {
  FoldedDepot d;
  d.TakeOrder("R-1", 0);
  d.TakeOrder("R-3", 1, "linked_order: 'R-1' order_link: ORDER_LINK_SECOND_SIDE");
  d.TakeOrder("R-2", 2, "linked_order: 'R-1'");
  EXPECT_THAT(d.Order("R-1").following_orders(), ElementsAre("R-2", "R-3"));
  EXPECT_EQ(d.Order("R-1").details().linked_order(), "");
  d.TakeOrder("R-5", 3, "linked_order: 'R-4'");
  EXPECT_THAT(d.Questions("orders/R-4"), ElementsAre("ORDER_UNKNOWN"));
}

}  // namespace
}  // namespace ferrule::order
