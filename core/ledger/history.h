// A subject's facts as the store has them.
#pragma once

#include <cstdint>
#include <deque>
#include <vector>

#include "absl/status/status.h"
#include "core/fact/fact_view.h"
#include "core/store/connection.h"
#include "ferrule/v1/ledger_service.pb.h"

namespace ferrule::ledger {

class History {
 public:
  // The facts of the subject with that row id, out of entries up to `through_sequence`.
  absl::Status Load(store::Connection& connection, int64_t subject_id, int64_t through_sequence);

  // In commit order; valid while this lives.
  const std::vector<fact::FactView>& views() const { return views_; }
  // The entry of a view of this history.
  const v1::LedgerEntry& EntryOf(const fact::FactView& view) const;

 private:
  std::deque<v1::LedgerEntry> entries_;  // a deque: growing moves nothing
  std::vector<fact::FactView> views_;
};

// The last position recorded by that instant; 0 when there is none.
absl::StatusOr<int64_t> SequenceKnownAt(store::Connection& connection, int64_t known_us,
                                        int64_t head_sequence);

}  // namespace ferrule::ledger
