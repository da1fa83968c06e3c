// The connection to PostgreSQL breaks while a commit is under way: done or not, nobody is told.
#include <gtest/gtest.h>

#include <atomic>
#include <memory>
#include <span>
#include <string>
#include <utility>
#include <vector>

#include "tests/support/entries.h"
#include "tests/support/ledger_depot.h"

namespace ferrule::testing {
namespace {

// What becomes of a commit.
enum class Fate { kTold, kDoneAndLost, kUndoneAndLost };

// A connection to the real engine, whose answer to a commit may get lost.
class Lossy final : public store::Connection {
 public:
  Lossy(std::unique_ptr<store::Connection> inner, std::atomic<Fate>* next)
      : inner_(std::move(inner)), next_(next) {}

  std::string_view engine() const override { return inner_->engine(); }
  std::string engine_version() const override { return inner_->engine_version(); }
  void Interrupt() override { inner_->Interrupt(); }
  store::Connection& inner() { return *inner_; }

 protected:
  absl::Status DoBegin(store::TransactionKind kind) override { return inner_->Begin(kind); }
  absl::Status DoCommit() override {
    const Fate fate = next_->exchange(Fate::kTold);
    const absl::Status status =
        fate == Fate::kUndoneAndLost ? inner_->Rollback() : inner_->Commit();
    if (fate == Fate::kTold || !status.ok()) return status;
    return absl::UnavailableError("the connection to the database is lost");
  }
  absl::Status DoRollback() override { return inner_->Rollback(); }
  absl::Status DoRun(const store::Sql& sql, std::span<const store::Value> parameters,
                     store::RowFn on_row) override {
    return inner_->Run(sql, parameters, on_row);
  }
  absl::Status DoRunMany(const store::Sql& sql, size_t width,
                         std::span<const store::Value> parameters,
                         store::ManyRowFn on_row) override {
    return inner_->RunMany(sql, width, parameters, on_row);
  }
  absl::Status DoPost(const store::Sql& sql, size_t width,
                      std::span<const store::Value> parameters) override {
    return inner_->Post(sql, width, parameters);
  }
  absl::Status DoRunScript(const store::Sql& script) override { return inner_->RunScript(script); }

 private:
  std::unique_ptr<store::Connection> inner_;
  std::atomic<Fate>* next_;
};

class LossyDatabase final : public store::Database {
 public:
  LossyDatabase(std::unique_ptr<store::Database> inner, std::atomic<Fate>* next)
      : inner_(std::move(inner)), next_(next) {}

  absl::StatusOr<std::unique_ptr<store::Connection>> OpenWriter() override {
    auto inner = inner_->OpenWriter();
    if (!inner.ok()) return inner.status();
    return std::make_unique<Lossy>(*std::move(inner), next_);
  }
  absl::StatusOr<std::unique_ptr<store::Connection>> OpenReader() override {
    return inner_->OpenReader();
  }
  std::string_view engine() const override { return inner_->engine(); }
  bool exclusive() const override { return inner_->exclusive(); }
  absl::Status Checkpoint(store::Connection& writer, int pages) override {
    return inner_->Checkpoint(static_cast<Lossy&>(writer).inner(), pages);
  }

 private:
  std::unique_ptr<store::Database> inner_;
  std::atomic<Fate>* next_;
};

class LedgerLostAnswer : public ::testing::TestWithParam<Fate> {
 protected:
  void SetUp() override {
    depot_.MustRecord(SettingsEntry());
    depot_.ReopenAround([&](std::unique_ptr<store::Database> inner) {
      return std::make_unique<LossyDatabase>(std::move(inner), &next_);
    });
  }
  void Lose() { next_ = GetParam(); }

  std::atomic<Fate> next_ = Fate::kTold;
  LedgerDepot depot_{"postgresql"};
};
INSTANTIATE_TEST_SUITE_P(, LedgerLostAnswer,
                         ::testing::Values(Fate::kDoneAndLost, Fate::kUndoneAndLost),
                         [](const auto& fate) {
                           return fate.param == Fate::kDoneAndLost ? "Done" : "Undone";
                         });

TEST_P(LedgerLostAnswer, AnEntryIsRecordedOnceAndIsNoRepeatOfItself) {
  Lose();
  const v1::Receipt first = depot_.MustRecord(ReceiveUnit("K-1", kStartUs));
  EXPECT_EQ(first.sequence(), 2);
  EXPECT_FALSE(first.repeated());
  const v1::Receipt again = depot_.MustRecord(ReceiveUnit("K-1", kStartUs));
  EXPECT_EQ(again.digest(), first.digest());
  EXPECT_TRUE(again.repeated());
  EXPECT_EQ(depot_.MustVerify().entries, 2);
}

TEST_P(LedgerLostAnswer, OneThatWasThereBeforeIsARepeat) {
  const v1::Receipt first = depot_.MustRecord(ReceiveUnit("K-1", kStartUs));
  Lose();
  const auto both =
      depot_.RecordBatch({ReceiveUnit("K-1", kStartUs), ReceiveUnit("K-2", kStartUs)});
  ASSERT_TRUE(both[0].ok() && both[1].ok());
  EXPECT_EQ(both[0]->digest(), first.digest());
  EXPECT_TRUE(both[0]->repeated());
  EXPECT_EQ(both[1]->sequence(), 3);
  EXPECT_FALSE(both[1]->repeated());
}

}  // namespace
}  // namespace ferrule::testing
