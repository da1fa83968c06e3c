// By which other names units are known: aliases and unique device identifiers, which no column of
// the states holds. Made once out of the states, then kept up from the ledger.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

#include "absl/base/thread_annotations.h"
#include "absl/container/flat_hash_map.h"
#include "absl/status/status.h"
#include "absl/synchronization/mutex.h"
#include "core/ledger/ledger.h"

namespace ferrule::board {

// Device identifier and serial number of a recorded UDI, in any of the forms that labels have. Both
// empty when the text is none of them.
struct UdiKey {
  std::string device_identifier;
  std::string serial;
};
UdiKey KeyOfUdi(std::string_view udi);

// Whether a unit has that alias, that UDI. A UDI recorded without a serial number has the unit's.
bool HasAlias(const v1::UnitState& unit, std::string_view alias);
bool HasUdi(const v1::UnitState& unit, const UdiKey& key);

// Thread-safe. It never forgets a name, so what it finds are candidates: look at their states.
class NameIndex {
 public:
  // Catches up with the ledger; the first call reads the state of every unit.
  absl::Status Refresh(ledger::Ledger& ledger);
  // Tags of units that once had this alias, or this UDI, by name.
  std::vector<std::string> ByAlias(std::string_view alias) const;
  std::vector<std::string> ByUdi(const UdiKey& key) const;

 private:
  using Tags = std::vector<std::string>;  // sorted

  absl::Status Start(ledger::Ledger& ledger) ABSL_EXCLUSIVE_LOCKS_REQUIRED(mutex_);
  void Add(const v1::UnitState& unit) ABSL_EXCLUSIVE_LOCKS_REQUIRED(mutex_);
  void Put(const std::string& key, const std::string& unit) ABSL_EXCLUSIVE_LOCKS_REQUIRED(mutex_);
  Tags Find(const std::string& key) const;

  mutable absl::Mutex mutex_;
  absl::flat_hash_map<std::string, Tags> tags_ ABSL_GUARDED_BY(mutex_);
  int64_t sequence_ ABSL_GUARDED_BY(mutex_) = -1;  // read up to here; -1 before the first call
};

}  // namespace ferrule::board
