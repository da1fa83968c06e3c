// The one check of the chain: verify follows it from the first entry, every start its last entries,
// and a restore all of it again.
#pragma once

#include <cstdint>
#include <span>
#include <string>
#include <string_view>

#include "absl/status/status.h"
#include "core/ledger/anchor.h"
#include "core/ledger/group.h"
#include "core/ledger/pages.h"
#include "core/store/connection.h"

namespace ferrule::ledger {

// Follows the chain entry by entry and remembers the first break.
class ChainCheck {
 public:
  // From the first entry on. `anchors` are held against the entries they name.
  explicit ChainCheck(std::span<const Anchor> anchors = {}) : anchors_(anchors) {}
  // From an entry in the middle, whose digest is taken as given.
  ChainCheck(int64_t sequence, std::string_view digest) : sequence_(sequence), digest_(digest) {}

  // DataLoss at the first break; nothing is looked at after it.
  absl::Status See(const RawEntry& entry);
  // After the last entry: the head must say the same, and no anchor lie beyond it.
  absl::Status End(const HeadRow& head);

  int64_t sequence() const { return sequence_; }
  // The first entry that is not what was recorded, 0 for none; and what is wrong with it.
  int64_t broken_sequence() const { return broken_sequence_; }
  const std::string& broken() const { return broken_; }

 private:
  absl::Status Break(int64_t sequence, std::string why);
  absl::Status HoldAgainstAnchors();

  std::span<const Anchor> anchors_;
  int64_t sequence_ = 0;
  std::string digest_;
  int64_t recorded_us_ = INT64_MIN;
  int64_t broken_sequence_ = 0;
  std::string broken_;
};

// The last entries against each other and against the head: what every start looks at. DataLoss
// when they do not fit together.
absl::Status CheckTail(store::Connection& connection);

}  // namespace ferrule::ledger
