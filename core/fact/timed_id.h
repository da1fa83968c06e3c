// Ids of entries that say when they were made: UUIDs of version 7 (RFC 9562, sections 4 and 5.7).
//
// Any id will do for an entry. The ledger's index holds these in the order of their times
// (core/ledger/chain.h), so that those of about the same time lie on the same few pages of it.
#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

namespace ferrule::fact {

// The milliseconds since 1970, below 2^48, in an id that is such a UUID in its text form, or begins
// with one and a hyphen, as the ids of entries do that are one report. Digits may be of either
// case. Nothing for any other id.
std::optional<int64_t> MadeMs(std::string_view id);

// The UUID, 36 characters, of a time in milliseconds since 1970 (its lower 48 bits) and of chance,
// of which 74 bits count.
std::string TimedId(int64_t unix_ms, const std::array<uint8_t, 10>& chance);

}  // namespace ferrule::fact
