// An entry made ready for the writer by the caller's thread: checked for form, serialized once.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "absl/status/status.h"
#include "core/fact/fact_view.h"
#include "ferrule/v1/ledger_service.pb.h"

namespace ferrule::ledger {

struct Prepared {
  v1::Entry entry;
  std::string bytes;                               // the entry, serialized in canonical order
  int64_t key = 0;                                 // EntryKey(entry_id)
  std::vector<std::vector<std::string>> subjects;  // per fact, full names
  std::vector<int64_t> happened_us;                // per fact
  bool touches_settings = false;
  absl::Status malformed;  // not OK: not to be decided
};

Prepared Prepare(v1::Entry entry);

// The views of an entry's facts, valid while it lives.
fact::FactView ViewOf(const v1::Entry& entry, int index, int64_t recorded_us, int64_t sequence);

// InvalidArgument whose payload is a google.rpc.BadRequest with these violations.
absl::Status MalformedEntry(const std::vector<std::pair<std::string, std::string>>& violations);

// The status of an entry refused by rules, with the refusal as payload; and back.
absl::Status RefusedStatus(const v1::Refusal& refusal);

// A refusal as it is remembered under its entry id, and the status it gives again.
std::string RememberedForm(const absl::Status& status);
absl::Status StatusFromRemembered(std::string_view bytes);

}  // namespace ferrule::ledger
