// What every engine must do alike: transactions, and what readers see of them.
#include <array>

#include "core/store/connection.h"
#include "tests/core/store/things.h"

namespace ferrule::store {
namespace {

using testing::kAllStores;
using testing::kLastingStores;
using testing::StoreKindName;

class StoreTransaction : public ThingsTest {};
INSTANTIATE_TEST_SUITE_P(Engines, StoreTransaction, ::testing::ValuesIn(kAllStores), StoreKindName);

TEST_P(StoreTransaction, CommitKeepsAndRollbackDrops) {
  ASSERT_EQ(writer_->Begin(TransactionKind::kWrite), absl::OkStatus());
  EXPECT_TRUE(writer_->in_transaction());
  ASSERT_EQ(Add({.id = 1}), absl::OkStatus());
  ASSERT_EQ(writer_->Commit(), absl::OkStatus());
  EXPECT_FALSE(writer_->in_transaction());
  ASSERT_EQ(writer_->Begin(TransactionKind::kWrite), absl::OkStatus());
  ASSERT_EQ(Add({.id = 2}), absl::OkStatus());
  EXPECT_EQ(Count(*writer_), 2);
  ASSERT_EQ(writer_->Rollback(), absl::OkStatus());
  EXPECT_EQ(ThingsOf(*writer_), (std::vector<Thing>{{.id = 1}}));
}

TEST_P(StoreTransaction, TransactionsDoNotNest) {
  ASSERT_EQ(writer_->Begin(TransactionKind::kWrite), absl::OkStatus());
  EXPECT_EQ(writer_->Begin(TransactionKind::kRead).code(), absl::StatusCode::kFailedPrecondition);
  ASSERT_EQ(Add({.id = 1}), absl::OkStatus());
  EXPECT_EQ(writer_->Commit(), absl::OkStatus());
  EXPECT_EQ(Count(*writer_), 1);
}

TEST_P(StoreTransaction, CommitNeedsATransactionAndRollbackDoesNot) {
  EXPECT_EQ(writer_->Commit().code(), absl::StatusCode::kFailedPrecondition);
  EXPECT_EQ(writer_->Rollback(), absl::OkStatus());
}

TEST_P(StoreTransaction, AfterAFailedStatementOnlyRollbackIsLeft) {
  ASSERT_EQ(writer_->Begin(TransactionKind::kWrite), absl::OkStatus());
  ASSERT_EQ(Add({.id = 1}), absl::OkStatus());
  ASSERT_EQ(Add({.id = 1}).code(), absl::StatusCode::kAlreadyExists);
  EXPECT_EQ(Add({.id = 2}).code(), absl::StatusCode::kFailedPrecondition);
  EXPECT_EQ(writer_->Rollback(), absl::OkStatus());
  EXPECT_EQ(Count(*writer_), 0);
  EXPECT_EQ(Add({.id = 3}), absl::OkStatus());
}

// PostgreSQL would answer COMMIT with a silent rollback here.
TEST_P(StoreTransaction, CommitAfterAFailedStatementFailsAndRollsBack) {
  ASSERT_EQ(writer_->Begin(TransactionKind::kWrite), absl::OkStatus());
  ASSERT_EQ(Add({.id = 1}), absl::OkStatus());
  ASSERT_EQ(Add({.id = 1}).code(), absl::StatusCode::kAlreadyExists);
  EXPECT_EQ(writer_->Commit().code(), absl::StatusCode::kFailedPrecondition);
  EXPECT_FALSE(writer_->in_transaction());
  EXPECT_EQ(Count(*writer_), 0);
}

TEST_P(StoreTransaction, AFailureOutsideOfATransactionDoomsNothing) {
  ASSERT_EQ(Add({.id = 1}), absl::OkStatus());
  ASSERT_EQ(Add({.id = 1}).code(), absl::StatusCode::kAlreadyExists);
  EXPECT_EQ(Add({.id = 2}), absl::OkStatus());
  ASSERT_EQ(writer_->Begin(TransactionKind::kWrite), absl::OkStatus());
  EXPECT_EQ(Add({.id = 3}), absl::OkStatus());
  EXPECT_EQ(writer_->Commit(), absl::OkStatus());
}

TEST_P(StoreTransaction, AnInterruptedTransactionIsRolledBack) {
  ASSERT_EQ(writer_->Begin(TransactionKind::kWrite), absl::OkStatus());
  ASSERT_EQ(Add({.id = 1}), absl::OkStatus());
  static constexpr Sql kWrong{"wrong", "SELECT nothing FROM nowhere"};
  ASSERT_FALSE(writer_->Run(kWrong, {}).ok());
  ASSERT_EQ(writer_->Rollback(), absl::OkStatus());
  EXPECT_EQ(Count(*writer_), 0);
}

TEST_P(StoreTransaction, ClosingAConnectionDropsItsOpenTransaction) {
  ASSERT_EQ(writer_->Begin(TransactionKind::kWrite), absl::OkStatus());
  ASSERT_EQ(Add({.id = 1}), absl::OkStatus());
  writer_.reset();
  auto writer = database_->OpenWriter();
  ASSERT_TRUE(writer.ok()) << writer.status();
  EXPECT_EQ(Count(**writer), 0);
}

class StoreReaders : public ThingsTest {};
INSTANTIATE_TEST_SUITE_P(Engines, StoreReaders, ::testing::ValuesIn(kLastingStores), StoreKindName);

TEST_P(StoreReaders, AReaderSeesOnlyWhatIsCommitted) {
  const auto reader = OpenReader();
  ASSERT_EQ(writer_->Begin(TransactionKind::kWrite), absl::OkStatus());
  ASSERT_EQ(Add({.id = 1}), absl::OkStatus());
  EXPECT_EQ(Count(*reader), 0);
  ASSERT_EQ(writer_->Commit(), absl::OkStatus());
  EXPECT_EQ(Count(*reader), 1);
}

TEST_P(StoreReaders, AReadTransactionIsOneSnapshot) {
  const auto reader = OpenReader();
  ASSERT_EQ(reader->Begin(TransactionKind::kRead), absl::OkStatus());
  EXPECT_EQ(Count(*reader), 0);
  ASSERT_EQ(Add({.id = 1}), absl::OkStatus());
  ASSERT_EQ(database_->Checkpoint(*writer_, 0), absl::OkStatus());
  ASSERT_EQ(Add({.id = 2}), absl::OkStatus());
  EXPECT_EQ(Count(*reader), 0);
  ASSERT_EQ(reader->Commit(), absl::OkStatus());
  EXPECT_EQ(Count(*reader), 2);
}

TEST_P(StoreReaders, AReaderCannotWrite) {
  const auto reader = OpenReader();
  const std::vector<Value> row = ValuesOf({.id = 1});
  EXPECT_EQ(reader->Run(kAddThing, row).code(), absl::StatusCode::kPermissionDenied);
  EXPECT_EQ(Count(*writer_), 0);
}

TEST_P(StoreReaders, WhatIsCommittedIsThereAfterOpeningAgain) {
  const Thing thing{.id = 1, .number = 2, .words = "three", .bytes = "4"};
  ASSERT_EQ(Add(thing), absl::OkStatus());
  writer_.reset();
  database_.reset();
  database_ = store_.Open();
  const auto reader = OpenReader();
  EXPECT_EQ(ThingsOf(*reader), std::vector<Thing>{thing});
}

TEST_P(StoreReaders, ALongResultArrivesRowByRow) {
  static constexpr Sql kMany{
      "many",
      "WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n WHERE i < 200000) "
      "SELECT i FROM n"};
  const auto reader = OpenReader();
  int64_t sum = 0;
  ASSERT_EQ(reader->Run(kMany, {}, [&](const Row& row) { sum += row.Int(0); }), absl::OkStatus());
  EXPECT_EQ(sum, int64_t{200'000} * 200'001 / 2);
}

}  // namespace
}  // namespace ferrule::store
