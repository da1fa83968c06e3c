// Every bound of the service in one place. A request beyond one of them is refused with a sentence
// that names it; none is a setting.
#pragma once

#include <cstddef>
#include <cstdint>

#include "absl/time/time.h"

namespace ferrule::service {

// Size of one message, either way, on the wire.
inline constexpr int kMaxMessageBytes = 4 << 20;
// An error's message as it is encoded, and its details with the message: a larger one is lost on
// its way over TCP (measured: from about 7.9 KB on the caller gets RESOURCE_EXHAUSTED alone).
inline constexpr size_t kMaxErrorMessageBytes = 1024;
inline constexpr size_t kMaxErrorDetailBytes = 4096;
// Violations and findings named one by one in an error.
inline constexpr int kMaxViolations = 20;

// Rows of one page.
inline constexpr int kDefaultPageSize = 50;
inline constexpr int kDefaultHistoryPageSize = 100;
inline constexpr int kDefaultEntriesPageSize = 100;
inline constexpr int kMaxPageSize = 1000;
// Bytes of one page of entries, in lists and in the feed; the first entry always fits.
inline constexpr size_t kMaxPageBytes = 1 << 20;
// A page token is never longer.
inline constexpr size_t kMaxPageTokenBytes = 512;
// Entries of one RecordBatch.
inline constexpr int kMaxBatchEntries = 500;

// A call that its caller gave more time, or no limit, ends after this; streams are exempt.
inline constexpr absl::Duration kDeadlineCeiling = absl::Seconds(60);
// The feed says at least this often how far it is.
inline constexpr absl::Duration kProgressInterval = absl::Seconds(30);
// How long calls in flight may take when the server ends.
inline constexpr absl::Duration kDrainGrace = absl::Seconds(20);

// Metadata of one call.
inline constexpr int kMaxMetadataBytes = 8 << 10;
// Calls and feeds at once on one connection.
inline constexpr int kMaxStreamsPerConnection = 1'000;
// Pings on idle connections, and how long an answer may take; callers may ping at most this often.
inline constexpr absl::Duration kKeepaliveTime = absl::Minutes(2);
inline constexpr absl::Duration kKeepaliveTimeout = absl::Seconds(20);
inline constexpr absl::Duration kLeastPingInterval = absl::Seconds(50);
// Connections end after this: idle ones, and all, which then connect again.
inline constexpr absl::Duration kMaxConnectionIdle = absl::Minutes(30);
inline constexpr absl::Duration kMaxConnectionAge = absl::Hours(12);
inline constexpr absl::Duration kConnectionGrace = absl::Minutes(5);

// What one caller who had to say who it is may ask: calls a second and at once, feeds at once.
inline constexpr double kCallsPerSecond = 500;
inline constexpr double kCallsAtOnce = 1'000;
inline constexpr int kMaxStreamsPerPrincipal = 8;
// Wrong tokens from one machine.
inline constexpr double kWrongTokensPerSecond = 1;
inline constexpr double kWrongTokensAtOnce = 10;
// Characters of the reason to read in an emergency what the role does not allow.
inline constexpr size_t kLeastReason = 10;
inline constexpr size_t kMostReason = 500;
// A feed whose reader takes nothing for this long is ended; one that does not even take that is
// cut off a little later.
inline constexpr absl::Duration kSlowReader = absl::Seconds(30);
inline constexpr absl::Duration kCutOff = absl::Seconds(5);
// Room on the depot's disk below which it says that it cannot write for long.
inline constexpr int64_t kDiskFloorBytes = int64_t{256} << 20;
// A write-ahead log above which some reading holds it up, as the operator should know.
inline constexpr int64_t kLongLogBytes = int64_t{1} << 30;

// Calls of one method that a lane accepts ahead, and has in hand at most.
inline constexpr int kAcceptedAhead = 16;
inline constexpr int kMaxCallsPerMethod = 2048;
// Feeds open at once, in all.
inline constexpr int kMaxWatches = 10'000;
// Reports that wait for a worker.
inline constexpr size_t kMaxQueuedReports = 256;
// Callers at once, a lane, of a method that answers message by message (reflection).
inline constexpr int kMaxExchanges = 64;

}  // namespace ferrule::service
