// Rows beside the ledger, written in its transactions.
#pragma once

#include <future>
#include <utility>

#include "core/ledger/ledger.h"

namespace ferrule::guard {

// Runs `write` inside a writing transaction of the ledger and waits for its commit. It may run
// again after a conflict.
template <class Write>
absl::Status WriteAndWait(ledger::Ledger& ledger, Write write) {
  std::promise<absl::Status> done;
  ledger.RecordBeside(
      {}, "",
      [write = std::move(write)](store::Connection& connection, const auto&) mutable {
        return write(connection);
      },
      [&done](const absl::Status& stored, const auto&) { done.set_value(stored); });
  return done.get_future().get();
}

}  // namespace ferrule::guard
