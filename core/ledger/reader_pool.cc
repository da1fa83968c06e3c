#include "core/ledger/reader_pool.h"

#include <utility>

namespace ferrule::ledger {

absl::StatusOr<std::unique_ptr<store::Connection>> ReaderPool::Take() {
  {
    std::unique_lock lock(mutex_);
    free_.wait(lock, [this] { return !idle_.empty() || open_ < most_; });
    if (!idle_.empty()) {
      std::unique_ptr<store::Connection> connection = std::move(idle_.back());
      idle_.pop_back();
      return connection;
    }
    ++open_;
  }
  auto opened = database_.OpenReader();
  if (!opened.ok()) GiveBack(nullptr);
  return opened;
}

void ReaderPool::GiveBack(std::unique_ptr<store::Connection> connection) {
  {
    std::lock_guard lock(mutex_);
    if (connection != nullptr) {
      idle_.push_back(std::move(connection));
    } else {
      --open_;
    }
  }
  free_.notify_one();
}

absl::Status ReaderPool::On(absl::FunctionRef<absl::Status(store::Connection&)> work) {
  auto connection = Take();
  if (!connection.ok()) return connection.status();
  const absl::Status status = work(**connection);
  // A connection that was lost or is damaged is not used again.
  const bool keep = status.ok() || status.code() != absl::StatusCode::kUnavailable;
  GiveBack(keep ? *std::move(connection) : nullptr);
  return status;
}

absl::Status ReaderPool::With(absl::FunctionRef<absl::Status(store::Connection&)> query) {
  return On([query](store::Connection& connection) {
    absl::Status status = connection.Begin(store::TransactionKind::kRead);
    if (!status.ok()) return status;
    status = query(connection);
    absl::Status ended = connection.Rollback();
    return status.ok() ? ended : status;
  });
}

absl::Status ReaderPool::WithOneStatement(
    absl::FunctionRef<absl::Status(store::Connection&)> query) {
  const absl::Status status = On(query);
  if (status.code() != absl::StatusCode::kUnavailable) return status;
  // A connection may have been lost without our knowing: beginning a transaction finds out.
  return With(query);
}

}  // namespace ferrule::ledger
