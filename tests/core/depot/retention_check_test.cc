#include "core/depot/retention_check.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "google/protobuf/text_format.h"

namespace ferrule::depot {
namespace {

using ::testing::ElementsAre;
using ::testing::IsEmpty;

std::vector<std::string> Wrong(const std::string& rule) {
  v1::Settings settings;
  if (!google::protobuf::TextFormat::ParseFromString("retention_rules {" + rule + "}", &settings)) {
    throw std::invalid_argument(rule);
  }
  std::vector<SettingsError> errors;
  CheckRetention(settings, &errors);
  std::vector<std::string> fields;
  for (const SettingsError& error : errors) fields.push_back(error.field);
  return fields;
}

TEST(RetentionSettings, AreGivenWhole) {
  EXPECT_THAT(Wrong("kind: RECORD_KIND_PATIENT anchor: RETENTION_ANCHOR_ENDED month_count: 72 "
                    "source: 'house rule'"),
              IsEmpty());
  EXPECT_THAT(Wrong(""),
              ElementsAre("retention_rules[0].kind", "retention_rules[0].anchor",
                          "retention_rules[0].month_count", "retention_rules[0].source"));
  EXPECT_THAT(Wrong("kind: RECORD_KIND_PATIENT anchor: RETENTION_ANCHOR_ENDED month_count: 1201 "
                    "source: 's'"),
              ElementsAre("retention_rules[0].month_count"));
}

TEST(RetentionSettings, CountFromADayThatTheRecordHas) {
  const auto of = [](const char* kind, const char* anchor) {
    return Wrong(std::string("month_count: 1 source: 's' kind: RECORD_KIND_") + kind +
                 " anchor: RETENTION_ANCHOR_" + anchor);
  };
  EXPECT_THAT(of("MESSAGE", "RECEIVED"), IsEmpty());
  EXPECT_THAT(of("MESSAGE", "BILLED"), IsEmpty());
  EXPECT_THAT(of("COMPLAINT_PAPERS", "CLOSED"), IsEmpty());
  EXPECT_THAT(of("PATIENT", "CLOSED"), ElementsAre("retention_rules[0].anchor"));
  EXPECT_THAT(of("PATIENT", "RECEIVED"), ElementsAre("retention_rules[0].anchor"));
  EXPECT_THAT(of("COMPLAINT_PAPERS", "ENDED"), ElementsAre("retention_rules[0].anchor"));
}

}  // namespace
}  // namespace ferrule::depot
