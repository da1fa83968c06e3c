// The operator's log: one line an event, on standard error. Nothing in it names a patient, an order
// or any text that a caller gave: it says what the program and its engine did.
#pragma once

#include <cstdio>
#include <initializer_list>
#include <string>
#include <string_view>
#include <utility>

#include "absl/status/statusor.h"

namespace ferrule::service {

enum class LogFormat {
  kText,  // "ferruled: head: anchor=14:2b8c... reason=hourly"
  kJson,  // {"time":"2026-03-02T08:00:00Z","event":"head","anchor":"14:2b8c..."}
};

// "text" or "json". InvalidArgument otherwise.
absl::StatusOr<LogFormat> ParseLogFormat(std::string_view name);

using LogFields = std::initializer_list<std::pair<std::string_view, std::string_view>>;

// One line without its end; whatever the values hold, it stays one line of valid UTF-8. A field
// without a value is left out.
std::string LogLine(LogFormat format, int64_t now_us, std::string_view event, std::string_view text,
                    LogFields fields = {});

// Thread-safe: a line goes out whole.
class Log {
 public:
  explicit Log(LogFormat format, std::FILE* to = stderr) : format_(format), to_(to) {}
  void Line(std::string_view event, std::string_view text, LogFields fields = {}) const;

 private:
  const LogFormat format_;
  std::FILE* const to_;
};

}  // namespace ferrule::service
