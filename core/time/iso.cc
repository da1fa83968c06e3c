#include "core/time/iso.h"

#include <algorithm>

#include "absl/strings/str_cat.h"

namespace ferrule::time {
namespace {

constexpr int kMost = 1'000'000;

int WeekdayOf(absl::CivilDay day) { return static_cast<int>(absl::GetWeekday(day)) + 1; }

// Monday of week 1: the week of 4 January, which always has the first Thursday.
absl::CivilDay FirstMonday(int64_t year) {
  const absl::CivilDay fourth(year, 1, 4);
  return fourth - (WeekdayOf(fourth) - 1);
}

bool IsDigit(char c) { return c >= '0' && c <= '9'; }

// Digits from the front, as a number up to kMost; false when there are none or too many.
bool TakeNumber(std::string_view* rest, int* value) {
  size_t length = 0;
  *value = 0;
  while (length < rest->size() && IsDigit((*rest)[length])) {
    *value = *value * 10 + ((*rest)[length] - '0');
    if (*value > kMost) return false;
    ++length;
  }
  rest->remove_prefix(length);
  return length > 0;
}

// One part, its number and its letter, when the letter comes later in `letters` than the last one.
bool TakePart(std::string_view* rest, std::string_view letters, size_t* at, int* value,
              char* letter) {
  if (!TakeNumber(rest, value) || rest->empty()) return false;
  const size_t found = letters.find(rest->front(), *at);
  if (found == std::string_view::npos) return false;
  *letter = rest->front();
  *at = found + 1;
  rest->remove_prefix(1);
  return true;
}

absl::Status NoDuration(std::string_view text) {
  return absl::InvalidArgumentError(
      absl::StrCat("\"", std::string(text), "\" is no duration: write P21D, P3W or PT4H30M"));
}

}  // namespace

WeekDate ToWeekDate(absl::CivilDay day) {
  const int weekday = WeekdayOf(day);
  const int64_t year = (day + (4 - weekday)).year();  // the year of the week's Thursday
  return {year, static_cast<int>((day - FirstMonday(year)) / 7) + 1, weekday};
}

int WeeksInYear(int64_t year) {
  return static_cast<int>((FirstMonday(year + 1) - FirstMonday(year)) / 7);
}

std::string FormatWeekDate(absl::CivilDay day) {
  const WeekDate w = ToWeekDate(day);
  return absl::StrCat(absl::Dec(w.year, absl::kZeroPad4), "-W", absl::Dec(w.week, absl::kZeroPad2),
                      "-", w.weekday);
}

absl::StatusOr<absl::CivilDay> ParseWeekDate(std::string_view text) {
  const bool form = text.size() == 10 && text[4] == '-' && text[5] == 'W' && text[8] == '-' &&
                    std::all_of(text.begin(), text.begin() + 4, IsDigit) && IsDigit(text[6]) &&
                    IsDigit(text[7]) && IsDigit(text[9]);
  if (form) {
    const int year =
        (text[0] - '0') * 1000 + (text[1] - '0') * 100 + (text[2] - '0') * 10 + (text[3] - '0');
    const int week = (text[6] - '0') * 10 + (text[7] - '0');
    const int weekday = text[9] - '0';
    if (year >= 1 && week >= 1 && week <= WeeksInYear(year) && weekday >= 1 && weekday <= 7) {
      return FirstMonday(year) + ((week - 1) * 7 + (weekday - 1));
    }
  }
  return absl::InvalidArgumentError(absl::StrCat(
      "\"", std::string(text), "\" is no week date: write year, week and weekday, 2026-W53-4"));
}

absl::StatusOr<Duration> ParseDuration(std::string_view text) {
  std::string_view rest = text;
  if (rest.empty() || rest.front() != 'P') return NoDuration(text);
  rest.remove_prefix(1);
  Duration out;
  int value = 0;
  char letter = 0;
  if (!rest.empty() && rest.back() == 'W') {
    size_t weeks_at = 0;
    if (!TakePart(&rest, "W", &weeks_at, &value, &letter) || !rest.empty()) return NoDuration(text);
    out.days = value * 7;
    return out;
  }
  int parts = 0;
  size_t at = 0;
  for (; !rest.empty() && rest.front() != 'T'; ++parts) {
    if (!TakePart(&rest, "YMD", &at, &value, &letter)) return NoDuration(text);
    if (letter == 'D') {
      out.days = value;
    } else {
      out.months += value * (letter == 'Y' ? 12 : 1);
    }
  }
  if (!rest.empty()) {
    rest.remove_prefix(1);
    if (rest.empty()) return NoDuration(text);
    at = 0;
    for (; !rest.empty(); ++parts) {
      if (!TakePart(&rest, "HMS", &at, &value, &letter)) return NoDuration(text);
      out.seconds += int64_t{value} * (letter == 'H' ? 3600 : letter == 'M' ? 60 : 1);
    }
  }
  if (parts == 0) return NoDuration(text);
  return out;
}

}  // namespace ferrule::time
