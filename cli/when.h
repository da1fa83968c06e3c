// Times and days as people type them.
#pragma once

#include <cstdint>
#include <string>

#include "absl/status/statusor.h"
#include "absl/time/civil_time.h"
#include "absl/time/time.h"

namespace ferrule::cli {

// Whether the text carries its own offset ("...Z", "...+01:00") or is "now": then no zone is asked.
bool IsAbsoluteTime(const std::string& text);

// "now", "14:05", "today 14:05", "yesterday 14:05", "2026-11-25 14:05", "2026-11-25", RFC 3339.
// InvalidArgument lists the forms.
absl::StatusOr<int64_t> ParseWhen(const std::string& text, int64_t now_us, absl::TimeZone zone);

// "2026-11-25", "today", "tomorrow", "yesterday".
bool IsRelativeDay(const std::string& text);
absl::StatusOr<absl::CivilDay> ParseDayWord(const std::string& text, int64_t now_us,
                                            absl::TimeZone zone);

}  // namespace ferrule::cli
