#include "core/order/motion_plan.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "google/protobuf/text_format.h"
#include "tests/support/folded_depot.h"

namespace ferrule::order {
namespace {

using ::testing::ElementsAre;
using ::testing::HasSubstr;
using ::testing::IsEmpty;

// A project's own band, as an example of one (no standard).
depot::Rules Rules() {
  v1::Settings settings;
  google::protobuf::TextFormat::ParseFromString(
      "device_classes { id: 'knee' } models { id: 'knee-a' device_class: 'knee' "
      "motion { min_deg: -10 max_deg: 120 max_speed_deg_per_min: 150 } } "
      "motion_bands { device_class: 'knee' min_extension_deg: -10 max_extension_deg: 30 "
      "min_flexion_deg: 0 max_flexion_deg: 150 max_step_deg: 15 source: 'own band' }",
      &settings);
  return depot::Rules(settings);
}

v1::OrderState Order(const std::string& text) {
  v1::OrderState order;
  if (!google::protobuf::TextFormat::ParseFromString("order: 'R-1' " + text, &order)) {
    throw std::invalid_argument(text);
  }
  return order;
}

const char kOrdered[] =
    "details { device_class: 'knee' surgery_date { year: 2026 month: 3 day: 5 } "
    "motion { extension_deg: 0 flexion_deg: 90 speed_deg_per_min: 150 daily_use_s: 14400 } "
    "progression { anchor: PROGRESSION_ANCHOR_SURGERY start_flexion_deg: 40 "
    "flexion_step_deg: 5 } } unit_model: 'knee-a' ";

TEST(MotionPlan, GivesTheDaysLimitsAndTheirSession) {
  const v1::GetMotionPlanResponse plan =
      MotionPlan(Order(kOrdered), absl::CivilDay(2026, 3, 9), Rules());
  EXPECT_EQ(plan.name(), "orders/R-1");
  EXPECT_EQ(plan.limits().flexion_deg(), 60);
  EXPECT_EQ(plan.day_number(), 4);
  EXPECT_EQ(plan.ordered_session().cycle_ms(), 48'000);
  EXPECT_EQ(plan.ordered_session().daily_cycle_count(), 300);
  EXPECT_THAT(plan.warnings(), IsEmpty());
  EXPECT_THAT(plan.missing(), IsEmpty());
  EXPECT_FALSE(plan.has_set());
}

TEST(MotionPlan, ComparesWhatIsSetWithDayOrderAndModel) {
  const auto plan = [](const std::string& set) {
    return testing::Reasons(MotionPlan(Order(std::string(kOrdered) + "motion_set { " + set + " }"),
                                       absl::CivilDay(2026, 3, 9), Rules())
                                .beyond());
  };
  EXPECT_THAT(plan("flexion_deg: 60"), IsEmpty());
  EXPECT_THAT(plan("flexion_deg: 65"), ElementsAre("SETTING_AHEAD_OF_PROGRESSION"));
  EXPECT_THAT(plan("flexion_deg: 95"), ElementsAre("SETTING_BEYOND_ORDER"));
  EXPECT_THAT(plan("flexion_deg: 125"),
              ElementsAre("SETTING_BEYOND_ORDER", "SETTING_BEYOND_MODEL"));
}

TEST(MotionPlan, AsksForWhatNoOrderGives) {
  const v1::GetMotionPlanResponse plan =
      MotionPlan(Order("details { device_class: 'knee' progression { anchor: "
                       "PROGRESSION_ANCHOR_DISCHARGE start_flexion_deg: 40 } }"),
                 absl::CivilDay(2026, 3, 9), Rules());
  EXPECT_THAT(plan.missing(),
              ElementsAre("extension limit, from the prescriber", "speed, from the prescriber",
                          "use a day, from the prescriber",
                          HasSubstr("day 0 of the progression (discharge)")));
  EXPECT_FALSE(plan.has_ordered_session());
}

TEST(MotionPlan, WarnsOutsideTheBandAndGivesNoFigureToSet) {
  const std::vector<std::string> warnings = MotionWarnings(
      Order("details { device_class: 'knee' motion { extension_deg: -15 flexion_deg: 155 "
            "daily_use_s: 3600 } progression { anchor: PROGRESSION_ANCHOR_SURGERY "
            "start_flexion_deg: 40 flexion_step_deg: 20 } }")
          .details(),
      Rules());
  ASSERT_EQ(warnings.size(), 3u);
  EXPECT_THAT(warnings[0], HasSubstr("extension -15 deg lies outside -10 to 30 deg"));
  EXPECT_THAT(warnings[1], HasSubstr("flexion 155 deg"));
  EXPECT_THAT(warnings[2], HasSubstr("a step of 20 deg a day is more than 15 deg"));
  for (const std::string& w : warnings) {
    EXPECT_THAT(w, HasSubstr("(own band): ask the prescriber"));
  }
}

TEST(MotionPlan, WithoutABandDoesNotWarn) {
  EXPECT_THAT(MotionWarnings(
                  Order("details { device_class: 'elbow' motion { flexion_deg: 170 } }").details(),
                  Rules()),
              IsEmpty());
}

}  // namespace
}  // namespace ferrule::order
