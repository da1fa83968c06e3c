#include "core/outlook/what_if.h"

#include "gmock/gmock.h"
#include "google/protobuf/text_format.h"
#include "gtest/gtest.h"
#include "tests/core/outlook/built_records.h"

namespace ferrule::outlook {
namespace {

using ::testing::HasSubstr;

v1::ReportWhatIfRequest Ask(const std::string& changes) {
  v1::ReportWhatIfRequest request;
  EXPECT_TRUE(google::protobuf::TextFormat::ParseFromString(changes, &request)) << changes;
  request.set_branch("north");
  request.set_device_class("knee");
  request.set_path_count(300);
  return request;
}

double Row(const v1::ReportWhatIfResponse& response, const std::string& part, bool changed) {
  for (const v1::WhatIfRow& row : response.rows())
    if (row.text().find(part) != std::string::npos)
      return changed ? row.changed_value() : row.base_value();
  ADD_FAILURE() << part;
  return 0;
}

class WhatIfOnSteady : public ::testing::Test {
 protected:
  WhatIfOnSteady() { FillSteady(&built_, 700, 9); }
  v1::ReportWhatIfResponse Must(const std::string& changes) {
    const auto response = WhatIf(built_.AsOf(At(700)), Ask(changes), At(700));
    EXPECT_TRUE(response.ok()) << response.status();
    return *response;
  }
  BuiltRecords built_;
};

TEST_F(WhatIfOnSteady, TwoUnitsMoreLoseFewer) {
  const auto r = Must("changes { more_units { more_count: 2 } }");
  EXPECT_EQ(Row(r, "coming 56 days: units", true), 11);
  EXPECT_EQ(Row(r, "coming 56 days: orders that want", false),
            Row(r, "coming 56 days: orders that want", true));
  EXPECT_LE(Row(r, "coming 56 days: orders without", true),
            Row(r, "coming 56 days: orders without", false));
  EXPECT_LT(Row(r, "unit-days short", true), Row(r, "unit-days short", false));
}

TEST_F(WhatIfOnSteady, AShorterLengthAndTurnaroundFreeUnits) {
  const auto length = Must("changes { other_length { from_days: 21 to_days: 14 } }");
  EXPECT_LT(length.days(50).changed_units(), length.days(50).base_units() - 1);
  EXPECT_LT(Row(length, "unit-days used", true), Row(length, "unit-days used", false));
  const auto cycle = Must("changes { other_turnaround { more_days: -1 } }");
  EXPECT_LT(cycle.days(50).changed_units(), cycle.days(50).base_units());
}

TEST_F(WhatIfOnSteady, APrescriberWhoIsAwayBringsNothing) {
  const std::string from = "from_date { year: 2026 month: 9 day: 14 }";  // within the horizon
  const auto r = Must("changes { prescriber_away { prescriber: 'D-1' " + from +
                      " through_date { year: 2026 month: 9 day: 27 } } }");
  EXPECT_LT(Row(r, "orders that want", true), Row(r, "orders that want", false));
  EXPECT_LT(Row(r, "recorded 52 weeks: orders", true), Row(r, "recorded 52 weeks: orders", false));
  EXPECT_THAT(r.change_texts(0), HasSubstr("100 % of the orders"));
}

TEST_F(WhatIfOnSteady, MoreOrdersAndClosets) {
  const auto more = Must("changes { other_demand { factor_ratio: 1.5 } }");
  EXPECT_GT(more.days(55).changed_units(), more.days(55).base_units());
  const auto closet = Must("changes { closet_par { par_count: 3 } }");
  EXPECT_EQ(Row(closet, "coming 56 days: units", true), 6);
}

TEST_F(WhatIfOnSteady, TheSameSeedGivesTheSameAnswer) {
  const std::string change = "changes { more_units { more_count: 1 } } seed: 7";
  EXPECT_EQ(Must(change).SerializeAsString(), Must(change).SerializeAsString());
}

TEST_F(WhatIfOnSteady, WhatMakesNoSenseIsTold) {
  const Records& records = built_.AsOf(At(700));
  for (const char* wrong :
       {"", "changes { }", "changes { more_units { } }", "changes { other_length { } }",
        "changes { other_turnaround { more_days: 61 } }", "changes { other_demand { } }",
        "changes { closet_par { par_count: -1 } }", "changes { prescriber_away { } }",
        "changes { prescriber_away { prescriber: 'D-1' } }",
        "changes { more_units { more_count: 1 } } path_count: 7"}) {
    v1::ReportWhatIfRequest request;
    ASSERT_TRUE(google::protobuf::TextFormat::ParseFromString(wrong, &request));
    request.set_branch("north");
    request.set_device_class("knee");
    EXPECT_EQ(WhatIf(records, request, At(700)).status().code(), absl::StatusCode::kInvalidArgument)
        << wrong;
  }
  EXPECT_EQ(WhatIf(records,
                   Ask("changes { prescriber_away { prescriber: 'D-9' from_date { year: 2026 "
                       "month: 9 day: 1 } through_date { year: 2026 month: 9 day: 2 } } }"),
                   At(700))
                .status()
                .code(),
            absl::StatusCode::kNotFound);
}

}  // namespace
}  // namespace ferrule::outlook
