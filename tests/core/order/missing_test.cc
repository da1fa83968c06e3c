#include "core/order/missing.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "google/protobuf/text_format.h"

namespace ferrule::order {
namespace {

using ::testing::Contains;
using ::testing::ElementsAre;
using ::testing::IsEmpty;
using ::testing::Not;

depot::Rules RulesWith(const std::string& rule) {
  v1::Settings settings;
  EXPECT_TRUE(google::protobuf::TextFormat::ParseFromString(
      "branches { id: 'north' time_zone: 'Europe/Berlin' } device_classes { id: 'knee' sided: true "
      "} "
      "models { id: 'k' device_class: 'knee' motion { max_deg: 120 } } "
      "payer_terms { id: 'p' rules { " +
          rule + " readings { id: 'a' anchor: COVER_ANCHOR_SURGERY length_days: 21 } } }",
      &settings));
  return depot::Rules(settings);
}

v1::OrderState Whole() {
  v1::OrderState order;
  EXPECT_TRUE(google::protobuf::TextFormat::ParseFromString(
      "order: 'R-1' details { patient: 'P-1' prescriber: 'D-1' branch: 'north' device_class: "
      "'knee' "
      "side: SIDE_LEFT procedure: 'knee' surgery_date { year: 2026 month: 5 day: 4 } "
      "length_of_need_days: 21 motion { extension_deg: 0 flexion_deg: 90 } payer: 'p' "
      "signed_date { year: 2026 month: 5 day: 1 } } "
      "handed_over { time { seconds: 1778061600 } } "
      "handed_over_date { year: 2026 month: 5 day: 6 } delivery_signed_by: 'patient'",
      &order));
  return order;
}

std::vector<std::string> Items(const v1::OrderState& order, const depot::Rules& rules,
                               bool to_bill) {
  std::vector<std::string> out;
  for (const v1::MissingItem& item : Missing(order, rules)) {
    if (to_bill ? item.to_bill() : item.to_go_out()) out.push_back(item.item());
  }
  return out;
}

TEST(Missing, NothingOfAWholeOrder) { EXPECT_THAT(Missing(Whole(), RulesWith("")), IsEmpty()); }

TEST(Missing, OfAnEmptyOrderNamesEachThingOnceWithItsSupplier) {
  const auto missing = Missing(v1::OrderState(), RulesWith(""));
  std::vector<std::string> items;
  for (const v1::MissingItem& item : missing) {
    EXPECT_FALSE(item.supplier().empty()) << item.item();
    EXPECT_TRUE(item.to_go_out() || item.to_bill()) << item.item();
    EXPECT_THAT(items, Not(Contains(item.item())));
    items.push_back(item.item());
  }
  EXPECT_THAT(items, Contains("payer"));
  EXPECT_THAT(items, Contains("hand-over to the home"));
  EXPECT_THAT(items, Contains("signed written order"));
}

TEST(Missing, ToBillIsWhatTheTermsNeed) {
  const depot::Rules rules = RulesWith(
      "needs: BILLING_NEED_APPLICATION_DATE needs: BILLING_NEED_DISCHARGE_DATE "
      "needs: BILLING_NEED_AUTHORISATION");
  EXPECT_THAT(
      Items(Whole(), rules, true),
      ElementsAre("day on which the device was first used",
                  "day of the discharge to the home, as it was", "authorisation with its number"));
  EXPECT_THAT(Items(Whole(), rules, false), IsEmpty());
  EXPECT_THAT(Items(Whole(), RulesWith("needs_authorisation: true"), true),
              ElementsAre("authorisation with its number"));
}

// The contractors' pages on proof of delivery: nobody of the supplier's may sign.
TEST(Missing, TicketSignedByTheDepotsOwnPeople) {
  v1::OrderState order = Whole();
  order.set_delivery_signed_by("Employee");
  EXPECT_THAT(Items(order, RulesWith(""), true),
              ElementsAre("delivery ticket signed by somebody who is not the depot's"));
  order.set_delivery_signed_by("spouse");
  EXPECT_THAT(Items(order, RulesWith(""), true), IsEmpty());
  order.clear_delivery_signed_by();
  EXPECT_THAT(Items(order, RulesWith(""), true), ElementsAre("signed delivery ticket"));
}

// A contractor's page on inpatient stays: at most two days before the planned discharge.
TEST(Missing, DeliveryTooEarly) {
  v1::OrderState order = Whole();
  order.mutable_discharge_planned_date()->set_year(2026);
  order.mutable_discharge_planned_date()->set_month(5);
  order.mutable_discharge_planned_date()->set_day(9);
  EXPECT_THAT(Items(order, RulesWith("early_delivery_days: 2"), true),
              ElementsAre("a delivery at most 2 days before the planned discharge; it was 3"));
  EXPECT_THAT(Items(order, RulesWith("early_delivery_days: 3"), true), IsEmpty());
}

TEST(Missing, PayerOrTermsThatNobodyKnows) {
  v1::OrderState order = Whole();
  order.mutable_details()->set_payer("q");
  EXPECT_THAT(Items(order, RulesWith(""), true), ElementsAre("terms of payer q"));
  order.mutable_details()->clear_payer();
  EXPECT_THAT(Items(order, RulesWith(""), true), ElementsAre("payer"));
}

TEST(Missing, InOneLine) {
  v1::OrderState order = Whole();
  order.mutable_details()->clear_payer();
  EXPECT_EQ(InOneLine(Missing(order, RulesWith(""))), "payer, from intake");
}

}  // namespace
}  // namespace ferrule::order
