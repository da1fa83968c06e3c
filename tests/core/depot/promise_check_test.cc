#include "core/depot/promise_check.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "google/protobuf/text_format.h"

namespace ferrule::depot {
namespace {

using ::testing::ElementsAre;
using ::testing::IsEmpty;

std::vector<std::string> Wrong(const std::string& text) {
  v1::Settings settings;
  if (!google::protobuf::TextFormat::ParseFromString(
          "branches { id: 'north' } branches { id: 'west' } device_classes { id: 'knee' } "
          "device_classes { id: 'elbow' } " +
              text,
          &settings)) {
    throw std::invalid_argument(text);
  }
  std::vector<SettingsError> errors;
  CheckPromises(settings, &errors);
  std::vector<std::string> fields;
  for (const SettingsError& error : errors) fields.push_back(error.field);
  return fields;
}

TEST(PromiseSettings, MayBeLeftOutOrGivenWhole) {
  EXPECT_THAT(Wrong(""), IsEmpty());
  EXPECT_THAT(
      Wrong("promise_policy { yes_from_permille: 950 no_below_permille: 500 turnaround_days: 2 "
            "look_ahead_days: 60 soft_hours: 48 } "
            "measure_bands { kind: MEASURE_KIND_LEG min_mm: 600 max_mm: 1200 } "
            "motion_bands { device_class: 'knee' min_extension_deg: -10 max_extension_deg: 30 "
            "min_flexion_deg: 0 max_flexion_deg: 150 max_step_deg: 15 } "
            "models { id: 'a' device_class: 'knee' fit { leg { min_mm: 700 max_mm: 900 } "
            "mains_voltages_v: 230 } } models { id: 'b' device_class: 'knee' stands_in_for: 'a' } "
            "usage_policy { low_use_permille: 500 }"),
      IsEmpty());
}

TEST(PromiseSettings, OddsAndDaysStayWithinTheirBounds) {
  EXPECT_THAT(Wrong("promise_policy { yes_from_permille: 1001 turnaround_days: -1 "
                    "look_ahead_days: 999 soft_hours: -2 }"),
              ElementsAre("promise_policy.yes_from_permille", "promise_policy.turnaround_days",
                          "promise_policy.look_ahead_days", "promise_policy.soft_hours"));
  EXPECT_THAT(Wrong("promise_policy { yes_from_permille: 500 no_below_permille: 600 }"),
              ElementsAre("promise_policy.no_below_permille"));
}

TEST(PromiseSettings, WaysBetweenBranchesStandWithThePlanning) {
  EXPECT_THAT(Wrong("promise_policy { transfers { from: 'west' to: 'north' days: 1 } }"),
              ElementsAre("promise_policy.transfers"));
}

TEST(PromiseSettings, BandsAreGivenOnceAndTheRightWayRound) {
  EXPECT_THAT(Wrong("measure_bands { min_mm: 1 }"), ElementsAre("measure_bands[0].kind"));
  EXPECT_THAT(Wrong("measure_bands { kind: MEASURE_KIND_LEG min_mm: 900 max_mm: 800 }"),
              ElementsAre("measure_bands[0].max_mm"));
  EXPECT_THAT(Wrong("motion_bands { device_class: 'hip' }"),
              ElementsAre("motion_bands[0].device_class"));
  EXPECT_THAT(Wrong("motion_bands { device_class: 'knee' min_flexion_deg: 90 max_flexion_deg: 10 "
                    "}"),
              ElementsAre("motion_bands[0].flexion"));
}

TEST(PromiseSettings, ModelsStandInWithinTheirClass) {
  EXPECT_THAT(Wrong("models { id: 'a' device_class: 'knee' stands_in_for: 'z' }"),
              ElementsAre("models[0].stands_in_for[0]"));
  EXPECT_THAT(Wrong("models { id: 'a' device_class: 'knee' } "
                    "models { id: 'b' device_class: 'elbow' stands_in_for: 'a' }"),
              ElementsAre("models[1].stands_in_for[0]"));
  EXPECT_THAT(Wrong("models { id: 'a' fit { thigh { min_mm: 500 max_mm: 400 } max_weight_g: -1 } "
                    "motion { max_speed_deg_per_min: 100 min_speed_deg_per_min: 120 } }"),
              ElementsAre("models[0].fit.thigh.max_mm", "models[0].fit.max_weight_g",
                          "models[0].motion.min_speed_deg_per_min"));
}

}  // namespace
}  // namespace ferrule::depot
