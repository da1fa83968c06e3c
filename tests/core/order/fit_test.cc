#include "core/order/fit.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <string>

#include "tests/support/folded_depot.h"

namespace ferrule::order {
namespace {

using ::testing::ElementsAre;
using testing::FoldedDepot;
using ::testing::IsEmpty;

// What looking at a unit for an order raises, one finding after another.
class OrderFit : public ::testing::Test {
 protected:
  OrderFit() {
    order_.set_order("R-1");
    Parse("details { " + FoldedDepot::KneeDetails() + " }", &order_);
    entry_ = testing::EntryOf("e1", testing::kStartUs, "handed_over { order: 'R-1' }");
  }
  template <class Message>
  static void Parse(const std::string& text, Message* message) {
    if (!google::protobuf::TextFormat::ParseFromString(text, message)) {
      throw std::invalid_argument(text);
    }
  }
  const depot::Rules& rules() const { return depot_.book().At(testing::kStartUs); }

  std::vector<v1::Finding> Check(const std::string& motion, v1::Side side = v1::SIDE_LEFT,
                                 const std::string& model = "knee-a") {
    v1::Motion set;
    Parse(motion, &set);
    v1::SubjectState state;
    state.set_name("orders/R-1");
    finding::Raiser raiser(view_, &state);
    const std::string unit = "K-1";
    CheckUnit(order_, {unit, model, side, set}, rules(), &raiser);
    return {state.questions().begin(), state.questions().end()};
  }
  std::vector<std::string> Kit(const std::string& kit) {
    v1::HandedOver handed_over;
    Parse(kit, &handed_over);
    v1::SubjectState state;
    finding::Raiser raiser(view_, &state);
    CheckKit(order_, handed_over, rules(), &raiser);
    std::vector<std::string> missing;
    for (const v1::Finding& f : state.questions()) missing.push_back(testing::ValueOf(f, "item"));
    return missing;
  }
  static std::string InWords(v1::Finding finding) {
    finding::PutIntoWords(absl::UTCTimeZone(), &finding);
    return finding.text();
  }

  FoldedDepot depot_;
  v1::OrderState order_;
  v1::Entry entry_;
  fact::FactView view_{&entry_, 0, testing::kStartUs, testing::kStartUs, 1};
};

// The order gives 0 to 90 degrees, 60 degrees a minute, 4 hours a day.
TEST_F(OrderFit, ASettingEqualToTheOrderIsWithinIt) {
  EXPECT_THAT(Check("extension_deg: 0 flexion_deg: 90 speed_deg_per_min: 60 daily_use_s: 14400"),
              IsEmpty());
  EXPECT_THAT(Check(""), IsEmpty()) << "only what was set is looked at";
  EXPECT_THAT(Check("pause_s: 600"), IsEmpty()) << "the order says nothing of a pause";
}

TEST_F(OrderFit, EachSettingBeyondTheOrderIsNamedWithItsLimit) {
  const std::pair<const char*, const char*> kCases[] = {
      {"extension_deg: -0.5",
       "a setting goes beyond the order: extension -0.5 deg, the order gives 0 deg"},
      {"flexion_deg: 90.5",
       "a setting goes beyond the order: flexion 90.5 deg, the order gives 90 deg"},
      {"speed_deg_per_min: 61",
       "a setting goes beyond the order: speed 61 deg/min, the order gives 60 deg/min"},
      {"daily_use_s: 14401",
       "a setting goes beyond the order: daily use 14401 s, the order gives 14400 s"},
  };
  for (const auto& [motion, words] : kCases) {
    const auto findings = Check(motion);
    ASSERT_THAT(testing::Reasons(findings), ElementsAre("SETTING_BEYOND_ORDER")) << motion;
    EXPECT_EQ(InWords(findings[0]), words);
  }
  order_.mutable_details()->mutable_motion()->set_pause_s(5);
  EXPECT_THAT(testing::Reasons(Check("pause_s: 6")), ElementsAre("SETTING_BEYOND_ORDER"));
}

TEST_F(OrderFit, WhatTheOrderLeavesOpenIsBoundByTheModel) {
  order_.mutable_details()->clear_motion();
  EXPECT_THAT(Check("extension_deg: -10 flexion_deg: 120 speed_deg_per_min: 150"), IsEmpty());
  const auto findings = Check("extension_deg: -11 flexion_deg: 121 speed_deg_per_min: 151");
  ASSERT_THAT(testing::Reasons(findings),
              ElementsAre("SETTING_BEYOND_MODEL", "SETTING_BEYOND_MODEL", "SETTING_BEYOND_MODEL"));
  EXPECT_EQ(InWords(findings[1]),
            "a setting goes beyond what the model can do: flexion 121 deg, the limit is 120 deg");
}

TEST_F(OrderFit, ClassAndModelMustBeTheOnesOrdered) {
  const auto findings = Check("", v1::SIDE_LEFT, "shoulder-s");
  ASSERT_THAT(testing::Reasons(findings), ElementsAre("WRONG_CLASS"));
  EXPECT_EQ(InWords(findings[0]),
            "K-1 is not the kind of device ordered: it is shoulder, the order says knee");
  EXPECT_THAT(testing::Reasons(Check("", v1::SIDE_LEFT, "knee-z")), ElementsAre("MODEL_UNKNOWN"));
  order_.mutable_details()->clear_device_class();
  EXPECT_THAT(Check("", v1::SIDE_LEFT, "shoulder-s"), IsEmpty());
}

TEST_F(OrderFit, TheSideMattersOnModelsThatAreSetUpForOne) {
  order_.mutable_details()->set_device_class("shoulder");
  const auto findings = Check("", v1::SIDE_RIGHT, "shoulder-s");
  ASSERT_THAT(testing::Reasons(findings), ElementsAre("WRONG_SIDE"));
  EXPECT_EQ(InWords(findings[0]), "K-1 is set up for the wrong side, right: the order says left");
  EXPECT_THAT(testing::Reasons(Check("", v1::SIDE_UNSPECIFIED, "shoulder-s")),
              ElementsAre("WRONG_SIDE"));
  EXPECT_THAT(Check("", v1::SIDE_LEFT, "shoulder-s"), IsEmpty());
  EXPECT_THAT(Check("", v1::SIDE_EITHER, "shoulder-s"), IsEmpty());
  order_.mutable_details()->clear_side();
  EXPECT_THAT(Check("", v1::SIDE_RIGHT, "shoulder-s"), IsEmpty()) << "the order gives no side";
  order_.mutable_details()->set_device_class("knee");
  order_.mutable_details()->set_side(v1::SIDE_LEFT);
  EXPECT_THAT(Check("", v1::SIDE_RIGHT), IsEmpty()) << "a knee fits either leg";
}

TEST_F(OrderFit, EveryItemOfTheKitIsLeftInAtLeastOnePiece) {
  EXPECT_THAT(Kit("kit { item: 'pad-set' lot: 'L-1' piece_count: 1 }"), IsEmpty());
  EXPECT_THAT(Kit(""), ElementsAre("pad-set"));
  EXPECT_THAT(Kit("kit { item: 'pad-set' lot: 'L-1' }"), ElementsAre("pad-set"));
  EXPECT_THAT(Kit("kit { item: 'straps' lot: 'L-1' piece_count: 1 }"), ElementsAre("pad-set"));
  order_.mutable_details()->set_device_class("shoulder");
  EXPECT_THAT(Kit(""), IsEmpty());
  order_.mutable_details()->set_device_class("hip");
  EXPECT_THAT(Kit(""), IsEmpty()) << "an unknown class is raised elsewhere";
}

}  // namespace
}  // namespace ferrule::order
