// Tests core/papers/ladder.cc.
#include "core/papers/ladder.h"

#include <gtest/gtest.h>

#include "core/time/civil.h"
#include "google/protobuf/text_format.h"

namespace ferrule::papers {
namespace {

const absl::TimeZone kZone = time::Zone("America/New_York").value();

template <class Message>
Message Parse(const std::string& text) {
  Message message;
  EXPECT_TRUE(google::protobuf::TextFormat::ParseFromString(text, &message)) << text;
  return message;
}

// Failed so often, the last time on 2026-03-23 at 23:00 in New York, when Greenwich has the 24th.
v1::OrderState Failed(int count, const std::string& more = "") {
  auto order = Parse<v1::OrderState>(
      "pickup_failed { time { seconds: 1774321200 } } pickup_failed_outcome: 'nobody home' " +
      more);
  order.set_failed_pickup_count(count);
  return order;
}

const v1::ContactPolicy kPolicy = Parse<v1::ContactPolicy>(
    "ladder { action: 'ring and agree another day' within_days: 1 } "
    "ladder { action: 'send a letter' within_days: 5 } ladder { action: 'send a certified letter' "
    "within_days: 10 }");

TEST(Ladder, EachFailureLeadsToTheNextStepUntilTheLast) {
  EXPECT_EQ(NextStepOf(Failed(1), kPolicy, kZone)->text,
            "1 pick-up failed, the last 2026-03-23 (nobody home); next: ring and agree another "
            "day, by 2026-03-24");
  EXPECT_EQ(NextStepOf(Failed(2), kPolicy, kZone)->by, absl::CivilDay(2026, 3, 28));
  for (int count : {3, 4, 40}) {
    EXPECT_EQ(NextStepOf(Failed(count), kPolicy, kZone)->by, absl::CivilDay(2026, 4, 2)) << count;
  }
}

TEST(Ladder, WithoutOneTheSettingsAreNamed) {
  const auto next = NextStepOf(Failed(2), {}, kZone);
  ASSERT_TRUE(next);
  EXPECT_FALSE(next->by);
  EXPECT_EQ(next->text,
            "2 pick-ups failed, the last 2026-03-23 (nobody home); the settings say no next step "
            "(contact_policy.ladder)");
}

TEST(Ladder, AnotherAgreedDayEndsItAndTheHistoryStays) {
  const v1::OrderState agreed = Failed(2, "pickup_agreed { time { seconds: 1774400000 } }");
  EXPECT_FALSE(NextStepOf(agreed, kPolicy, kZone));
  EXPECT_EQ(FailedPickups(agreed, kZone), "2 pick-ups failed, the last 2026-03-23 (nobody home)");
  const v1::OrderState before = Failed(2, "pickup_agreed { time { seconds: 1774000000 } }");
  EXPECT_TRUE(NextStepOf(before, kPolicy, kZone)) << "agreed before it failed";
}

TEST(Ladder, WithoutAFailureThereIsNoStep) {
  EXPECT_FALSE(NextStepOf({}, kPolicy, kZone));
  EXPECT_EQ(FailedPickups({}, kZone), "");
}

}  // namespace
}  // namespace ferrule::papers
