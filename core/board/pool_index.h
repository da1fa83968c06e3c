// Which units and live orders belong to which class at which branch, kept in memory and caught up
// from the ledger's feed, so that a question about one pool reads that pool alone.
#pragma once

#include <cstdint>
#include <set>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "absl/container/flat_hash_map.h"
#include "absl/status/status.h"
#include "absl/status/statusor.h"
#include "absl/synchronization/mutex.h"
#include "core/ledger/ledger.h"

namespace ferrule::board {

// Full names, in their order.
struct PoolMembers {
  std::vector<std::string> units;   // in the depot's or a patient's hands
  std::vector<std::string> orders;  // open, held or on rent
  int64_t sequence = 0;             // the ledger's position up to which this holds
};

// Thread-safe. One per ledger.
class PoolIndex {
 public:
  // The members of a pool as the ledger has them now. The first call reads every state's columns,
  // later ones what was recorded since. Errors are the store's.
  absl::StatusOr<PoolMembers> Members(ledger::Ledger& ledger, const std::string& branch,
                                      const std::string& device_class);

  // Branches and classes that have any member.
  absl::StatusOr<std::vector<std::pair<std::string, std::string>>> Pools(ledger::Ledger& ledger);

 private:
  using Key = std::pair<std::string, std::string>;  // branch, class
  struct Pool {
    std::set<std::string> units;
    std::set<std::string> orders;
  };

  absl::Status CatchUp(ledger::Ledger& ledger) ABSL_EXCLUSIVE_LOCKS_REQUIRED(mutex_);
  absl::Status ReadAll(ledger::Ledger& ledger) ABSL_EXCLUSIVE_LOCKS_REQUIRED(mutex_);
  absl::Status Refresh(ledger::Ledger& ledger, const std::string& name)
      ABSL_EXCLUSIVE_LOCKS_REQUIRED(mutex_);
  void Put(const std::string& name, const Key& key, bool unit, bool belongs)
      ABSL_EXCLUSIVE_LOCKS_REQUIRED(mutex_);

  absl::Mutex mutex_;
  int64_t sequence_ ABSL_GUARDED_BY(mutex_) = -1;  // -1: nothing read yet
  absl::flat_hash_map<Key, Pool> pools_ ABSL_GUARDED_BY(mutex_);
  absl::flat_hash_map<std::string, Key> where_ ABSL_GUARDED_BY(mutex_);
};

}  // namespace ferrule::board
