#include "core/demo/scenario.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <set>
#include <string>
#include <vector>

#include "core/depot/settings_text.h"

namespace ferrule::demo {
namespace {

TEST(Scenario, BothEditionsPassValidation) {
  for (const int units : {20, 250, 100'000}) {
    for (const Edition edition : {Edition::kOpening, Edition::kRevised}) {
      for (const auto& error : depot::ValidateSettings(MakeSettings(BranchCount(units), edition))) {
        ADD_FAILURE() << units << " units: " << error.field << " " << error.message;
      }
    }
  }
}

TEST(Scenario, TextParsesToTheSameVersion) {
  const v1::Settings settings = MakeSettings(4, Edition::kOpening);
  std::vector<depot::SettingsError> errors;
  const auto parsed = depot::ParseSettings(depot::FormatSettings(settings), &errors);
  ASSERT_TRUE(parsed.ok()) << parsed.status();
  EXPECT_EQ(parsed->SerializeAsString(), settings.SerializeAsString());
}

TEST(Scenario, HasBranchesInSeveralZonesAndLimitsWithSources) {
  const v1::Settings settings = MakeSettings(4, Edition::kOpening);
  std::set<std::string> zones;
  std::set<std::string> names;
  for (const v1::Branch& branch : settings.branches()) {
    zones.insert(branch.time_zone());
    names.insert(branch.id());
  }
  EXPECT_GE(zones.size(), 2u);
  EXPECT_EQ(names.size(), 4u);
  for (const v1::Checklist& list : settings.checklists()) {
    EXPECT_THAT(list.source(), ::testing::HasSubstr("secondary")) << list.id();
  }
}

TEST(Scenario, RevisedEditionHasAnotherChecklistVersionAndLongerContact) {
  const v1::Settings before = MakeSettings(4, Edition::kOpening);
  const v1::Settings after = MakeSettings(4, Edition::kRevised);
  EXPECT_NE(before.checklists(0).version(), after.checklists(0).version());
  EXPECT_LT(before.cleaning_products(1).contact_time_s(),
            after.cleaning_products(1).contact_time_s());
}

}  // namespace
}  // namespace ferrule::demo
