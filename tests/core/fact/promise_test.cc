#include "core/fact/promise.h"

#include <gtest/gtest.h>

#include "core/time/civil.h"
#include "google/protobuf/text_format.h"

namespace ferrule::fact {
namespace {

v1::StandingPromise Days(int from, int through) {
  v1::StandingPromise promise;
  *promise.mutable_from_date() = time::FromDay(absl::CivilDay(2026, 3, from));
  *promise.mutable_through_date() = time::FromDay(absl::CivilDay(2026, 3, through));
  return promise;
}

TEST(Promise, SharesADayWhenTheEndsTouch) {
  EXPECT_TRUE(ShareDays(Days(5, 9), Days(9, 12)));
  EXPECT_TRUE(ShareDays(Days(9, 12), Days(5, 9)));
  EXPECT_TRUE(ShareDays(Days(5, 20), Days(9, 12)));
  EXPECT_FALSE(ShareDays(Days(5, 8), Days(9, 12)));
  EXPECT_FALSE(ShareDays(Days(5, 8), v1::StandingPromise()));
}

TEST(Promise, BindsThroughItsLastLocalDay) {
  const absl::TimeZone berlin = time::Zone("Europe/Berlin").value();
  const v1::StandingPromise promise = Days(5, 9);
  const int64_t end_us = time::StartOfDayMicros(absl::CivilDay(2026, 3, 10), berlin);
  EXPECT_FALSE(PromiseLapsed(promise, end_us - 1, berlin));
  EXPECT_TRUE(PromiseLapsed(promise, end_us, berlin));
}

TEST(Promise, BindsUpToItsTimeNotAtIt) {
  v1::StandingPromise promise = Days(5, 9);
  const int64_t until_us = time::StartOfDayMicros(absl::CivilDay(2026, 3, 6), absl::UTCTimeZone());
  time::SetMicros(until_us, promise.mutable_until_time());
  EXPECT_FALSE(PromiseLapsed(promise, until_us - 1, absl::UTCTimeZone()));
  EXPECT_TRUE(PromiseLapsed(promise, until_us, absl::UTCTimeZone()));
}

TEST(Promise, IsMadeByItsFactWithAStamp) {
  v1::Entry entry;
  entry.set_entry_id("e-1");
  entry.set_actor("intake-ida");
  ASSERT_TRUE(google::protobuf::TextFormat::ParseFromString(
      "unit_promised { unit: 'K-1' order: 'R-1' from_date { year: 2026 month: 3 day: 5 } "
      "through_date { year: 2026 month: 3 day: 9 } firm: true after_order: 'R-0' "
      "odds_permille: 850 }",
      entry.add_facts()));
  const v1::StandingPromise promise = PromiseOf({&entry, 0, 1'000'000, 2'000'000, 1});
  EXPECT_EQ(promise.unit(), "K-1");
  EXPECT_EQ(promise.after_order(), "R-0");
  EXPECT_EQ(promise.promised().actor(), "intake-ida");
  EXPECT_EQ(time::ToMicros(promise.promised().time()), 1'000'000);
  EXPECT_EQ(FirstDayWords(promise), "2026-03-05");
  EXPECT_EQ(LastDayWords(promise), "2026-03-09");
  EXPECT_EQ(FirstDayWords(v1::StandingPromise()), "");
}

}  // namespace
}  // namespace ferrule::fact
