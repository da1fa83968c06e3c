// The whole ledger read page by page: one thread asks the store, some parse, and the pages come out
// in the ledger's order.
#pragma once

#include <cstdint>
#include <functional>
#include <string>
#include <string_view>
#include <vector>

#include "absl/status/status.h"
#include "core/store/connection.h"
#include "ferrule/v1/ledger_service.pb.h"

namespace ferrule::ledger {

// A stored row of the ledger, as read.
struct RawEntry {
  int64_t sequence;
  int64_t recorded_us;
  std::string_view bytes;
  std::string_view digest;
};

// A stretch of the ledger.
struct Page {
  struct Row {
    int64_t sequence;
    int64_t key;      // that it is filed under
    uint32_t offset;  // in `bytes`
    uint32_t size;
  };
  // A row whose key is not that of its entry's id, with the right one.
  struct Misfiled {
    int64_t sequence;
    int64_t key;
  };
  std::vector<Row> rows;
  std::string bytes;  // of the rows, one after the other
  // The rows, parsed; valid only while on_page runs, because their memory is used again.
  std::vector<const v1::LedgerEntry*> entries;
  std::vector<Misfiled> misfiled;
};

// Reads the entries up to `through_sequence`. `on_raw` may be null; it sees every row in order,
// from the reading thread, and may stop the work with an error. `on_page` is called in order from
// the caller's thread and may take what it likes out of the page. DataLoss when an entry cannot be
// read.
absl::Status ReadPages(store::Connection& connection, int64_t through_sequence,
                       const std::function<absl::Status(const RawEntry&)>& on_raw,
                       const std::function<void(Page&)>& on_page);

}  // namespace ferrule::ledger
