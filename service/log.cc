#include "service/log.h"

#include "absl/strings/str_cat.h"
#include "absl/strings/str_format.h"
#include "absl/time/clock.h"
#include "absl/time/time.h"
#include "core/time/civil.h"
#include "nlohmann/json.hpp"

namespace ferrule::service {
namespace {

absl::string_view View(std::string_view s) { return {s.data(), s.size()}; }

// Control characters as in "\x0a": one event, one line, and no terminal sequences.
std::string Plain(std::string_view text) {
  std::string out;
  for (const char c : text) {
    const auto byte = static_cast<unsigned char>(c);
    if (byte < 0x20 || byte == 0x7F) {
      absl::StrAppendFormat(&out, "\\x%02x", byte);
    } else {
      out.push_back(c);
    }
  }
  return out;
}

}  // namespace

absl::StatusOr<LogFormat> ParseLogFormat(std::string_view name) {
  if (name == "text") return LogFormat::kText;
  if (name == "json") return LogFormat::kJson;
  return absl::InvalidArgumentError(
      absl::StrCat("'", View(name), "' is no log format: choose text or json"));
}

std::string LogLine(LogFormat format, int64_t now_us, std::string_view event, std::string_view text,
                    LogFields fields) {
  if (format == LogFormat::kJson) {
    nlohmann::ordered_json json;
    json["time"] = time::FormatUtc(now_us);
    json["event"] = event;
    if (!text.empty()) json["text"] = text;
    for (const auto& [name, value] : fields) {
      if (!value.empty()) json[std::string(name)] = value;
    }
    return json.dump(-1, ' ', false, nlohmann::ordered_json::error_handler_t::replace);
  }
  std::string line = "ferruled: ";
  if (text.empty()) absl::StrAppend(&line, View(event), ":");
  absl::StrAppend(&line, Plain(text));
  for (const auto& [name, value] : fields) {
    if (!value.empty()) absl::StrAppend(&line, " ", View(name), "=", Plain(value));
  }
  return line;
}

void Log::Line(std::string_view event, std::string_view text, LogFields fields) const {
  const std::string line =
      absl::StrCat(LogLine(format_, absl::ToUnixMicros(absl::Now()), event, text, fields), "\n");
  std::fwrite(line.data(), 1, line.size(), to_);
  std::fflush(to_);
}

}  // namespace ferrule::service
