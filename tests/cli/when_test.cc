#include "cli/when.h"

#include "core/time/civil.h"
#include "gtest/gtest.h"

namespace ferrule::cli {
namespace {

class When : public ::testing::Test {
 protected:
  When() { EXPECT_TRUE(absl::LoadTimeZone("America/New_York", &zone_)); }

  std::string Read(const std::string& text) {
    const auto instant = ParseWhen(text, now_us_, zone_);
    return instant.ok() ? time::FormatUtc(*instant) : "no time";
  }
  std::string ReadDay(const std::string& text) {
    const auto day = ParseDayWord(text, now_us_, zone_);
    return day.ok() ? time::FormatDay(*day) : "no day";
  }

  absl::TimeZone zone_;
  // 2026-11-25 22:30 in New York, which is already the next day in UTC.
  int64_t now_us_ = 1'795'663'800'000'000;
};

TEST_F(When, ReadsClockTimesOfTheLocalDay) {
  EXPECT_EQ(time::FormatUtc(now_us_), "2026-11-26T03:30:00Z");
  EXPECT_EQ(Read("now"), "2026-11-26T03:30:00Z");
  EXPECT_EQ(Read("14:05"), "2026-11-25T19:05:00Z");
  EXPECT_EQ(Read("9:05"), "2026-11-25T14:05:00Z");
  EXPECT_EQ(Read("today 14:05"), "2026-11-25T19:05:00Z");
  EXPECT_EQ(Read("yesterday 14:05"), "2026-11-24T19:05:00Z");
}

TEST_F(When, ReadsFullTimesAndDays) {
  EXPECT_EQ(Read("2026-11-25 14:05"), "2026-11-25T19:05:00Z");
  EXPECT_EQ(Read("2026-07-01 14:05"), "2026-07-01T18:05:00Z");  // summer time
  EXPECT_EQ(Read("2026-11-25"), "2026-11-25T05:00:00Z");
  EXPECT_EQ(Read("2026-11-25T14:05:00+01:00"), "2026-11-25T13:05:00Z");
  EXPECT_EQ(Read("2026-11-25T14:05:00Z"), "2026-11-25T14:05:00Z");
}

TEST_F(When, RefusesWhatIsNoTime) {
  for (const char* text : {"", "noon", "25:00", "14:60", "2026-13-01 10:00", "2026-02-30",
                           "yesterday", "14:05 yesterday", "2026-11-25 14:05 "}) {
    EXPECT_EQ(Read(text), "no time") << text;
  }
}

TEST_F(When, KnowsWhatNeedsNoZone) {
  EXPECT_TRUE(IsAbsoluteTime("now"));
  EXPECT_TRUE(IsAbsoluteTime("2026-11-25T14:05:00Z"));
  EXPECT_TRUE(IsAbsoluteTime("2026-11-25T14:05:00-05:00"));
  EXPECT_FALSE(IsAbsoluteTime("2026-11-25 14:05"));
  EXPECT_FALSE(IsAbsoluteTime("2026-11-25"));
  EXPECT_FALSE(IsAbsoluteTime("14:05"));
}

TEST_F(When, ReadsDays) {
  EXPECT_EQ(ReadDay("today"), "2026-11-25");
  EXPECT_EQ(ReadDay("tomorrow"), "2026-11-26");
  EXPECT_EQ(ReadDay("yesterday"), "2026-11-24");
  EXPECT_EQ(ReadDay("2024-02-29"), "2024-02-29");
  EXPECT_EQ(ReadDay("2026-02-29"), "no day");
  EXPECT_EQ(ReadDay("next week"), "no day");
}

}  // namespace
}  // namespace ferrule::cli
