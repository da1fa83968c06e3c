// Positions of the ledger noted elsewhere. A chain of digests shows what was changed inside it, but
// not that its tail was cut off, nor that all of it was written anew: a digest that is kept where
// the ledger's keeper cannot reach shows both.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

#include "absl/status/statusor.h"

namespace ferrule::ledger {

struct Anchor {
  int64_t sequence = 0;
  std::string digest;  // 32 bytes
};

// "SEQUENCE:DIGEST" with the digest in 64 hexadecimal digits: how anchors are printed, kept and
// read.
std::string AnchorText(int64_t sequence, std::string_view digest);

// Every anchor in a text: words of that form anywhere in it, for instance in log lines, and the
// head_sequence and head_digest of a backup's manifest. In order of their position, none twice.
// InvalidArgument when there is none, or when two name the same position with other digests.
absl::StatusOr<std::vector<Anchor>> AnchorsIn(std::string_view text);

}  // namespace ferrule::ledger
