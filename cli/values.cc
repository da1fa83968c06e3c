#include "cli/values.h"

#include <cmath>
#include <vector>

#include "absl/strings/numbers.h"
#include "absl/strings/str_cat.h"
#include "cli/nearest.h"
#include "cli/render_words.h"
#include "cli/when.h"
#include "core/time/civil.h"
#include "core/time/iso.h"

namespace ferrule::cli {
namespace {

// Greatest figure for which hours in seconds and money in hundredths are still exact.
constexpr double kGreatest = 1e12;

absl::StatusOr<int64_t> Scaled(const std::string& text, double factor, const char* form) {
  double value = 0;
  const bool plain = text.find_first_not_of("0123456789.-") == std::string::npos;
  if (!plain || !absl::SimpleAtod(text, &value) || std::abs(value) > kGreatest) {
    return absl::InvalidArgumentError(absl::StrCat("'", text, "' is no number of ", form));
  }
  return std::llround(value * factor);
}

}  // namespace

absl::StatusOr<int64_t> ParseHours(const std::string& text) {
  return Scaled(text, 3600, "hours; write 1234.5");
}

absl::StatusOr<int64_t> ParseMinor(const std::string& text) {
  const size_t dot = text.find('.');
  if (dot != std::string::npos && text.size() - dot > 3) {
    return absl::InvalidArgumentError(
        absl::StrCat("'", text, "' has more than two decimals; write 1234.56"));
  }
  return Scaled(text, 100, "the currency; write 1234.56");
}

absl::StatusOr<double> ParseNumber(const std::string& text) {
  double value = 0;
  const bool plain = text.find_first_not_of("0123456789.-+eE") == std::string::npos;
  if (!plain || !absl::SimpleAtod(text, &value) || !std::isfinite(value)) {
    return absl::InvalidArgumentError(absl::StrCat("'", text, "' is no number; write 12.5"));
  }
  return value;
}

absl::StatusOr<double> ParseReading(const std::string& text) {
  if (text == "yes") return 1.0;
  if (text == "no") return 0.0;
  return ParseNumber(text);
}

absl::StatusOr<int64_t> ParseWhole(const std::string& text) {
  int64_t value = 0;
  if (!absl::SimpleAtoi(text, &value)) {
    return absl::InvalidArgumentError(absl::StrCat("'", text, "' is no whole number"));
  }
  return value;
}

absl::StatusOr<int64_t> ParseDayCount(const std::string& text) {
  if (text.empty() || text.front() != 'P') return ParseWhole(text);
  const auto duration = time::ParseDuration(text);
  if (!duration.ok()) return duration.status();
  if (duration->months != 0 || duration->seconds != 0) {
    return absl::InvalidArgumentError(absl::StrCat(
        "'", text, "' has no fixed number of days; write days or weeks, for instance P21D or P3W"));
  }
  return duration->days;
}

absl::StatusOr<std::pair<std::string, std::string>> ParsePair(const std::string& text) {
  const size_t equals = text.find('=');
  if (equals == std::string::npos || equals == 0 || equals + 1 == text.size()) {
    return absl::InvalidArgumentError(
        absl::StrCat("'", text, "' lacks one of its sides; write name=value"));
  }
  return std::make_pair(text.substr(0, equals), text.substr(equals + 1));
}

absl::StatusOr<int> ParseEnum(const google::protobuf::EnumDescriptor* descriptor,
                              const std::string& text) {
  std::string wanted = text;
  for (char& c : wanted) {
    if (c == '-' || c == '_') c = ' ';
  }
  std::vector<std::string> words;
  for (int i = 0; i < descriptor->value_count(); ++i) {
    const int number = descriptor->value(i)->number();
    if (number == 0) continue;
    words.push_back(EnumWord(descriptor, number));
    if (words.back() == wanted) return number;
  }
  std::string list;
  for (std::string& word : words) {
    for (char& c : word) {
      if (c == ' ') c = '-';
    }
    absl::StrAppend(&list, list.empty() ? "" : ", ", word);
  }
  return absl::InvalidArgumentError(
      absl::StrCat("'", text, "' is none of ", list,
                   DidYouMean(text, std::vector<std::string_view>(words.begin(), words.end()))));
}

void Values::Fail(std::string_view name, const absl::Status& error) {
  if (!status_.ok()) return;
  if (error.code() != absl::StatusCode::kInvalidArgument) {
    status_ = error;  // the depot could not be asked: no fault of what was typed
    return;
  }
  status_ = absl::Status(error.code(),
                         absl::StrCat(std::string(name), ": ", std::string(error.message())));
}

std::optional<int64_t> Values::Hours(std::string_view flag) {
  const auto text = line_.Get(flag);
  return text.has_value() ? Keep(flag, ParseHours(*text)) : std::nullopt;
}

std::optional<int64_t> Values::DayCount(std::string_view flag) {
  const auto text = line_.Get(flag);
  return text.has_value() ? Keep(flag, ParseDayCount(*text)) : std::nullopt;
}

std::optional<int64_t> Values::Minor(std::string_view flag) {
  const auto text = line_.Get(flag);
  return text.has_value() ? Keep(flag, ParseMinor(*text)) : std::nullopt;
}

std::optional<double> Values::Number(std::string_view flag) {
  const auto text = line_.Get(flag);
  return text.has_value() ? Keep(flag, ParseNumber(*text)) : std::nullopt;
}

std::optional<int64_t> Values::Whole(std::string_view flag) {
  const auto text = line_.Get(flag);
  return text.has_value() ? Keep(flag, ParseWhole(*text)) : std::nullopt;
}

absl::StatusOr<google::type::Date> Values::ReadDay(const std::string& text) {
  absl::TimeZone zone = absl::UTCTimeZone();
  if (IsRelativeDay(text)) {
    const auto typed = session_.TypedZone();
    if (!typed.ok()) return typed.status();
    zone = *typed;
  }
  const auto day = ParseDayWord(text, session_.now_us(), zone);
  if (!day.ok()) return day.status();
  return time::FromDay(*day);
}

std::optional<google::type::Date> Values::Day(std::string_view flag) {
  const auto text = line_.Get(flag);
  return text.has_value() ? Keep(flag, ReadDay(*text)) : std::nullopt;
}

std::optional<int64_t> Values::Instant(std::string_view flag) {
  const auto text = line_.Get(flag);
  return text.has_value() ? Keep(flag, session_.ReadInstant(*text)) : std::nullopt;
}

int64_t Values::HoursIn(std::string_view positional) {
  return Keep(positional, ParseHours(line_.Arg(positional))).value_or(0);
}

int64_t Values::WholeIn(std::string_view positional) {
  return Keep(positional, ParseWhole(line_.Arg(positional))).value_or(0);
}

google::type::Date Values::DayIn(std::string_view positional) {
  return Keep(positional, ReadDay(line_.Arg(positional))).value_or(google::type::Date());
}

}  // namespace ferrule::cli
