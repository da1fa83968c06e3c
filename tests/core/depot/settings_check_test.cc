// ValidateSettings: what makes a version of the settings wrong as a whole.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "core/depot/settings_text.h"
#include "tests/core/depot/sample_settings.h"

namespace ferrule::depot {
namespace {

using ferrule::testing::Changed;
using ferrule::testing::SampleSettings;
using ::testing::HasSubstr;
using ::testing::IsEmpty;

std::string FieldsWrongIn(const v1::Settings& settings) {
  std::string fields;
  for (const SettingsError& e : ValidateSettings(settings)) {
    EXPECT_EQ(e.line, 0);
    EXPECT_FALSE(e.message.empty());
    fields += (fields.empty() ? "" : " ") + e.field;
  }
  return fields;
}

v1::Settings Parsed(const std::string& text) {
  v1::Settings settings;
  EXPECT_TRUE(google::protobuf::TextFormat::ParseFromString(text, &settings)) << text;
  return settings;
}

TEST(Settings, OfTheSampleAreValid) { EXPECT_THAT(ValidateSettings(SampleSettings()), IsEmpty()); }

TEST(Settings, MayBeAsGoodAsEmpty) {
  v1::Settings settings;
  EXPECT_EQ(FieldsWrongIn(settings), "version");
  settings.set_version("1");
  EXPECT_EQ(FieldsWrongIn(settings), "");
}

struct Case {
  const char* from;
  const char* to;
  const char* wrong;  // fields separated by blanks; empty when it is still valid
};

class Change : public ::testing::TestWithParam<Case> {};

TEST_P(Change, MakesTheseFieldsWrong) {
  EXPECT_EQ(FieldsWrongIn(Parsed(Changed(GetParam().from, GetParam().to))), GetParam().wrong);
}

constexpr Case kCases[] = {
    {"currency: \"EUR\"", "currency: \"eur\"", "currency"},
    {"currency: \"EUR\"", "currency: \"EURO\"", "currency"},
    {"currency: \"EUR\"", "", ""},
    {"version: \"2026-01\"", "", "version"},
    // Ids: well formed, there, and each once; places over all branches.
    {"id: \"north\"", "id: \"no rth\"", "branches[0].id"},
    {"id: \"north\"", "", "branches[0].id"},
    {"id: \"west\"", "id: \"north\"", "branches[1].id"},
    {"id: \"west-shelf\"", "id: \"north-dock\"", "branches[1].places[0].id"},
    {"kit_items: \"strap\"", "kit_items: \"pad-set\"", "device_classes[0].kit_items[1]"},
    {"id: \"angle\"", "id: \"earth\"", "checklists[0].items[1].id"},
    {"position: \"pendant\"", "", "models[0].parts[0].position"},
    {"parts {", "parts { position: 'pendant' } parts {", "models[0].parts[1].position"},
    // Branches and places.
    {"\"Europe/Berlin\"", "\"Europe/Bonn\"", "branches[0].time_zone"},
    {"time_zone: \"Europe/Berlin\"", "", "branches[0].time_zone"},
    {"kind: PLACE_KIND_DOCK", "", "branches[0].places[0].kind"},
    {"kind: PLACE_KIND_DOCK", "kind: 77", "branches[0].places[0].kind"},
    // References.
    {"device_class: \"knee\"", "device_class: \"hip\"", "models[0].device_class"},
    {"device_class: \"knee\"", "", "models[0].device_class"},
    {"checklist: \"knee-check\"", "checklist: \"hip-check\"", "models[0].checklist"},
    {"checklist: \"knee-check\"", "", ""},
    {"service_plan: \"yearly\"", "service_plan: \"monthly\"", "models[0].service_plan"},
    // What a device can do.
    {"max_deg: 120", "max_deg: -10", "models[0].motion.max_deg"},
    {"max_deg: 120", "max_deg: 181", "models[0].motion.max_deg"},
    {"min_deg: -10", "min_deg: -31", "models[0].motion.min_deg"},
    {"min_deg: -10", "min_deg: nan", "models[0].motion.min_deg"},
    {"max_speed_deg_per_min: 150", "", "models[0].motion.max_speed_deg_per_min"},
    {"max_speed_deg_per_min: 150", "max_speed_deg_per_min: inf",
     "models[0].motion.max_speed_deg_per_min"},
    // Numbers of the trade.
    {"contact_time_s: 60", "contact_time_s: 0", "cleaning_products[0].contact_time_s"},
    {"contact_time_s: 60", "contact_time_s: 1", ""},
    {"contact_time_s: 60", "contact_time_s: 86401", "cleaning_products[0].contact_time_s"},
    {"max: 2", "max: -3", "checklists[0].items[1].max"},
    {"max: 2", "max: -2", ""},
    {"max: 0.3", "max: nan", "checklists[0].items[0].max"},
    {"version: \"1\"", "", "checklists[0].version"},
    {"interval_days: 365", "", "service_plans[0]"},
    {"interval_days: 365", "interval_days: -1", "service_plans[0].interval_days"},
    {"interval_days: 365", "interval_turns: 10", ""},
    // The due policy names a date once.
    {"else_earliest: DUE_BASIS_COVER_END", "else_earliest: DUE_BASIS_AGREED_PICKUP",
     "due_policy.else_earliest[1]"},
    {"else_earliest: DUE_BASIS_COVER_END", "else_earliest: DUE_BASIS_UNSPECIFIED",
     "due_policy.else_earliest[1]"},
    // Texts.
    {"display_name: \"shelf\"", "display_name: \"\\377\"", "branches[1].places[0].display_name"},
    {"display_name: \"shelf\"", "display_name: \"\\xED\\xA0\\x80\"",
     "branches[1].places[0].display_name"},
    {"display_name: \"shelf\"", "display_name: \"\\xC0\\x80\"",
     "branches[1].places[0].display_name"},
    {"display_name: \"shelf\"", "display_name: \"a\\000b\"", "branches[1].places[0].display_name"},
    {"display_name: \"shelf\"",
     "display_name: \"Stra\\xC3\\x9F"
     "e \\xF0\\x9F\\x9A\\x90\"",
     ""},
};
INSTANTIATE_TEST_SUITE_P(Fields, Change, ::testing::ValuesIn(kCases));

TEST(Settings, WithAnEmptyChecklistWouldPassAnything) {
  v1::Settings settings = SampleSettings();
  settings.mutable_checklists(0)->clear_items();
  EXPECT_EQ(FieldsWrongIn(settings), "checklists[0].items");
}

TEST(Settings, WithLongTextsAreRefused) {
  v1::Settings settings = SampleSettings();
  settings.mutable_models(0)->set_source(std::string(500, 's'));
  EXPECT_EQ(FieldsWrongIn(settings), "");
  settings.mutable_models(0)->set_source(std::string(501, 's'));
  EXPECT_EQ(FieldsWrongIn(settings), "models[0].source");
}

TEST(Settings, GiveACompanyPrefixOfFourToTwelveDigits) {
  v1::Settings settings = SampleSettings();
  for (const char* right : {"", "4012", "401234512345"}) {
    settings.mutable_tags()->set_gs1_company_prefix(right);
    EXPECT_EQ(FieldsWrongIn(settings), "") << right;
  }
  for (const char* wrong : {"401", "4012345123456", "40x2345", "40 2345"}) {
    settings.mutable_tags()->set_gs1_company_prefix(wrong);
    EXPECT_EQ(FieldsWrongIn(settings), "tags.gs1_company_prefix") << wrong;
  }
}

TEST(Settings, TellEveryErrorAtOnce) {
  v1::Settings settings = SampleSettings();
  settings.set_currency("?");
  settings.mutable_branches(0)->set_time_zone("");
  settings.mutable_models(0)->set_checklist("none");
  EXPECT_EQ(FieldsWrongIn(settings), "branches[0].time_zone models[0].checklist currency");
}

TEST(Settings, SayWhereAnIdStandsAlready) {
  const auto errors = ValidateSettings(Parsed(Changed("id: \"west-shelf\"", "id: \"north-dock\"")));
  ASSERT_EQ(errors.size(), 1u);
  EXPECT_THAT(errors[0].message, HasSubstr("\"north-dock\" is given already at "
                                           "branches[0].places[0].id"));
}

}  // namespace
}  // namespace ferrule::depot
