#include "core/order/contradiction.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <string>

#include "google/protobuf/text_format.h"

namespace ferrule::order {
namespace {

using ::testing::ElementsAre;
using ::testing::IsEmpty;

const depot::Rules& Rules() {
  static const depot::Rules& rules = *[] {
    v1::Settings settings;
    google::protobuf::TextFormat::ParseFromString(
        "device_classes { id: 'knee' joint: 'knee' } device_classes { id: 'frame' } "
        "procedures { id: 'left-knee' joint: 'knee' side: SIDE_LEFT } "
        "procedures { id: 'shoulder' joint: 'shoulder' }",
        &settings);
    return new depot::Rules(settings);
  }();
  return rules;
}

std::vector<std::string> Found(const std::string& details) {
  v1::OrderState order;
  EXPECT_TRUE(google::protobuf::TextFormat::ParseFromString(details, order.mutable_details()));
  std::vector<std::string> out;
  for (const Contradiction& c : OpenContradictions(order, Rules())) {
    out.push_back(c.says + " | " + c.but);
  }
  return out;
}

TEST(Contradiction, OfTheSide) {
  EXPECT_THAT(Found("side: SIDE_RIGHT patient_side: SIDE_LEFT procedure_code: 'left-knee' "
                    "procedure: 'Left total knee'"),
              ElementsAre("right | the patient says left, the procedure's code names left, the "
                          "procedure's words name left"));
  EXPECT_THAT(Found("side: SIDE_LEFT patient_side: SIDE_LEFT procedure: 'LEFT knee'"), IsEmpty());
}

TEST(Contradiction, WordsThatOnlyContainASideNameNone) {
  EXPECT_THAT(Found("side: SIDE_LEFT procedure: 'upright frame, bright light'"), IsEmpty());
  EXPECT_THAT(Found("side: SIDE_LEFT procedure: 'left knee, later right knee'"), IsEmpty());
  EXPECT_THAT(Found("procedure: 'right knee'"), IsEmpty());  // no side to contradict
}

TEST(Contradiction, OfJointAndProcedure) {
  EXPECT_THAT(Found("device_class: 'knee' joint: 'shoulder'"),
              ElementsAre("shoulder | a device of class knee moves a knee"));
  EXPECT_THAT(Found("device_class: 'knee' procedure_code: 'shoulder'"),
              ElementsAre("shoulder on the shoulder | the device ordered moves a knee"));
  EXPECT_THAT(Found("device_class: 'frame' joint: 'knee' procedure_code: 'shoulder'"),
              ElementsAre("shoulder on the shoulder | the prescriber names the knee"));
  EXPECT_THAT(Found("device_class: 'frame' procedure_code: 'shoulder'"), IsEmpty());
}

TEST(Contradiction, IsClosedByAConfirmationAsLongAsItStaysTheSame) {
  v1::OrderState order;
  order.mutable_details()->set_side(v1::SIDE_LEFT);
  order.mutable_details()->set_patient_side(v1::SIDE_RIGHT);
  v1::Confirmation* confirmation = order.add_confirmations();
  confirmation->set_kind(v1::DETAIL_KIND_SIDE);
  confirmation->set_value(ConfirmedWords(order, v1::DETAIL_KIND_SIDE, Rules()));
  EXPECT_THAT(OpenContradictions(order, Rules()), IsEmpty());
  order.mutable_details()->set_procedure("right knee");
  EXPECT_EQ(OpenContradictions(order, Rules()).size(), 1u);
  confirmation->set_kind(v1::DETAIL_KIND_JOINT);
  order.mutable_details()->clear_procedure();
  EXPECT_EQ(OpenContradictions(order, Rules()).size(), 1u);
}

}  // namespace
}  // namespace ferrule::order
