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
