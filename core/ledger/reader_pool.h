// Reading connections, handed out one caller at a time.
#pragma once

#include <condition_variable>
#include <memory>
#include <mutex>
#include <vector>

#include "absl/functional/function_ref.h"
#include "absl/status/status.h"
#include "core/store/connection.h"

namespace ferrule::ledger {

// Thread-safe.
class ReaderPool {
 public:
  ReaderPool(store::Database& database, int most) : database_(database), most_(most) {}

  // Runs `query` inside one snapshot on a connection of its own.
  absl::Status With(absl::FunctionRef<absl::Status(store::Connection&)> query);
  // The same for a query of one statement, which is a snapshot by itself: on a database that is one
  // round trip instead of three. It may be run twice.
  absl::Status WithOneStatement(absl::FunctionRef<absl::Status(store::Connection&)> query);

 private:
  absl::Status On(absl::FunctionRef<absl::Status(store::Connection&)> work);
  absl::StatusOr<std::unique_ptr<store::Connection>> Take();
  void GiveBack(std::unique_ptr<store::Connection> connection);

  store::Database& database_;
  const int most_;
  std::mutex mutex_;
  std::condition_variable free_;
  int open_ = 0;
  std::vector<std::unique_ptr<store::Connection>> idle_;
};

}  // namespace ferrule::ledger
