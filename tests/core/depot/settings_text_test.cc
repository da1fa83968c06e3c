#include "core/depot/settings_text.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "google/protobuf/util/message_differencer.h"
#include "tests/core/depot/sample_settings.h"

namespace ferrule::depot {
namespace {

using ferrule::testing::Changed;
using ferrule::testing::kSettingsText;
using ferrule::testing::SampleSettings;
using ::testing::ElementsAre;
using ::testing::HasSubstr;
using ::testing::IsEmpty;

std::vector<SettingsError> ErrorsIn(const std::string& text) {
  std::vector<SettingsError> errors;
  const auto settings = ParseSettings(text, &errors);
  EXPECT_EQ(settings.ok(), errors.empty());
  return errors;
}

// "line field" of each error.
std::vector<std::string> Places(const std::string& text) {
  std::vector<std::string> places;
  for (const SettingsError& e : ErrorsIn(text)) {
    places.push_back(std::to_string(e.line) + " " + e.field);
  }
  return places;
}

TEST(SettingsText, OfAValidFileIsThoseSettings) {
  std::vector<SettingsError> errors = {{1, "left", "over"}};
  const auto settings = ParseSettings(kSettingsText, &errors);
  ASSERT_TRUE(settings.ok()) << settings.status();
  EXPECT_THAT(errors, IsEmpty());
  EXPECT_TRUE(google::protobuf::util::MessageDifferencer::Equals(*settings, SampleSettings()));
}

TEST(SettingsText, GoesThereAndBack) {
  v1::Settings settings = SampleSettings();
  settings.mutable_branches(0)->set_display_name(
      "Stra\xC3\x9F"
      "e \"1\"\n2");
  settings.mutable_checklists(0)->mutable_items(0)->set_max(0.1 + 0.2);
  std::vector<SettingsError> errors;
  const auto again = ParseSettings(FormatSettings(settings), &errors);
  ASSERT_TRUE(again.ok()) << again.status();
  EXPECT_TRUE(google::protobuf::util::MessageDifferencer::Equals(*again, settings));
  EXPECT_THAT(FormatSettings(settings), HasSubstr("Stra\xC3\x9F"
                                                  "e"));
}

struct Case {
  const char* from;
  const char* to;
  std::vector<std::string> places;
  const char* words;
};

class WrongText : public ::testing::TestWithParam<Case> {};

TEST_P(WrongText, NamesLineAndField) {
  const std::string text = Changed(GetParam().from, GetParam().to);
  EXPECT_EQ(Places(text), GetParam().places);
  const auto errors = ErrorsIn(text);
  ASSERT_FALSE(errors.empty());
  EXPECT_THAT(errors[0].message, HasSubstr(GetParam().words));
}

INSTANTIATE_TEST_SUITE_P(
    Syntax, WrongText,
    ::testing::Values(
        Case{"kind: PLACE_KIND_CLEAN_SHELF\n",
             "kind: PLACE_KIND_SHELF\n",
             {"15 branches[1].places[0].kind"},
             "give one of PLACE_KIND_DOCK"},
        Case{"contact_time_s: 60",
             "contact_time_s: sixty",
             {"40 cleaning_products[0].contact_time_s"},
             "give a whole number"},
        Case{"contact_time_s: 60",
             "contact_time_s: 1.5",
             {"40 cleaning_products[0].contact_time_s"},
             "give a whole number"},
        Case{"contact_time_s: 60",
             "contact_time_s: 99999999999999999999",
             {"40 cleaning_products[0].contact_time_s"},
             "give a whole number"},
        Case{"sided: true", "sided: yes", {"21 device_classes[0].sided"}, "give true or false"},
        Case{"version: \"1\"", "version: 1", {"44 checklists[0].version"}, "a text in quotes"},
        Case{"max_deg: 120", "max_deg: wide", {"34 models[0].motion.max_deg"}, "give a number"},
        Case{"interval_days: 365",
             "interval_day: 365",
             {"55 service_plans[0].interval_day"},
             "known are id, interval_days"},
        Case{"due_policy {", "due_rules {", {"57 due_rules"}, "known are version, branches"},
        Case{"currency: \"EUR\"",
             "currency: \"EUR\"\ncurrency: \"USD\"",
             {"4 currency"},
             "is given twice"}));

INSTANTIATE_TEST_SUITE_P(
    Sense, WrongText,
    ::testing::Values(Case{"contact_time_s: 60",
                           "contact_time_s: 0",
                           {"40 cleaning_products[0].contact_time_s"},
                           "on the label"},
                      Case{"checklist: \"knee-check\"",
                           "checklist: \"hip-check\"",
                           {"30 models[0].checklist"},
                           "there is no checklist \"hip-check\""},
                      Case{"id: \"wipe\"", "", {"38 cleaning_products[0].id"}, "is missing"},
                      Case{"version: \"2026-01\"", "", {"0 version"}, "is missing"}));

TEST(SettingsErrors, OfTheTextAreFoundAllAtOnce) {
  std::string text = Changed("contact_time_s: 60", "contact_time_s: sixty");
  text.replace(text.find("sided: true"), 11, "sided: yep ");
  text.replace(text.find("interval_days"), 13, "interval_dayz");
  text.replace(text.find("DUE_BASIS_COVER_END"), 19, "DUE_BASIS_COVER_ENT");
  const std::vector<std::string> places = Places(text);
  EXPECT_THAT(places,
              ElementsAre("21 device_classes[0].sided", "40 cleaning_products[0].contact_time_s",
                          "55 service_plans[0].interval_dayz", "60 due_policy.else_earliest[1]"));
}

TEST(SettingsErrors, OfTheSenseAreFoundAllAtOnceInTheOrderOfLines) {
  std::string text = Changed("contact_time_s: 60", "contact_time_s: 0");
  text.replace(text.find("\"EUR\""), 5, "\"eur\"");
  text.replace(text.find("Europe/Berlin"), 13, "Europe/Berlim");
  EXPECT_THAT(Places(text), ElementsAre("3 currency", "6 branches[0].time_zone",
                                        "40 cleaning_products[0].contact_time_s"));
}

TEST(SettingsErrors, OfAnUnclosedBlockNameALine) {
  const auto errors = ErrorsIn(Changed("  }\n}\ndevice", "  }\ndevice"));
  ASSERT_FALSE(errors.empty());
  EXPECT_GT(errors[0].line, 9);
}

TEST(SettingsErrors, StandInTheStatus) {
  std::vector<SettingsError> errors;
  const auto settings = ParseSettings(Changed("contact_time_s: 60", "contact_time_s: 0"), &errors);
  EXPECT_EQ(settings.status().code(), absl::StatusCode::kInvalidArgument);
  EXPECT_THAT(std::string(settings.status().message()),
              HasSubstr("line 40, cleaning_products[0].contact_time_s: is 0"));
}

TEST(SettingsErrors, EndForAnyText) {
  for (const char* text : {"", "{", "}", "version", "version:", "version: '", "a { b { c {",
                           "branches: [", "branches { id: } places {", "\x00\x01",
                           "version: 'x' ;;", "models < id: 'x' }", "x: 1 x: 1 x: 1"}) {
    EXPECT_FALSE(ErrorsIn(text).empty()) << text;
  }
}

}  // namespace
}  // namespace ferrule::depot
