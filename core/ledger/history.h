// A subject's facts as the store has them.
#pragma once

#include <cstdint>
#include <memory>
#include <span>
#include <vector>

#include "absl/status/status.h"
#include "core/fact/fact_view.h"
#include "core/store/connection.h"
#include "ferrule/v1/ledger_service.pb.h"
#include "google/protobuf/arena.h"

namespace ferrule::ledger {

class History {
 public:
  // The facts of the subject with that row id, out of entries up to `through_sequence`.
  absl::Status Load(store::Connection& connection, int64_t subject_id, int64_t through_sequence);
  // The same of several subjects at once, inside a transaction.
  static absl::Status Load(store::Connection& connection, std::span<const int64_t> subject_ids,
                           int64_t through_sequence, std::span<History* const> histories);

  // In commit order; valid while this lives.
  const std::vector<fact::FactView>& views() const { return views_; }
  // The entry of a view of this history.
  const v1::LedgerEntry& EntryOf(const fact::FactView& view) const;

 private:
  // Takes one fact in; false when it cannot be read.
  bool Add(const store::Row& row);

  std::unique_ptr<google::protobuf::Arena> arena_ = std::make_unique<google::protobuf::Arena>();
  std::vector<const v1::LedgerEntry*> entries_;  // on the arena
  std::vector<fact::FactView> views_;
};

// The last position recorded by that instant; 0 when there is none.
absl::StatusOr<int64_t> SequenceKnownAt(store::Connection& connection, int64_t known_us,
                                        int64_t head_sequence);

}  // namespace ferrule::ledger
