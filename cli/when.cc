#include "cli/when.h"

#include <cctype>

#include "absl/strings/match.h"
#include "absl/strings/str_cat.h"
#include "core/time/civil.h"

namespace ferrule::cli {
namespace {

bool IsDigit(char c) { return std::isdigit(static_cast<unsigned char>(c)) != 0; }

// "14:05" or "9:05:30".
bool IsClockTime(const std::string& text) {
  const size_t colon = text.find(':');
  return (colon == 1 || colon == 2) && IsDigit(text.front()) && IsDigit(text.back());
}

}  // namespace

bool IsAbsoluteTime(const std::string& text) {
  if (text == "now") return true;
  const size_t size = text.size();
  if (size < 11 || text.find(':') == std::string::npos) return false;
  if (text.back() == 'Z' || text.back() == 'z') return true;
  return size > 6 && text[size - 3] == ':' && (text[size - 6] == '+' || text[size - 6] == '-');
}

absl::StatusOr<int64_t> ParseWhen(const std::string& text, int64_t now_us, absl::TimeZone zone) {
  if (text == "now") return now_us;
  std::string full = text;
  const absl::CivilDay today = time::LocalDay(now_us, zone);
  if (IsClockTime(text)) full = absl::StrCat("today ", text);
  if (absl::StartsWith(full, "today ")) {
    full = absl::StrCat(time::FormatDay(today), full.substr(5));
  } else if (absl::StartsWith(full, "yesterday ")) {
    full = absl::StrCat(time::FormatDay(today - 1), full.substr(9));
  }
  const size_t space = full.find(' ');
  if (space != std::string::npos && full.size() > space + 2 && full[space + 2] == ':') {
    full.insert(space + 1, "0");  // 9:05 is 09:05
  }
  absl::StatusOr<int64_t> instant = time::ParseInstant(full, zone);
  if (instant.ok()) return instant;
  return absl::InvalidArgumentError(
      absl::StrCat("'", text,
                   "' is no time; write 14:05, 'yesterday 14:05', '2026-11-25 14:05', or with an "
                   "offset 2026-11-25T14:05:00+01:00"));
}

bool IsRelativeDay(const std::string& text) {
  return text == "today" || text == "tomorrow" || text == "yesterday";
}

absl::StatusOr<absl::CivilDay> ParseDayWord(const std::string& text, int64_t now_us,
                                            absl::TimeZone zone) {
  if (IsRelativeDay(text)) {
    const absl::CivilDay today = time::LocalDay(now_us, zone);
    return text == "today" ? today : text == "tomorrow" ? today + 1 : today - 1;
  }
  absl::StatusOr<absl::CivilDay> day = time::ParseDay(text);
  if (day.ok()) return day;
  return absl::InvalidArgumentError(
      absl::StrCat("'", text, "' is no day; write 2026-11-25, today, tomorrow or yesterday"));
}

}  // namespace ferrule::cli
