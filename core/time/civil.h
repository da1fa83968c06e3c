// Instants, civil days and their protobuf forms. Days are civil days of a stated IANA zone; an
// elapsed time is never divided by 24 hours to count days.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

#include "absl/status/statusor.h"
#include "absl/time/civil_time.h"
#include "absl/time/time.h"
#include "google/protobuf/timestamp.pb.h"
#include "google/type/date.pb.h"

namespace ferrule::time {

// Microseconds since 1970-01-01T00:00:00Z; finer fractions are cut off.
int64_t ToMicros(const google::protobuf::Timestamp& t);
google::protobuf::Timestamp FromMicros(int64_t us);
void SetMicros(int64_t us, google::protobuf::Timestamp* t);

// Whether the message is a real day (years 1 to 9999).
bool IsValid(const google::type::Date& d);
// Precondition: IsValid(d).
absl::CivilDay ToDay(const google::type::Date& d);
google::type::Date FromDay(absl::CivilDay d);

// A civil day as its distance from 1970-01-01, the form stored in the database.
int64_t DayNumber(absl::CivilDay d);
absl::CivilDay DayFromNumber(int64_t n);

// The zone of that IANA name; InvalidArgument when there is none.
absl::StatusOr<absl::TimeZone> Zone(std::string_view name);
// The local civil day at an instant.
absl::CivilDay LocalDay(int64_t us, absl::TimeZone zone);
// The instant at which that local day begins.
int64_t StartOfDayMicros(absl::CivilDay day, absl::TimeZone zone);

// "2026-11-25", or the week date "2026-W48-3"; InvalidArgument with what would be right otherwise.
absl::StatusOr<absl::CivilDay> ParseDay(std::string_view text);
std::string FormatDay(absl::CivilDay d);
// "2026-11-25 14:05" in the zone.
std::string FormatLocal(int64_t us, absl::TimeZone zone);
// "2026-11-25T14:05:00Z", fractions only when there are any.
std::string FormatUtc(int64_t us);
// RFC 3339 ("2026-11-25T14:05:00+01:00", "...Z"), or a local time without offset in `zone`
// ("2026-11-25 14:05", "2026-11-25T14:05:30"), or a day (its local beginning). A local time that
// a clock change skips or repeats takes the earlier offset. InvalidArgument otherwise.
absl::StatusOr<int64_t> ParseInstant(std::string_view text, absl::TimeZone zone);

}  // namespace ferrule::time
