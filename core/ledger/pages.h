// The whole ledger read page by page: one thread asks the store, some parse, and the pages come out
// in the ledger's order.
#pragma once

#include <cstdint>
#include <functional>
#include <memory>
#include <string>
#include <vector>

#include "absl/status/status.h"
#include "core/store/connection.h"
#include "ferrule/v1/ledger_service.pb.h"
#include "google/protobuf/arena.h"

namespace ferrule::ledger {

// A stored row of the ledger, as read.
struct RawEntry {
  int64_t sequence;
  int64_t recorded_us;
  std::string_view bytes;
  std::string_view digest;
};

// Entries parsed into one arena, which frees them together.
struct Page {
  google::protobuf::Arena arena;
  std::vector<v1::LedgerEntry*> entries;
};

// Reads the entries up to `through_sequence`. `on_raw` may be null; it sees every row in order,
// from the reading thread, and may stop the work with an error. `on_page` is called in order from
// the caller's thread. DataLoss when an entry cannot be read.
absl::Status ReadPages(store::Connection& connection, int64_t through_sequence,
                       const std::function<absl::Status(const RawEntry&)>& on_raw,
                       const std::function<void(std::unique_ptr<Page>)>& on_page);

}  // namespace ferrule::ledger
