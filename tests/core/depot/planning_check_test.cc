#include "core/depot/planning_check.h"

#include <string>

#include "gmock/gmock.h"
#include "gtest/gtest.h"
#include "tests/core/depot/sample_settings.h"

namespace ferrule::depot {
namespace {

using ::testing::ElementsAre;
using ::testing::IsEmpty;

v1::Settings With(const std::string& planning) {
  v1::Settings settings = ferrule::testing::SampleSettings();
  EXPECT_TRUE(google::protobuf::TextFormat::ParseFromString(planning, settings.mutable_planning()));
  return settings;
}

std::vector<std::string> Fields(const v1::Settings& settings) {
  std::vector<std::string> fields;
  for (const SettingsError& error : ValidateSettings(settings)) {
    fields.push_back(error.field);
    EXPECT_FALSE(error.message.empty());
  }
  return fields;
}

TEST(Planning, MayBeLeftOut) { EXPECT_THAT(Fields(With("")), IsEmpty()); }

TEST(Planning, WholeIsAccepted) {
  EXPECT_THAT(Fields(With("class_plans { device_class: 'knee' rent_per_day_minor: 1200 "
                          "price_minor: 420000 life_years: 7 yearly_interest_share: 0.05 "
                          "lost_target_share: 0.02 short_day_target_probability: 0.05 } "
                          "closed_days { closed_date { year: 2026 month: 12 day: 25 } } "
                          "transfer_lanes { from_branch: 'north' to_branch: 'west' "
                          "transit_days: 1 cost_minor: 2500 }")),
              IsEmpty());
}

TEST(Planning, NamesWhatTheSettingsDoNotHave) {
  EXPECT_THAT(Fields(With("class_plans { device_class: 'toe' } closed_days { closed_date { year: "
                          "2026 month: 1 day: 1 } branch: 'south' } transfer_lanes { from_branch: "
                          "'north' to_branch: 'south' }")),
              ElementsAre("planning.class_plans[0].device_class", "planning.closed_days[0].branch",
                          "planning.transfer_lanes[0].to_branch"));
}

TEST(Planning, NamesFiguresOutOfRange) {
  EXPECT_THAT(
      Fields(With("class_plans { device_class: 'knee' rent_per_day_minor: -1 life_years: 51 "
                  "yearly_interest_share: 1.5 lost_target_share: 1 } closed_days { closed_date { "
                  "year: 2026 month: 2 day: 30 } } transfer_lanes { from_branch: 'north' "
                  "to_branch: 'north' transit_days: 61 cost_minor: -1 }")),
      ElementsAre(
          "planning.class_plans[0].rent_per_day_minor", "planning.class_plans[0].life_years",
          "planning.class_plans[0].yearly_interest_share",
          "planning.class_plans[0].lost_target_share", "planning.closed_days[0].closed_date",
          "planning.transfer_lanes[0].to_branch", "planning.transfer_lanes[0].transit_days",
          "planning.transfer_lanes[0].cost_minor"));
}

TEST(Planning, EachClassAndLaneStandsOnce) {
  EXPECT_THAT(
      Fields(With("class_plans { device_class: 'knee' } class_plans { device_class: 'knee' "
                  "} transfer_lanes { from_branch: 'north' to_branch: 'west' } "
                  "transfer_lanes { from_branch: 'north' to_branch: 'west' }")),
      ElementsAre("planning.class_plans[1].device_class", "planning.transfer_lanes[1].to_branch"));
}

}  // namespace
}  // namespace ferrule::depot
