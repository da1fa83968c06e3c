#include "core/label/date.h"

#include "core/label/check_characters.h"

namespace ferrule::label {
namespace {

int Number(std::string_view digits) {
  int number = 0;
  for (char c : digits) number = number * 10 + (c - '0');
  return number;
}

}  // namespace

int FullYear(int two_digits, int current_year) {
  const int century = current_year - current_year % 100;
  const int difference = two_digits - current_year % 100;
  if (difference >= 51) return century - 100 + two_digits;
  if (difference <= -50) return century + 100 + two_digits;
  return century + two_digits;
}

std::optional<absl::CivilDay> DayOf(int year, int month, int day) {
  const absl::CivilDay civil(year, month, day);
  if (civil.year() != year || civil.month() != month || civil.day() != day) return std::nullopt;
  return civil;
}

std::optional<absl::CivilDay> DayOfYear(int year, int ordinal) {
  const absl::CivilDay civil = absl::CivilDay(year, 1, 1) + (ordinal - 1);
  if (ordinal < 1 || civil.year() != year) return std::nullopt;
  return civil;
}

std::optional<LabelDate> ReadYymmdd(std::string_view text, int current_year, bool may_lack_day) {
  if (text.size() != 6 || !IsDigits(text)) return std::nullopt;
  const int year = FullYear(Number(text.substr(0, 2)), current_year);
  const int month = Number(text.substr(2, 2));
  const int day = Number(text.substr(4, 2));
  if (day != 0 || !may_lack_day) {
    const std::optional<absl::CivilDay> whole = DayOf(year, month, day);
    if (!whole.has_value()) return std::nullopt;
    return LabelDate{*whole, false};
  }
  if (month < 1 || month > 12) return std::nullopt;
  return LabelDate{absl::CivilDay(absl::CivilMonth(year, month) + 1) - 1, true};
}

}  // namespace ferrule::label
