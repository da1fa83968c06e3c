// Tests core/store/sqlite_log_file.cc: what a commit writes to the log goes there in large pieces,
// and whoever reads afterwards finds it. All synthetic.
#include "core/store/sqlite_log_file.h"

#include <gtest/gtest.h>

#include <array>
#include <cstdint>
#include <string>

#include "core/store/open.h"
#include "tests/support/depot_stores.h"
#include "tests/support/fault_disk.h"

namespace ferrule::store {
namespace {

using testing::FaultDisk;
using testing::StoreKind;
using testing::TestStore;

constexpr Sql kAdd{"test_add_entry",
                   "INSERT INTO entries (sequence, recorded_us, id_key, digest, bytes) "
                   "VALUES ($1, 0, $1, $2, $2)"};
constexpr Sql kSum{"test_sum_entries",
                   "SELECT count(*), coalesce(sum(length(bytes)), 0) FROM entries"};
constexpr int64_t kBytes = 3'000;  // about a page each

class StoreSqliteLogFile : public ::testing::Test {
 protected:
  StoreSqliteLogFile() : disk_(FaultDisk::Instance()), store_(StoreKind::kSqliteFile) {
    store_.OpenMigrated();
    disk_.Watch(store_.path());
    database_ = *OpenSqlite({.path = store_.path()});
    writer_ = *database_->OpenWriter();
    reader_ = *database_->OpenReader();
  }

  absl::Status AddOne() {
    const std::string bytes(kBytes, static_cast<char>('a' + added_ % 26));
    const std::array values = {Value::Int(++added_), Value::Blob(bytes)};
    return writer_->Run(kAdd, values);
  }
  absl::Status AddAll(int64_t rows) {
    absl::Status status = writer_->Begin(TransactionKind::kWrite);
    for (int64_t i = 0; status.ok() && i < rows; ++i) status = AddOne();
    return status;
  }
  static void ExpectRows(Connection& connection, int64_t rows) {
    EXPECT_EQ(connection.Run(kSum, {},
                             [&](const Row& row) {
                               EXPECT_EQ(row.Int(0), rows);
                               EXPECT_EQ(row.Int(1), rows * kBytes);
                             }),
              absl::OkStatus());
  }

  FaultDisk& disk_;
  const TestStore store_;
  std::unique_ptr<Database> database_;
  std::unique_ptr<Connection> writer_, reader_;
  int64_t added_ = 0;
};

TEST_F(StoreSqliteLogFile, ACommitOfManyPagesIsAFewWrites) {
  ASSERT_EQ(AddAll(300), absl::OkStatus());
  disk_.SetPlan({});
  ASSERT_EQ(writer_->Commit(), absl::OkStatus());
  // At least 300 pages with their headers, 30 at once, and the sync.
  EXPECT_GE(disk_.steps(), 11);
  EXPECT_LE(disk_.steps(), 30);
  ExpectRows(*reader_, 300);
}

TEST_F(StoreSqliteLogFile, EachCommitIsSeenByOthers) {
  for (int64_t rows = 1; rows <= 50; ++rows) {
    ASSERT_EQ(AddOne(), absl::OkStatus());
    ExpectRows(*reader_, rows);
  }
}

// More than the page cache holds goes to the log before the commit, and is read from there.
TEST_F(StoreSqliteLogFile, WhatIsWrittenBeforeTheCommitIsReadBack) {
  ASSERT_EQ(AddAll(10), absl::OkStatus());
  ASSERT_EQ(writer_->Commit(), absl::OkStatus());
  constexpr int64_t kMany = 6'000;  // some 18 MB, the cache has 8
  ASSERT_EQ(AddAll(kMany), absl::OkStatus());
  EXPECT_GT(disk_.steps(), 60);
  ExpectRows(*writer_, 10 + kMany);
  ExpectRows(*reader_, 10);
  ASSERT_EQ(writer_->Rollback(), absl::OkStatus());
  ExpectRows(*writer_, 10);
  added_ = 10;
  ASSERT_EQ(AddAll(kMany), absl::OkStatus());
  ASSERT_EQ(writer_->Commit(), absl::OkStatus());
  ExpectRows(*reader_, 10 + kMany);
}

// The piece that a full disk refuses is lost, but never without the commit's being refused.
TEST_F(StoreSqliteLogFile, APieceThatIsRefusedRefusesTheCommit) {
  ASSERT_EQ(AddAll(5), absl::OkStatus());
  ASSERT_EQ(writer_->Commit(), absl::OkStatus());
  for (int64_t at = 1; at <= 11; ++at) {
    ASSERT_EQ(AddAll(300), absl::OkStatus());
    disk_.SetPlan({.fault = FaultDisk::Fault::kFull, .at = at});
    EXPECT_EQ(writer_->Commit().code(), absl::StatusCode::kResourceExhausted) << "write " << at;
    EXPECT_EQ(disk_.happened(), at);
    disk_.SetPlan({});
    ASSERT_EQ(writer_->Rollback(), absl::OkStatus());
    added_ = 5;
    ExpectRows(*writer_, 5);
    ExpectRows(*reader_, 5);
  }
  ASSERT_EQ(AddAll(300), absl::OkStatus());
  ASSERT_EQ(writer_->Commit(), absl::OkStatus());
  ExpectRows(*reader_, 305);
}

}  // namespace
}  // namespace ferrule::store
