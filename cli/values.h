// Values behind flags and in positions. Only their form is looked at; what they mean to the depot
// is the service's business.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "absl/status/statusor.h"
#include "cli/session.h"
#include "google/protobuf/generated_enum_reflection.h"
#include "google/type/date.pb.h"

namespace ferrule::cli {

// "1234.5" hours as seconds.
absl::StatusOr<int64_t> ParseHours(const std::string& text);
// "1234.56" as hundredths.
absl::StatusOr<int64_t> ParseMinor(const std::string& text);
absl::StatusOr<double> ParseNumber(const std::string& text);
absl::StatusOr<int64_t> ParseWhole(const std::string& text);
// "21", "P21D" or "P3W" as days. InvalidArgument for months, which have no fixed number of days.
absl::StatusOr<int64_t> ParseDayCount(const std::string& text);
// The value of one reading: a number, or yes (1) and no (0).
absl::StatusOr<double> ParseReading(const std::string& text);
// "item=lot" taken apart at the first "="; both sides must be there.
absl::StatusOr<std::pair<std::string, std::string>> ParsePair(const std::string& text);
// A value by its word, as Word() gives it, with blanks or hyphens.
absl::StatusOr<int> ParseEnum(const google::protobuf::EnumDescriptor* descriptor,
                              const std::string& text);

// Reads values off a line. The first error is kept and later ones are dropped, so that a command
// reads everything it takes and then looks at status() once.
class Values {
 public:
  explicit Values(Session& session) : session_(session), line_(session.line()) {}

  const absl::Status& status() const { return status_; }

  // Each gives nothing for a flag that was not given, or whose value is malformed.
  std::optional<std::string> Text(std::string_view flag) const { return line_.Get(flag); }
  std::optional<int64_t> Hours(std::string_view flag);
  std::optional<int64_t> Minor(std::string_view flag);
  std::optional<double> Number(std::string_view flag);
  // Days as a whole number or as a duration of ISO 8601: 21, P21D, P3W.
  std::optional<int64_t> DayCount(std::string_view flag);
  std::optional<int64_t> Whole(std::string_view flag);
  std::optional<google::type::Date> Day(std::string_view flag);
  std::optional<int64_t> Instant(std::string_view flag);
  template <typename Enum>
  std::optional<Enum> OneOf(std::string_view flag) {
    return As<Enum>(flag, line_.Get(flag));
  }

  // The same for required positionals.
  int64_t HoursIn(std::string_view positional);
  int64_t WholeIn(std::string_view positional);
  google::type::Date DayIn(std::string_view positional);
  template <typename Enum>
  Enum OneOfIn(std::string_view positional) {
    return As<Enum>(positional, line_.Arg(positional)).value_or(Enum{});
  }
  // The same for a positional that takes many.
  template <typename Enum>
  std::vector<Enum> AllIn(std::string_view positional) {
    std::vector<Enum> all;
    for (const std::string& word : line_.Args(positional)) {
      if (const auto one = As<Enum>(positional, word)) all.push_back(*one);
    }
    return all;
  }

  // Keeps the error of a value read elsewhere, under the name of its flag or position.
  void Fail(std::string_view name, const absl::Status& error);

 private:
  template <typename Value>
  std::optional<Value> Keep(std::string_view name, absl::StatusOr<Value> value) {
    if (value.ok()) return *std::move(value);
    Fail(name, value.status());
    return std::nullopt;
  }
  template <typename Enum>
  std::optional<Enum> As(std::string_view name, const std::optional<std::string>& text) {
    if (!text.has_value()) return std::nullopt;
    const auto number = Keep(name, ParseEnum(google::protobuf::GetEnumDescriptor<Enum>(), *text));
    if (!number.has_value()) return std::nullopt;
    return static_cast<Enum>(*number);
  }
  absl::StatusOr<google::type::Date> ReadDay(const std::string& text);

  Session& session_;
  const Line& line_;
  absl::Status status_;
};

// Copies a value into a field when it was given.
template <typename Value, typename Set>
void IfGiven(std::optional<Value> value, Set set) {
  if (value.has_value()) set(*std::move(value));
}

}  // namespace ferrule::cli
