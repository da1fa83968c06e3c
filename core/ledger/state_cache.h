// Committed states kept in memory. Shared by the writer and the readers; never holds anything that
// is not durable.
#pragma once

#include <cstdint>
#include <memory>
#include <optional>
#include <shared_mutex>
#include <string>
#include <string_view>
#include <vector>

#include "absl/container/flat_hash_map.h"
#include "ferrule/v1/states.pb.h"

namespace ferrule::ledger {

struct Known {
  int64_t id = 0;  // row of the states table
  std::shared_ptr<const v1::SubjectState> state;
};

// An empty state, and a copy to be changed. Each lies on an arena of its own: as a message by
// itself a state is some sixty allocations.
std::shared_ptr<v1::SubjectState> NewState(size_t expected_bytes = 0);
std::shared_ptr<v1::SubjectState> CopyOf(const v1::SubjectState& state);

// Thread-safe.
class StateCache {
 public:
  explicit StateCache(size_t capacity) : capacity_(capacity) {}

  std::optional<Known> Find(std::string_view name) const;

  // What a reader notes before it reads the store, so that a state that a commit has meanwhile
  // replaced does not get in.
  uint64_t generation() const;
  void PutIfUnchanged(uint64_t generation, std::string_view name, Known known);

  // After a commit.
  void PutCommitted(std::vector<std::pair<std::string, Known>> states);
  // States changed by someone else.
  void Drop(const std::vector<std::string>& names);
  void Clear();

 private:
  void MakeRoom();

  const size_t capacity_;
  mutable std::shared_mutex mutex_;
  uint64_t generation_ = 0;
  absl::flat_hash_map<std::string, Known> states_;
};

}  // namespace ferrule::ledger
