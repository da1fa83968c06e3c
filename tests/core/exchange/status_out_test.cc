#include "core/exchange/status_out.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "core/exchange/fhir_check.h"
#include "core/exchange/hl7.h"
#include "core/time/civil.h"
#include "tests/core/exchange/sender.h"

namespace ferrule::exchange {
namespace {

using ::testing::ElementsAre;
using ::testing::IsEmpty;

class OrderStatusOut : public ::testing::Test {
 protected:
  OrderStatusOut() {
    order_.set_order("E-ORD_1");
    order_.set_status(v1::ORDER_STATUS_ON_RENT);
    order_.mutable_details()->set_device_class("knee");
    order_.mutable_details()->set_side(v1::SIDE_LEFT);
    order_.mutable_details()->set_prescriber("not for others");
    time::SetMicros(1'772'000'000'000'000, order_.mutable_handed_over()->mutable_time());
    time::SetMicros(1'772'000'000'000'000, order_.mutable_status_since()->mutable_time());
    source_.set_sender_reference("ORD_1");
    source_.set_patient("p-1");
    unit_.set_unit("K-1");
    unit_.set_serial("S-9");
    unit_.set_udi("(01)09506000134352(21)S-9");
    input_ = {&order_, &source_, &sender_, &unit_, absl::UTCTimeZone(), 1'772'100'000'000'000};
  }
  v1::OrderState order_;
  v1::OrderSource source_;
  v1::UnitState unit_;
  v1::Sender sender_ = testing::ClinicSender();
  StatusInput input_;
};

TEST_F(OrderStatusOut, InFhirIsWhatFhirSaysForEveryStatus) {
  for (int status = v1::ORDER_STATUS_OPEN; status <= v1::ORDER_STATUS_CANCELLED; ++status) {
    order_.set_status(v1::OrderStatus(status));
    const Json bundle = ParseJson(StatusAsFhir(input_));
    std::vector<std::string> types;
    for (const Json& entry : bundle["entry"]) {
      types.push_back(entry["resource"]["resourceType"]);
      EXPECT_THAT(CheckFhir(entry["resource"], "R"), IsEmpty()) << entry.dump(1);
    }
    EXPECT_THAT(types, ElementsAre("DeviceRequest", "Task", "Device", "SupplyDelivery",
                                   "DeviceUseStatement"));
  }
}

TEST_F(OrderStatusOut, InFhirGivesTheUdiCarrierAndNothingBeyondNeed) {
  const std::string text = StatusAsFhir(input_);
  EXPECT_NE(text.find("\"deviceIdentifier\":\"09506000134352\""), std::string::npos) << text;
  EXPECT_EQ(text.find("not for others"), std::string::npos);
}

TEST_F(OrderStatusOut, InHl7NamesBothNumbersAndTheStatus) {
  auto parsed = ParseHl7(StatusAsHl7(input_));
  ASSERT_TRUE(parsed.ok());
  EXPECT_EQ(parsed->msh().Get(9, 3), "ORR_O02");
  EXPECT_EQ(parsed->Find("ORC")->Get(1), "SC");
  EXPECT_EQ(parsed->Find("ORC")->Get(2), "ORD_1");
  EXPECT_EQ(parsed->Find("ORC")->Get(5), "IP");
  order_.set_status(v1::ORDER_STATUS_CANCELLED);
  parsed = ParseHl7(StatusAsHl7(input_));
  EXPECT_EQ(parsed->Find("ORC")->Get(1), "CR");
}

}  // namespace
}  // namespace ferrule::exchange
