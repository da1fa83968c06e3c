// The depot's access rules over time: every version, kept for ever.
#pragma once

#include <cstdint>
#include <memory>
#include <mutex>
#include <vector>

#include "absl/status/status.h"
#include "absl/status/statusor.h"
#include "core/ledger/ledger.h"
#include "ferrule/v1/access_service.pb.h"

namespace ferrule::guard {

// Thread-safe. A version that this process puts counts at once; what another process on the same
// database puts counts from the next Refresh on.
class AccessRulesBook {
 public:
  using VersionPtr = std::shared_ptr<const v1::AccessRulesVersion>;

  explicit AccessRulesBook(ledger::Ledger* ledger);

  // Reads all anew. Called once a second where other processes serve the same database.
  absl::Status Refresh();
  // The version in force at an instant; null when there is none.
  absl::StatusOr<VersionPtr> At(int64_t us);
  // Keeps a version, checked by the caller, and waits for the commit.
  absl::Status Put(const v1::AccessRulesVersion& version);

 private:
  absl::Status Load();

  ledger::Ledger& ledger_;
  std::mutex mutex_;
  bool loaded_ = false;
  std::vector<VersionPtr> versions_;  // by the instant from which they are in force
};

}  // namespace ferrule::guard
