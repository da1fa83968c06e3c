// The one function that says whether a ledger is whole. Tests call it after every fault, `ferruled
// verify`, backup and restore do, and each start checks the chain's end with the same code
// (core/ledger/chain_check.h).
#pragma once

#include <cstdint>
#include <functional>
#include <span>
#include <string>
#include <vector>

#include "absl/status/statusor.h"
#include "core/ledger/anchor.h"
#include "core/ledger/ledger.h"
#include "core/store/connection.h"

namespace ferrule::ledger {

struct WholeReport : VerifyReport {
  // What the engine finds wrong in its own pages and indexes (core/store/integrity.h).
  std::vector<std::string> engine_faults;
  int64_t anchors = 0;  // that were held against the entries
  bool ok() const { return VerifyReport::ok() && engine_faults.empty(); }
};

// Asks the engine, recomputes the chain, holds it against positions noted elsewhere, and folds
// every state again. `progress` gets the entries done.
absl::StatusOr<WholeReport> CheckWhole(store::Database& database,
                                       const std::function<void(int64_t)>& progress,
                                       std::span<const Anchor> anchors = {});

// The head as it is stored.
absl::StatusOr<Head> StoredHead(store::Database& database);

// The mark that the restore of a backup put on this ledger, 16 hexadecimal digits; empty when it
// never was restored. Two ledgers that have the same entries up to a point and other ones after it
// differ in it.
absl::StatusOr<std::string> StoredEpoch(store::Database& database);

}  // namespace ferrule::ledger
