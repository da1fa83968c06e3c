#include "core/exchange/order_facts.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "core/fact/validate.h"
#include "core/time/civil.h"
#include "tests/core/exchange/sender.h"

namespace ferrule::exchange {
namespace {

using ::testing::ElementsAre;
using ::testing::IsEmpty;

std::string Hash(std::string_view) { return std::string(64, 'c'); }

TEST(OrderIds, AreTheSendersNumberWhereItIsAnId) {
  const v1::Sender sender = testing::ClinicSender();
  EXPECT_EQ(OrderIdOf(sender, "ORD1", Hash), "E-ORD1");
  EXPECT_EQ(OrderIdOf(sender, "no blank", Hash), "E-xcccccccccccccccccccc");
  EXPECT_EQ(OrderIdOf(sender, std::string(70, '1'), Hash), "E-xcccccccccccccccccccc");
}

v1::OrderState WithVersions(std::initializer_list<std::pair<int64_t, int64_t>> versions) {
  v1::OrderState order;
  for (const auto& [version, us] : versions) {
    v1::OrderSource& source = *order.add_sources();
    source.set_sender_version(version);
    time::SetMicros(us, source.mutable_received()->mutable_time());
  }
  return order;
}

// Exceptions 7, 86 and 88: versions rule, and the clock is corrected where it contradicts them.
TEST(TrueTimes, FollowTheVersionsWhereTheClockContradictsThem) {
  const v1::OrderState order = WithVersions({{10, 1'000}, {30, 3'000}});
  EXPECT_EQ(TrueTime(&order, 20, 2'000, 9'000), 2'000);
  EXPECT_EQ(TrueTime(&order, 20, 500, 9'000), 1'000);
  EXPECT_EQ(TrueTime(&order, 20, 5'000, 9'000), 3'000);
  EXPECT_EQ(TrueTime(&order, 40, 100, 9'000), 3'000);
  EXPECT_EQ(TrueTime(&order, 5, 7'000, 9'000), 1'000);
  EXPECT_EQ(TrueTime(&order, 40, 20'000, 9'000), 9'000);  // not after now
  EXPECT_EQ(TrueTime(nullptr, 1, 0, 9'000), 9'000);
  EXPECT_EQ(TrueTime(&order, 0, 50, 9'000), 50);  // without a version the clock stands
}

TEST(MessageEntries, AreWellFormedAndCarryTheDigestOnly) {
  const v1::Sender sender = testing::ClinicSender();
  OrderNews news;
  news.number = "ORD1";
  news.version = 7;
  news.stated_us = 1'772'000'000'000'000;
  news.details.set_device_class("knee");
  news.patient = "PT1";
  v1::OrderState held;
  held.set_status(v1::ORDER_STATUS_HELD);
  held.set_unit("K-1");
  MessageFacts facts{"in-m-1",
                     "intake/clinic-ehr",
                     "m-1",
                     std::string(64, 'a'),
                     v1::MESSAGE_KIND_HL7_V2,
                     &sender,
                     "2026-01",
                     1'773'000'000'000'000};
  v1::Entry entry = EntryOf({{&news, "E-ORD1", "p-1", nullptr}}, facts);
  EXPECT_THAT(fact::Validate(entry), IsEmpty());
  ASSERT_EQ(entry.facts_size(), 2);
  EXPECT_EQ(entry.facts(0).order_taken().details().patient(), "p-1");
  EXPECT_EQ(entry.facts(1).order_message_received().sender_version(), 7);
  EXPECT_EQ(entry.order_number(), 7);
  EXPECT_EQ(entry.DebugString().find("PT1"), std::string::npos);
  // A cancelled order's unit is let go in the same entry.
  news.control = OrderNews::Control::kCancel;
  entry = EntryOf({{&news, "E-ORD1", "p-1", &held}}, facts);
  ASSERT_EQ(entry.facts_size(), 3);
  EXPECT_EQ(entry.facts(2).order_hold_released().unit(), "K-1");
}

TEST(OrderDifferences, NameTheFieldBeforeAndAfter) {
  v1::OrderState before;
  before.set_order("R-1");
  before.mutable_details()->set_side(v1::SIDE_LEFT);
  before.mutable_details()->set_facility("clinic");
  v1::OrderState after = before;
  after.mutable_details()->set_side(v1::SIDE_RIGHT);
  after.mutable_details()->clear_facility();
  after.mutable_details()->mutable_motion()->set_flexion_deg(90);
  std::vector<std::string> seen;
  for (const v1::OrderChange& c : Differences(before, after)) {
    seen.push_back(c.field() + " " + c.before() + ">" + c.after());
  }
  EXPECT_THAT(seen, ElementsAre("details.side SIDE_LEFT>SIDE_RIGHT",
                                "details.motion.flexion_deg >90", "details.facility clinic>"));
}

TEST(ContentKeys, AreThereOnlyWhenTheyCanTellOrdersApart) {
  v1::OrderDetails d;
  d.set_device_class("knee");
  EXPECT_EQ(ContentKey("p-1", d), "");
  *d.mutable_surgery_date() = time::FromDay(absl::CivilDay(2026, 3, 2));
  EXPECT_EQ(ContentKey("p-1", d), "p-1|knee|0|2026-03-02");
  EXPECT_EQ(ContentKey("", d), "");
}

}  // namespace
}  // namespace ferrule::exchange
