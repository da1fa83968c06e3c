#include "core/depot/cover_check.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <string>

#include "google/protobuf/text_format.h"

namespace ferrule::depot {
namespace {

using ::testing::ElementsAre;
using ::testing::IsEmpty;

std::vector<std::string> Wrong(const std::string& text) {
  v1::Settings settings;
  EXPECT_TRUE(google::protobuf::TextFormat::ParseFromString(
      "device_classes { id: 'knee' } procedures { id: '27447' } " + text, &settings))
      << text;
  std::vector<SettingsError> errors;
  CheckCover(settings, &errors);
  std::vector<std::string> fields;
  for (const SettingsError& error : errors) {
    EXPECT_FALSE(error.message.empty());
    fields.push_back(error.field);
  }
  return fields;
}

std::string Rule(const std::string& rule) {
  return "payer_terms { id: 'p' rules { readings { id: 'a' anchor: COVER_ANCHOR_SURGERY "
         "length_days: 21 } " +
         rule + " } }";
}

TEST(CoverCheck, AcceptsWholeTerms) {
  EXPECT_THAT(Wrong(""), IsEmpty());
  EXPECT_THAT(Wrong(Rule("device_classes: 'knee' procedures: '27447' amount_minor: 2500 "
                         "needs: BILLING_NEED_SIDE away_days: AWAY_DAYS_NOT_PAID")),
              IsEmpty());
  EXPECT_THAT(Wrong("payer_terms { id: 'p' rules { not_covered: true } }"), IsEmpty());
}

TEST(CoverCheck, NamesEachFieldThatIsWrong) {
  EXPECT_THAT(Wrong("payer_terms { }"), ElementsAre("payer_terms[0].id", "payer_terms[0].rules"));
  EXPECT_THAT(Wrong(Rule("") + Rule("")), ElementsAre("payer_terms[1].id"));
  EXPECT_THAT(Wrong("payer_terms { id: 'p' rules { } }"),
              ElementsAre("payer_terms[0].rules[0].readings"));
  EXPECT_THAT(Wrong(Rule("device_classes: 'hip'")),
              ElementsAre("payer_terms[0].rules[0].device_classes[0]"));
  EXPECT_THAT(Wrong(Rule("procedures: 'none'")),
              ElementsAre("payer_terms[0].rules[0].procedures[0]"));
  EXPECT_THAT(Wrong(Rule("home_only: true away_days: AWAY_DAYS_PAID")),
              ElementsAre("payer_terms[0].rules[0].away_days"));
  EXPECT_THAT(Wrong(Rule("amount_minor: -1 interruption_days: 400 most_months: -1 "
                         "early_delivery_days: 31 needs: BILLING_NEED_UNSPECIFIED")),
              ElementsAre("payer_terms[0].rules[0].amount_minor",
                          "payer_terms[0].rules[0].interruption_days",
                          "payer_terms[0].rules[0].most_months", "payer_terms[0].rules[0].needs[0]",
                          "payer_terms[0].rules[0].early_delivery_days"));
  EXPECT_THAT(
      Wrong(Rule("readings { id: 'a' anchor_day_number: 2 length_days: -1 start { most: -1 } }")),
      ElementsAre("payer_terms[0].rules[0].readings[1].id",
                  "payer_terms[0].rules[0].readings[1].anchor",
                  "payer_terms[0].rules[0].readings[1].anchor_day_number",
                  "payer_terms[0].rules[0].readings[1].length_days",
                  "payer_terms[0].rules[0].readings[1].start.anchor",
                  "payer_terms[0].rules[0].readings[1].start.measure",
                  "payer_terms[0].rules[0].readings[1].start.most"));
  EXPECT_THAT(Wrong("procedures { id: '27447' } procedures { id: 'x' joint: 'two words' } "
                    "holidays { date { year: 2026 month: 2 day: 30 } }"),
              ElementsAre("procedures[1].id", "procedures[2].joint", "holidays[0].date"));
}

}  // namespace
}  // namespace ferrule::depot
