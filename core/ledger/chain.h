// The digest chain and the stored form of an entry.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>

namespace ferrule::ledger {

// SHA-256 as 32 bytes.
std::string Sha256(std::string_view bytes);

// An entry's digest: SHA-256 of the previous digest (empty for the first entry) and its own bytes.
std::string ChainDigest(std::string_view previous, std::string_view entry_bytes);

// Key under which entries are found by id. Of an id that carries a time (core/fact/timed_id.h)
// before the year 2248: its 43 bits of milliseconds, then 20 bits of the id's SHA-256, so that keys
// follow the time, and ids of one millisecond, however many, lie apart. Of every other id: the
// first 8 bytes of its SHA-256. Several ids may share a key; their entries tell them apart.
int64_t EntryKey(std::string_view entry_id);

// The bytes of a v1::LedgerEntry whose `entry` field is already serialized.
std::string StoredBytes(int64_t sequence, int64_t recorded_us, std::string_view principal,
                        std::string_view entry_bytes);

}  // namespace ferrule::ledger
