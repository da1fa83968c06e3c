#include "core/access/rights.h"

#include <gtest/gtest.h>

#include "core/time/civil.h"
#include "google/protobuf/text_format.h"

namespace ferrule::access {
namespace {

constexpr char kPlaces[] = R"(version: '1'
  branches { id: 'north' time_zone: 'America/New_York' }
  branches { id: 'south' time_zone: 'Europe/Berlin' })";
constexpr char kRules[] = R"(version: '1'
  grants { principal: 'ada' role: 'technician' branches: 'north' }
  grants { principal: 'bo' role: 'manager' from_date { year: 2026 month: 3 day: 2 }
           to_date { year: 2026 month: 3 day: 3 } }
  grants { principal: 'cy' role: 'rep' branches: ['north', 'south']
           from_date { year: 2026 month: 3 day: 2 } })";

Rights Of(const char* who, const char* when) {
  v1::Settings settings;
  v1::AccessRules rules;
  EXPECT_TRUE(google::protobuf::TextFormat::ParseFromString(kPlaces, &settings));
  EXPECT_TRUE(google::protobuf::TextFormat::ParseFromString(kRules, &rules));
  return Rights(rules, depot::Rules(settings), who, *time::ParseInstant(when, absl::UTCTimeZone()));
}

TEST(Rights, HoldInTheirBranchAndNotInAnother) {
  const Rights ada = Of("ada", "2026-03-02T12:00:00Z");
  EXPECT_TRUE(ada.Has(v1::RIGHT_RECORD_BENCH, "north"));
  EXPECT_FALSE(ada.Has(v1::RIGHT_RECORD_BENCH, "south"));
  EXPECT_FALSE(ada.HasEverywhere(v1::RIGHT_RECORD_BENCH));
  EXPECT_TRUE(ada.HasAnywhere(v1::RIGHT_RECORD_BENCH));
}

TEST(Rights, HoldInEveryBranchWhenNoneIsNamed) {
  EXPECT_TRUE(Of("bo", "2026-03-02T12:00:00Z").HasEverywhere(v1::RIGHT_RECORD_FLEET));
}

TEST(Rights, EndWithTheLastDayOfTheFirstBranchsZone) {
  // The last day ends at 05:00 UTC in New York.
  EXPECT_FALSE(Of("bo", "2026-03-04T04:59:00Z").empty());
  EXPECT_TRUE(Of("bo", "2026-03-04T05:00:00Z").empty());
}

TEST(Rights, BeginInEachBranchWithItsOwnDay) {
  const Rights cy = Of("cy", "2026-03-02T00:00:00Z");  // 2 March in Berlin, 1 March in New York
  EXPECT_TRUE(cy.Has(v1::RIGHT_RECORD_HOME, "south"));
  EXPECT_FALSE(cy.Has(v1::RIGHT_RECORD_HOME, "north"));
}

TEST(Rights, NobodyHasAnyWithoutAGrant) {
  EXPECT_TRUE(Of("eve", "2026-03-02T12:00:00Z").empty());
  EXPECT_FALSE(Rights().HasAnywhere(v1::RIGHT_READ_FLEET));
}

}  // namespace
}  // namespace ferrule::access
