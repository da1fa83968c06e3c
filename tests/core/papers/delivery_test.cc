#include "core/papers/delivery.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <string>

#include "google/protobuf/text_format.h"

namespace ferrule::papers {
namespace {

using ::testing::ElementsAre;
using ::testing::IsEmpty;

v1::OrderState Order(const std::string& text) {
  v1::OrderState order;
  EXPECT_TRUE(google::protobuf::TextFormat::ParseFromString(text, &order));
  return order;
}

// Handed over on 3 June 2025; `ticket` is the ticket's content.
v1::OrderState Delivered(const std::string& ticket) {
  return Order("handed_over_date { year: 2025 month: 6 day: 3 } ticket { ticket { " + ticket +
               " } }");
}

const char kWhole[] =
    "signed_date { year: 2025 month: 6 day: 3 } signed_by: 'spouse' items_described: true "
    "legible: true";

TEST(Delivery, IsProvedBySignatureRelationshipDayAndItems) {
  const v1::AssessDeliveryResponse said = AssessDelivery(Delivered(kWhole));
  EXPECT_TRUE(said.proved());
  EXPECT_THAT(said.faults(), IsEmpty());
  EXPECT_EQ(said.service_date().day(), 3);
}

TEST(Delivery, IsNotProvedWithoutATicketOrBeforeTheHandOver) {
  EXPECT_THAT(AssessDelivery(Order("")).faults(), ElementsAre(v1::DELIVERY_FAULT_NOT_DELIVERED));
  const auto said = AssessDelivery(Order("handed_over_date { year: 2025 month: 6 day: 3 }"));
  EXPECT_FALSE(said.proved());
  EXPECT_THAT(said.faults(), ElementsAre(v1::DELIVERY_FAULT_NO_TICKET));
}

// job rule, common practice: a ticket signed by an employee, or by somebody whose relationship is
// not stated, proves nothing.
TEST(Delivery, SignedByTheDepotOrByNobodyKnownIsNoProof) {
  const auto depot = AssessDelivery(Delivered(std::string(kWhole) + " signer_is_of_depot: true"));
  EXPECT_FALSE(depot.proved());
  EXPECT_THAT(depot.faults(), ElementsAre(v1::DELIVERY_FAULT_SIGNED_BY_DEPOT));
  const auto nobody = AssessDelivery(
      Delivered("signed_date { year: 2025 month: 6 day: 3 } items_described: true legible: true"));
  EXPECT_THAT(nobody.faults(), ElementsAre(v1::DELIVERY_FAULT_NO_RELATIONSHIP));
}

TEST(Delivery, WithEverythingMissingNamesEverything) {
  EXPECT_THAT(AssessDelivery(Delivered("")).faults(),
              ElementsAre(v1::DELIVERY_FAULT_NO_DATE, v1::DELIVERY_FAULT_NO_SIGNATURE,
                          v1::DELIVERY_FAULT_NO_DESCRIPTION, v1::DELIVERY_FAULT_NOT_LEGIBLE));
}

TEST(Delivery, SignedOnAnotherDayShowsBothAndIsProved) {
  const auto said =
      AssessDelivery(Delivered("signed_date { year: 2025 month: 6 day: 4 } signed_by: 'patient' "
                               "items_described: true legible: true"));
  EXPECT_TRUE(said.proved());
  EXPECT_THAT(said.faults(), ElementsAre(v1::DELIVERY_FAULT_OTHER_DATE));
  EXPECT_EQ(said.handed_over_date().day(), 3);
  EXPECT_EQ(said.signed_date().day(), 4);
}

// A device brought for teaching before the discharge has the day of discharge as its day of
// service; when the discharge slips, the day slips (Noridian, inpatient stays page, as read 2025:
// delivered 3 June, planned 5 June, home on 8 June).
TEST(Delivery, BeforeTheDischargeIsServedOnTheDayOfComingHome) {
  v1::OrderState order = Delivered(kWhole);
  v1::PatientStay* stay = order.add_stays();
  stay->set_stay(v1::STAY_HOME);
  stay->mutable_from_date()->set_year(2025);
  stay->mutable_from_date()->set_month(6);
  stay->mutable_from_date()->set_day(8);
  EXPECT_EQ(AssessDelivery(order).service_date().day(), 8);
}

TEST(Delivery, HasWordsForEveryFault) {
  for (int i = v1::DeliveryFault_MIN + 1; i <= v1::DeliveryFault_MAX; ++i) {
    EXPECT_NE(Words(static_cast<v1::DeliveryFault>(i)), "not stated") << i;
  }
}

}  // namespace
}  // namespace ferrule::papers
