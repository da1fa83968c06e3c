// States as rows of the database.
#pragma once

#include <cstdint>
#include <memory>
#include <string>
#include <string_view>
#include <vector>

#include "absl/status/status.h"
#include "core/depot/settings_book.h"
#include "core/fold/columns.h"
#include "core/store/connection.h"
#include "ferrule/v1/states.pb.h"

namespace ferrule::ledger {

// Rows that are written together. What is added must stay in place until they are written.
class StateRows {
 public:
  // A state with its columns, new or instead of another.
  void Add(int64_t id, int64_t sequence, std::string_view name, std::string_view state,
           const fold::Columns& columns);
  // A state with other columns than the one that it replaces, of the same serial number.
  void AddChanged(int64_t id, int64_t sequence, std::string_view state,
                  const fold::Columns& columns);
  // A state whose columns are those of the one that it replaces: no index is touched.
  void AddBytes(int64_t id, int64_t sequence, std::string_view state);
  absl::Status Write(store::Connection& writer) const;

 private:
  std::vector<store::Value> whole_;
  std::vector<store::Value> changed_;
  std::vector<store::Value> bytes_only_;
};

// A state to be written: with the one it replaces, null when it is new.
struct StateChange {
  int64_t id;
  int64_t sequence;  // of the last entry that changed it
  std::shared_ptr<const v1::SubjectState> state;
  std::shared_ptr<const v1::SubjectState> old;
};

absl::Status WriteStates(store::Connection& writer, const depot::SettingsBook& book,
                         const std::vector<StateChange>& changes);

}  // namespace ferrule::ledger
