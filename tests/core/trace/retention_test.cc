#include "core/trace/retention.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <string>

#include "core/time/civil.h"
#include "google/protobuf/text_format.h"

namespace ferrule::trace {
namespace {

using ::testing::ElementsAre;
using ::testing::HasSubstr;

using Day = absl::CivilDay;

v1::Settings Rules(const std::string& text) {
  v1::Settings settings;
  if (!google::protobuf::TextFormat::ParseFromString(text, &settings)) {
    throw std::invalid_argument(text);
  }
  return settings;
}

const char* const kSevenFromHandOver =
    "retention_rules { kind: RECORD_KIND_PATIENT anchor: RETENTION_ANCHOR_DELIVERED "
    "month_count: 84 source: 'seven years from the service' } ";
const char* const kSixFromEnd =
    "retention_rules { kind: RECORD_KIND_PATIENT anchor: RETENTION_ANCHOR_ENDED month_count: 72 "
    "source: 'six years from the end' } ";

OrderDays Over(const std::string& name, Day delivered, Day ended) {
  OrderDays order;
  order.name = name;
  order.patient = "P-1";
  order.delivered = delivered;
  order.ended = ended;
  order.last = ended;
  return order;
}

KeptRecord Patient(std::vector<const OrderDays*> orders) {
  KeptRecord record;
  record.kind = v1::RECORD_KIND_PATIENT;
  record.resource = "patients/P-1";
  record.orders = std::move(orders);
  return record;
}

Day DueOf(const v1::RecordDue& due) { return time::ToDay(due.due_date()); }

TEST(Retention, MonthsEndOnTheSameNumberOrTheLastOfTheMonth) {
  EXPECT_EQ(FirstFreeDay(Day(2020, 1, 15), 12), Day(2021, 1, 16));
  EXPECT_EQ(FirstFreeDay(Day(2024, 2, 29), 12), Day(2025, 3, 1));
  EXPECT_EQ(FirstFreeDay(Day(2024, 2, 29), 48), Day(2028, 3, 1));
  EXPECT_EQ(FirstFreeDay(Day(2023, 10, 31), 1), Day(2023, 12, 1));
  EXPECT_EQ(FirstFreeDay(Day(2023, 12, 31), 2), Day(2024, 3, 1));
}

// Delivered 2018-03-05, ended 2019-06-01: seven years from the one is 2025-03-05, six from the
// other 2025-06-01, which is longer although its months are fewer.
TEST(Retention, TheLongestRuleWins) {
  const OrderDays order = Over("orders/R-1", Day(2018, 3, 5), Day(2019, 6, 1));
  const v1::Settings both = Rules(std::string(kSevenFromHandOver) + kSixFromEnd);
  const v1::RecordDue before = Assess(Patient({&order}), both, Day(2025, 6, 1));
  EXPECT_FALSE(before.due());
  EXPECT_EQ(DueOf(before), Day(2025, 6, 2));
  EXPECT_EQ(before.rule().source(), "six years from the end");
  EXPECT_THAT(before.kept_because(), HasSubstr("kept until 2025-06-01"));
  const v1::RecordDue after = Assess(Patient({&order}), both, Day(2025, 6, 2));
  EXPECT_TRUE(after.due());
  EXPECT_EQ(after.kept_because(), "");
  EXPECT_EQ(DueOf(Assess(Patient({&order}), Rules(kSevenFromHandOver), Day(2025, 6, 2))),
            Day(2025, 3, 6));
}

TEST(Retention, TheLatestOfAllOrdersCounts) {
  const OrderDays old = Over("orders/R-1", Day(2010, 3, 5), Day(2010, 4, 1));
  const OrderDays late = Over("orders/R-2", Day(2018, 3, 5), Day(2018, 4, 1));
  const v1::RecordDue due = Assess(Patient({&old, &late}), Rules(kSixFromEnd), Day(2024, 4, 2));
  EXPECT_TRUE(due.due());
  EXPECT_THAT(due.orders(), ElementsAre("orders/R-2", "orders/R-1"));
  EXPECT_EQ(time::ToDay(due.anchor_date()), Day(2018, 4, 1));
}

TEST(Retention, NothingIsDueWhileOneOrderRuns) {
  const OrderDays old = Over("orders/R-1", Day(2010, 3, 5), Day(2010, 4, 1));
  OrderDays running = Over("orders/R-2", Day(2011, 3, 5), Day(2011, 4, 1));
  running.running = true;
  const v1::RecordDue due = Assess(Patient({&old, &running}), Rules(kSixFromEnd), Day(2040, 1, 1));
  EXPECT_FALSE(due.due());
  EXPECT_FALSE(due.has_due_date());
  EXPECT_EQ(due.kept_because(), "orders/R-2 is not over");
}

TEST(Retention, AHoldBeatsEveryRule) {
  OrderDays order = Over("orders/R-1", Day(2010, 3, 5), Day(2010, 4, 1));
  v1::RecordsHold hold;
  hold.set_matter("claim-4");
  hold.set_because("the payer disputes it");
  order.standing.push_back(hold);
  const v1::RecordDue due = Assess(Patient({&order}), Rules(kSixFromEnd), Day(2040, 1, 1));
  EXPECT_FALSE(due.due());
  EXPECT_EQ(DueOf(due), Day(2016, 4, 2));
  EXPECT_EQ(due.kept_because(), "held for claim-4: the payer disputes it");
}

TEST(Retention, WithoutARuleOrADayNothingIsDue) {
  const OrderDays order = Over("orders/R-1", Day(2010, 3, 5), Day(2010, 4, 1));
  EXPECT_THAT(Assess(Patient({&order}), Rules(""), Day(2040, 1, 1)).kept_because(),
              HasSubstr("no rule says how long"));
  EXPECT_THAT(Assess(Patient({}), Rules(kSixFromEnd), Day(2040, 1, 1)).kept_because(),
              HasSubstr("no order names it"));
}

// Never billed: counts from the order's last fact.
TEST(Retention, AnOrderWithoutTheDayCountsFromItsLastFact) {
  OrderDays order = Over("orders/R-1", Day(2010, 3, 5), Day(2010, 4, 1));
  order.last = Day(2010, 7, 9);
  const v1::Settings billed = Rules(
      "retention_rules { kind: RECORD_KIND_PATIENT anchor: RETENTION_ANCHOR_BILLED month_count: 12 "
      "source: 's' }");
  EXPECT_EQ(DueOf(Assess(Patient({&order}), billed, Day(2040, 1, 1))), Day(2011, 7, 10));
  order.billed = Day(2010, 3, 31);
  EXPECT_EQ(DueOf(Assess(Patient({&order}), billed, Day(2040, 1, 1))), Day(2011, 4, 1));
}

TEST(Retention, AMessageOfNoOrderCountsFromItsOwnDay) {
  KeptRecord message;
  message.kind = v1::RECORD_KIND_MESSAGE;
  message.received = Day(2020, 1, 1);
  const v1::Settings rules = Rules(
      "retention_rules { kind: RECORD_KIND_MESSAGE anchor: RETENTION_ANCHOR_ENDED month_count: 24 "
      "source: 's' }");
  EXPECT_EQ(DueOf(Assess(message, rules, Day(2040, 1, 1))), Day(2022, 1, 2));
}

TEST(Retention, AnOpenComplaintIsKept) {
  KeptRecord complaint;
  complaint.kind = v1::RECORD_KIND_COMPLAINT_PAPERS;
  complaint.received = Day(2020, 1, 1);
  complaint.open = true;
  const v1::Settings rules = Rules(
      "retention_rules { kind: RECORD_KIND_COMPLAINT_PAPERS anchor: RETENTION_ANCHOR_CLOSED "
      "month_count: 12 source: 's' }");
  EXPECT_EQ(Assess(complaint, rules, Day(2040, 1, 1)).kept_because(), "it is not closed");
  complaint.open = false;
  complaint.closed = Day(2020, 2, 3);
  EXPECT_EQ(DueOf(Assess(complaint, rules, Day(2040, 1, 1))), Day(2021, 2, 4));
}

TEST(Retention, DaysOfAnOrderAreThoseOfItsLastUnitAndItsBills) {
  v1::SubjectState state;
  state.set_name("orders/R-1");
  ASSERT_TRUE(google::protobuf::TextFormat::ParseFromString(
      "status: ORDER_STATUS_CLOSED details { patient: 'P-1' } "
      "handed_over_date { year: 2020 month: 1 day: 2 } "
      "legs { unit: 'K-1' to { actor: 'x' } to_date { year: 2020 month: 1 day: 9 } } "
      "legs { unit: 'K-2' to { actor: 'x' } to_date { year: 2020 month: 1 day: 30 } } "
      "billed { through_date { year: 2020 month: 1 day: 20 } } "
      "records_holds { matter: 'a' released { actor: 'x' } } records_holds { matter: 'b' }",
      state.mutable_order()));
  OrderDays days = DaysOf(state, absl::UTCTimeZone());
  EXPECT_FALSE(days.running);
  EXPECT_EQ(days.delivered, Day(2020, 1, 2));
  EXPECT_EQ(days.ended, Day(2020, 1, 30));
  EXPECT_EQ(days.billed, Day(2020, 1, 20));
  ASSERT_EQ(days.standing.size(), 1u);
  EXPECT_EQ(days.standing[0].matter(), "b");
  state.mutable_order()->set_status(v1::ORDER_STATUS_ON_RENT);
  days = DaysOf(state, absl::UTCTimeZone());
  EXPECT_TRUE(days.running);
  EXPECT_FALSE(days.ended.has_value());
}

}  // namespace
}  // namespace ferrule::trace
