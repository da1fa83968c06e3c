// The laws of returns of the classes, learned from the records once a day and kept.
#pragma once

#include <cstdint>
#include <map>
#include <memory>
#include <optional>
#include <string>

#include "absl/container/flat_hash_map.h"
#include "absl/status/statusor.h"
#include "absl/synchronization/mutex.h"
#include "core/ledger/ledger.h"
#include "core/promise/return_law.h"

namespace ferrule::board {

// Thread-safe. One per ledger.
class ReturnLaws {
 public:
  // The law of a class over all branches, as the records had it when it was first asked for on day
  // `today` (a day number). Learned from its latest 4,000 rentals and from the turnarounds of the
  // last two years, 200,000 moves of units at most. Errors are the store's.
  absl::StatusOr<std::shared_ptr<const promise::ReturnLaw>> Of(ledger::Ledger& ledger,
                                                               const std::string& device_class,
                                                               int64_t today);

 private:
  // What one order taught, and of which bytes of its state.
  struct Rental {
    size_t fingerprint = 0;
    std::optional<promise::RentalSeen> seen;
  };
  using Rentals = std::map<int64_t, Rental>;  // by the order's row
  struct Learned {
    int64_t day = 0;
    std::shared_ptr<const promise::ReturnLaw> law;
    Rentals rentals;
    std::shared_ptr<const depot::SettingsBook> book;  // under which they were read
  };
  static absl::Status ReadRentals(ledger::Ledger& ledger, const std::string& device_class,
                                  Learned* learned);
  static absl::Status Learn(ledger::Ledger& ledger, const std::string& device_class, int64_t today,
                            Learned* learned);
  absl::Mutex mutex_;
  absl::flat_hash_map<std::string, Learned> learned_ ABSL_GUARDED_BY(mutex_);
};

// The settings' turnaround in days, where the records do not know better.
int TurnaroundDays(const depot::Rules& rules);

}  // namespace ferrule::board
