#include "core/time/civil.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

namespace ferrule::time {
namespace {

using ::testing::HasSubstr;

absl::TimeZone In(const char* name) { return Zone(name).value(); }

int64_t At(const char* text, const char* zone = "UTC") {
  return ParseInstant(text, In(zone)).value();
}

double HoursBetween(const char* from, const char* to, const char* zone) {
  return static_cast<double>(At(to, zone) - At(from, zone)) / 3.6e9;
}

google::type::Date Date(int year, int month, int day) {
  google::type::Date d;
  d.set_year(year);
  d.set_month(month);
  d.set_day(day);
  return d;
}

TEST(Timestamps, GoThereAndBack) {
  for (int64_t us : {int64_t{0}, int64_t{1}, int64_t{-1}, int64_t{999'999}, int64_t{-1'000'001},
                     At("1900-01-01"), At("9999-12-31T23:59:59.999999Z")}) {
    EXPECT_EQ(ToMicros(FromMicros(us)), us);
    EXPECT_GE(FromMicros(us).nanos(), 0) << us;
  }
}

TEST(Timestamps, CutOffWhatIsFinerThanAMicrosecond) {
  google::protobuf::Timestamp t;
  t.set_seconds(7);
  t.set_nanos(1'999);
  EXPECT_EQ(ToMicros(t), 7'000'001);
}

TEST(Timestamps, OutsideTheirRangeStayInIt) {
  google::protobuf::Timestamp t;
  t.set_seconds(INT64_MAX);
  EXPECT_EQ(FormatUtc(ToMicros(t)), "9999-12-31T23:59:59Z");
  t.set_seconds(INT64_MIN);
  EXPECT_EQ(FormatUtc(ToMicros(t)), "0001-01-01T00:00:00Z");
}

TEST(Days, AreRealOrNot) {
  struct Case {
    int year, month, day;
    bool real;
  };
  // The leap rule of the Gregorian calendar, from memory.
  constexpr Case kCases[] = {
      {2026, 11, 25, true}, {2024, 2, 29, true},  {2023, 2, 29, false}, {2000, 2, 29, true},
      {1900, 2, 29, false}, {2026, 4, 31, false}, {2026, 12, 31, true}, {2026, 13, 1, false},
      {2026, 0, 1, false},  {2026, 1, 0, false},  {0, 1, 1, false},     {1, 1, 1, true},
      {9999, 12, 31, true}, {10000, 1, 1, false}, {2026, -1, 5, false},
  };
  for (const Case& c : kCases) {
    EXPECT_EQ(IsValid(Date(c.year, c.month, c.day)), c.real)
        << c.year << "-" << c.month << "-" << c.day;
  }
}

TEST(Days, GoThereAndBack) {
  const absl::CivilDay day(2024, 2, 29);
  EXPECT_EQ(ToDay(FromDay(day)), day);
  EXPECT_EQ(DayFromNumber(DayNumber(day)), day);
  EXPECT_EQ(DayNumber(absl::CivilDay(1970, 1, 1)), 0);
  EXPECT_EQ(DayNumber(absl::CivilDay(1969, 12, 31)), -1);
}

TEST(Days, AddUpOverLeapDays) {
  // Computed with plain Python: twenty days after 10 February.
  EXPECT_EQ(absl::CivilDay(2024, 2, 10) + 20, absl::CivilDay(2024, 3, 1));
  EXPECT_EQ(absl::CivilDay(2023, 2, 10) + 20, absl::CivilDay(2023, 3, 2));
}

TEST(Days, FallOnTheWeekdaysOfIso8601) {
  // ISO 8601 week dates, run with Python's isocalendar: the last digit is the weekday.
  struct Case {
    const char* day;
    absl::Weekday weekday;
  };
  const Case kCases[] = {
      {"2005-01-01", absl::Weekday::saturday},  // 2004-W53-6
      {"2006-01-01", absl::Weekday::sunday},    // 2005-W52-7
      {"2007-12-31", absl::Weekday::monday},    // 2008-W01-1
      {"2009-12-31", absl::Weekday::thursday},  // 2009-W53-4
      {"2026-01-01", absl::Weekday::thursday},  // 2026-W01-4
      {"2027-01-03", absl::Weekday::sunday},    // 2026-W53-7
  };
  for (const Case& c : kCases) {
    EXPECT_EQ(absl::GetWeekday(DayFromNumber(DayNumber(ParseDay(c.day).value()))), c.weekday)
        << c.day;
  }
}

TEST(Zones, AreIanaNamesOnly) {
  EXPECT_TRUE(Zone("Europe/Berlin").ok());
  EXPECT_TRUE(Zone("America/Argentina/Buenos_Aires").ok());
  EXPECT_TRUE(Zone("UTC").ok());
  for (const char* wrong : {"", "Europe/Berln", "CET+1:00", "../zoneinfo/Europe/Berlin",
                            "/usr/share/zoneinfo/Europe/Berlin", "localtime", "Europe Berlin"}) {
    const auto zone = Zone(wrong);
    ASSERT_FALSE(zone.ok()) << wrong;
    EXPECT_EQ(zone.status().code(), absl::StatusCode::kInvalidArgument);
    EXPECT_THAT(std::string(zone.status().message()), HasSubstr("Europe/Berlin"));
  }
}

TEST(LocalDays, AreThoseOfTheZoneAndNotOfUtc) {
  // Computed with plain Python: half past eight in the evening in Los Angeles.
  const int64_t us = At("2025-06-30 20:30", "America/Los_Angeles");
  EXPECT_EQ(FormatUtc(us), "2025-07-01T03:30:00Z");
  EXPECT_EQ(LocalDay(us, In("America/Los_Angeles")), absl::CivilDay(2025, 6, 30));
  EXPECT_EQ(LocalDay(us, In("UTC")), absl::CivilDay(2025, 7, 1));
}

TEST(LocalDays, AreNeverHoursDividedBy24) {
  // Computed with plain Python over the spring change of New York: 503 h are 21 days by dates.
  const char* zone = "America/New_York";
  EXPECT_DOUBLE_EQ(HoursBetween("2025-03-01 12:00", "2025-03-22 12:00", zone), 503);
  EXPECT_EQ(LocalDay(At("2025-03-22 12:00", zone), In(zone)) -
                LocalDay(At("2025-03-01 12:00", zone), In(zone)),
            21);
}

TEST(LocalDays, LastAsLongAsTheClockSays) {
  const char* zone = "America/New_York";
  EXPECT_DOUBLE_EQ(HoursBetween("2025-03-08 17:00", "2025-03-10 09:00", zone), 39);
  EXPECT_DOUBLE_EQ(HoursBetween("2025-11-01 17:00", "2025-11-03 09:00", zone), 41);
}

TEST(LocalDays, BeginAndEndWhereTheirNeighboursDo) {
  for (const char* name : {"UTC", "Europe/Berlin", "America/New_York", "Australia/Lord_Howe",
                           "America/Havana", "America/Santiago", "Asia/Kathmandu"}) {
    const absl::TimeZone zone = In(name);
    for (absl::CivilDay day(2025, 1, 1); day < absl::CivilDay(2026, 1, 2); ++day) {
      const int64_t begin = StartOfDayMicros(day, zone);
      EXPECT_EQ(LocalDay(begin, zone), day) << name;
      EXPECT_EQ(LocalDay(begin - 1, zone), day - 1) << name;
    }
  }
}

TEST(LocalDays, BeginAtTheChangeWhenItSkipsMidnight) {
  // Santiago went from 24:00 on 6 September 2025 to 01:00; zone database.
  const absl::TimeZone zone = In("America/Santiago");
  EXPECT_EQ(FormatLocal(StartOfDayMicros(absl::CivilDay(2025, 9, 7), zone), zone),
            "2025-09-07 01:00");
}

TEST(Parsing, ReadsDays) {
  EXPECT_EQ(ParseDay("2026-11-25").value(), absl::CivilDay(2026, 11, 25));
  EXPECT_EQ(FormatDay(ParseDay("0987-01-02").value()), "0987-01-02");
  for (const char* wrong : {"", "2026-11", "25.11.2026", "2026/11/25", "2026-11-25 ", "26-11-25",
                            "2026-11-5", "2026-11-31", "2025-02-29", "2026-11-25T00:00:00Z"}) {
    const auto day = ParseDay(wrong);
    ASSERT_FALSE(day.ok()) << wrong;
    EXPECT_EQ(day.status().code(), absl::StatusCode::kInvalidArgument);
    EXPECT_THAT(std::string(day.status().message()), HasSubstr("2026-11-25"));
    EXPECT_THAT(std::string(day.status().message()), HasSubstr(wrong));
  }
}

TEST(Parsing, ReadsTheExamplesOfRfc3339) {
  struct Case {
    const char* text;
    const char* utc;
  };
  // The example strings are those of RFC 3339, 5.8, as public test suites give them; conversions
  // computed, the leap second's from memory.
  constexpr Case kCases[] = {
      {"1985-04-12T23:20:50.52Z", "1985-04-12T23:20:50.52Z"},
      {"1996-12-19T16:39:57-08:00", "1996-12-20T00:39:57Z"},
      {"1990-12-31T23:59:60Z", "1991-01-01T00:00:00Z"},
      {"1990-12-31T15:59:60-08:00", "1991-01-01T00:00:00Z"},
      {"1937-01-01T12:00:27.87+00:20", "1937-01-01T11:40:27.87Z"},
  };
  for (const Case& c : kCases) EXPECT_EQ(FormatUtc(At(c.text, "Europe/Berlin")), c.utc) << c.text;
}

TEST(Parsing, ReadsWhatPeopleWrite) {
  struct Case {
    const char* text;
    const char* utc;
  };
  constexpr Case kCases[] = {
      {"2026-11-25", "2026-11-24T23:00:00Z"},
      {"2026-11-25 14:05", "2026-11-25T13:05:00Z"},
      {"2026-11-25T14:05:30", "2026-11-25T13:05:30Z"},
      {"2026-07-25 14:05", "2026-07-25T12:05:00Z"},
      {"2026-11-25t14:05:00z", "2026-11-25T14:05:00Z"},
      {"2026-11-25 14:05+05:30", "2026-11-25T08:35:00Z"},
      {"2026-11-25T14:05:00.123456789Z", "2026-11-25T14:05:00.123456Z"},
      {"2026-11-25T14:05:00.1", "2026-11-25T13:05:00.1Z"},
      {"2024-02-29 00:00", "2024-02-28T23:00:00Z"},
  };
  for (const Case& c : kCases) EXPECT_EQ(FormatUtc(At(c.text, "Europe/Berlin")), c.utc) << c.text;
}

TEST(Parsing, TakesTheEarlierOffsetAroundAClockChange) {
  // Berlin, 2026: forward on 29 March at 02:00, back on 25 October at 03:00; zone database.
  EXPECT_EQ(FormatUtc(At("2026-03-29 01:59", "Europe/Berlin")), "2026-03-29T00:59:00Z");
  EXPECT_EQ(FormatUtc(At("2026-03-29 02:30", "Europe/Berlin")), "2026-03-29T01:30:00Z");
  EXPECT_EQ(FormatUtc(At("2026-03-29 03:00", "Europe/Berlin")), "2026-03-29T01:00:00Z");
  EXPECT_EQ(FormatUtc(At("2026-10-25 02:30", "Europe/Berlin")), "2026-10-25T00:30:00Z");
  EXPECT_EQ(FormatUtc(At("2026-10-25 03:00", "Europe/Berlin")), "2026-10-25T02:00:00Z");
  // An offset says which of the two it is.
  EXPECT_EQ(FormatUtc(At("2026-10-25 02:30+01:00", "Europe/Berlin")), "2026-10-25T01:30:00Z");
}

TEST(Parsing, SaysWhatWouldBeRight) {
  for (const char* wrong : {"",
                            "now",
                            "yesterday",
                            "14:05",
                            "2026-11-25 14",
                            "2026-11-25 2pm",
                            "2026-11-25  14:05",
                            "2026-11-25 24:00",
                            "2026-11-25 14:60",
                            "2026-11-25 14:05:60",
                            "2026-11-25T12:00:60Z",
                            "2026-11-25T14:05:00+25:00",
                            "2026-11-25T14:05:00+0100",
                            "2026-11-25T14:05:00.Z",
                            "2026-11-25T14:05:00Zulu",
                            "2026-02-30 10:00",
                            "2026-11-25-14:05",
                            "1764079500",
                            "12026-11-25",
                            "2026-11-25 14:05 Europe/Berlin"}) {
    const auto instant = ParseInstant(wrong, In("Europe/Berlin"));
    ASSERT_FALSE(instant.ok()) << wrong;
    EXPECT_EQ(instant.status().code(), absl::StatusCode::kInvalidArgument);
    const std::string message(instant.status().message());
    EXPECT_THAT(message, HasSubstr("write 2026-11-25 or 2026-11-25 14:05"));
    EXPECT_THAT(message, HasSubstr(wrong));
  }
}

TEST(Parsing, NamesADayThatTheCalendarDoesNotHave) {
  const auto instant = ParseInstant("2025-02-29 10:00", In("UTC"));
  EXPECT_THAT(std::string(instant.status().message()), HasSubstr("no day of the calendar"));
}

TEST(Formatting, ShowsLocalTimeToTheMinute) {
  const int64_t us = At("2026-05-13T09:20:59.9Z");
  EXPECT_EQ(FormatLocal(us, In("Europe/Berlin")), "2026-05-13 11:20");
  EXPECT_EQ(FormatLocal(us, In("America/Chicago")), "2026-05-13 04:20");
}

TEST(Formatting, ShowsUtcThatParsesToTheSame) {
  for (const char* text : {"2026-11-25T14:05:00Z", "2026-11-25T14:05:00.5Z",
                           "2026-11-25T14:05:00.000001Z", "1900-01-01T00:00:00Z"}) {
    EXPECT_EQ(FormatUtc(At(text)), text);
  }
}

}  // namespace
}  // namespace ferrule::time
