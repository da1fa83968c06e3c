// The engine for more than one machine: writers side by side, lost connections, wrong addresses.
#include <array>
#include <atomic>
#include <chrono>
#include <string>
#include <thread>
#include <vector>

#include "core/store/migrate.h"
#include "core/store/open.h"
#include "gmock/gmock.h"
#include "gtest/gtest.h"
#include "tests/support/depot_stores.h"

namespace ferrule::store {
namespace {

using ::testing::HasSubstr;
using testing::StoreKind;
using testing::TestStore;

constexpr Sql kSequence{"test_sequence", "SELECT sequence FROM ledger_head"};
constexpr Sql kPutSequence{"test_put_sequence", "UPDATE ledger_head SET sequence = $1"};
constexpr Sql kBackend{"postgresql_test_backend", "SELECT pg_backend_pid()"};

class StorePostgres : public ::testing::Test {
 protected:
  StorePostgres() : database_(store_.OpenMigrated()) {}

  static int64_t OneInt(Connection& connection, const Sql& sql) {
    int64_t value = -1;
    EXPECT_EQ(connection.Run(sql, {}, [&](const Row& row) { value = row.Int(0); }),
              absl::OkStatus());
    return value;
  }

  // Ends the server's side of a connection, as a restart of the server would.
  void Cut(int64_t backend) {
    static constexpr Sql kCut{
        "postgresql_test_cut",
        "SELECT CAST(pg_terminate_backend(CAST($1 AS integer), 5000) AS integer)"};
    const auto other = *database_->OpenWriter();
    const std::array values = {Value::Int(backend)};
    int64_t ended = 0;
    ASSERT_EQ(other->Run(kCut, values, [&](const Row& row) { ended = row.Int(0); }),
              absl::OkStatus());
    ASSERT_EQ(ended, 1);
  }

  TestStore store_{StoreKind::kPostgres};
  std::unique_ptr<Database> database_;
};

// The database may abort a commit all the same, when the server is busy: the lock on the head is
// free a moment before its check of conflicts counts the transaction as over. Whoever writes does
// the whole of it again then, as the ledger's writer does.
TEST_F(StorePostgres, WritersTakeTurnsAndLoseNothing) {
  constexpr int kThreads = 4;
  constexpr int kRounds = 60;
  std::vector<std::thread> threads;
  for (int i = 0; i < kThreads; ++i) {
    threads.emplace_back([&] {
      const auto writer = *database_->OpenWriter();
      for (int done = 0; done < kRounds;) {
        ASSERT_EQ(writer->Begin(TransactionKind::kWrite), absl::OkStatus());
        const std::array next = {Value::Int(OneInt(*writer, kSequence) + 1)};
        ASSERT_EQ(writer->Run(kPutSequence, next), absl::OkStatus());
        const absl::Status status = writer->Commit();
        if (status.ok()) {
          ++done;
        } else {
          ASSERT_EQ(status.code(), absl::StatusCode::kAborted) << status;
        }
      }
    });
  }
  for (std::thread& thread : threads) thread.join();
  EXPECT_EQ(OneInt(**database_->OpenReader(), kSequence), kThreads * kRounds);
}

TEST_F(StorePostgres, AReaderDoesNotWaitForTheWriter) {
  const auto writer = *database_->OpenWriter();
  ASSERT_EQ(writer->Begin(TransactionKind::kWrite), absl::OkStatus());
  const auto reader = *database_->OpenReader();
  ASSERT_EQ(reader->Begin(TransactionKind::kRead), absl::OkStatus());
  EXPECT_EQ(OneInt(*reader, kSequence), 0);
}

TEST_F(StorePostgres, AConnectionLostWhileIdleIsOpenedAgain) {
  const auto writer = *database_->OpenWriter();
  ASSERT_EQ(OneInt(*writer, kSequence), 0);  // a prepared statement that will be gone
  Cut(OneInt(*writer, kBackend));
  ASSERT_EQ(writer->Begin(TransactionKind::kWrite), absl::OkStatus());
  EXPECT_EQ(OneInt(*writer, kSequence), 0);
  EXPECT_EQ(writer->Commit(), absl::OkStatus());
}

TEST_F(StorePostgres, AConnectionLostInATransactionIsUnavailable) {
  const auto writer = *database_->OpenWriter();
  const int64_t backend = OneInt(*writer, kBackend);
  ASSERT_EQ(writer->Begin(TransactionKind::kWrite), absl::OkStatus());
  const std::array one = {Value::Int(1)};
  ASSERT_EQ(writer->Run(kPutSequence, one), absl::OkStatus());
  Cut(backend);
  EXPECT_EQ(writer->Run(kSequence, {}).code(), absl::StatusCode::kUnavailable);
  EXPECT_EQ(writer->Rollback(), absl::OkStatus());
  ASSERT_EQ(writer->Begin(TransactionKind::kWrite), absl::OkStatus());
  EXPECT_EQ(OneInt(*writer, kSequence), 0);
}

TEST_F(StorePostgres, ACommitOnALostConnectionIsUnavailable) {
  const auto writer = *database_->OpenWriter();
  const int64_t backend = OneInt(*writer, kBackend);
  ASSERT_EQ(writer->Begin(TransactionKind::kWrite), absl::OkStatus());
  const std::array one = {Value::Int(1)};
  ASSERT_EQ(writer->Run(kPutSequence, one), absl::OkStatus());
  Cut(backend);
  EXPECT_EQ(writer->Commit().code(), absl::StatusCode::kUnavailable);
  EXPECT_FALSE(writer->in_transaction());
  EXPECT_EQ(OneInt(*writer, kSequence), 0);
}

TEST_F(StorePostgres, AConnectionLostDuringAStatementIsUnavailable) {
  static constexpr Sql kSleep{"postgresql_test_sleep",
                              "SELECT count(*) FROM (SELECT pg_sleep(20)) s"};
  const auto writer = *database_->OpenWriter();
  const int64_t backend = OneInt(*writer, kBackend);
  std::thread cutter([&] {
    std::this_thread::sleep_for(std::chrono::milliseconds(100));
    Cut(backend);
  });
  EXPECT_EQ(writer->Run(kSleep, {}).code(), absl::StatusCode::kUnavailable);
  cutter.join();
  EXPECT_EQ(OneInt(*writer, kSequence), 0);
}

// A serializable transaction that writes without the lock, on a snapshot that has become old.
TEST_F(StorePostgres, ASerializationFailureIsAborted) {
  const auto first = *database_->OpenWriter();
  const auto second = *database_->OpenWriter();
  ASSERT_EQ(first->RunScript({"begin", "BEGIN ISOLATION LEVEL SERIALIZABLE"}), absl::OkStatus());
  EXPECT_EQ(OneInt(*first, kSequence), 0);
  const std::array one = {Value::Int(1)};
  ASSERT_EQ(second->Run(kPutSequence, one), absl::OkStatus());
  EXPECT_EQ(first->Run(kPutSequence, one).code(), absl::StatusCode::kAborted);
}

TEST_F(StorePostgres, MemoryThatRanOutIsResourceExhaustedWithWhatToDo) {
  const auto database = store_.OpenMigrated();
  const auto writer = *database->OpenWriter();
  const absl::Status status = writer->RunScript(
      {"no_memory", "DO $$ BEGIN RAISE 'out of memory' USING ERRCODE = '53200'; END $$"});
  EXPECT_EQ(status.code(), absl::StatusCode::kResourceExhausted) << status;
  EXPECT_TRUE(IsOutOfMemory(status));
  EXPECT_NE(status.message().find("add memory, then try again"), std::string::npos) << status;
  const absl::Status full =
      writer->RunScript({"no_room", "DO $$ BEGIN RAISE 'no room' USING ERRCODE = '53100'; END $$"});
  EXPECT_EQ(full.code(), absl::StatusCode::kResourceExhausted) << full;
  EXPECT_FALSE(IsOutOfMemory(full));
  EXPECT_NE(full.message().find("disk is full: make room"), std::string::npos) << full;
}

TEST_F(StorePostgres, CommitsAreDurable) {
  static constexpr Sql kSetting{"postgresql_test_setting",
                                "SELECT current_setting('synchronous_commit')"};
  const auto writer = *database_->OpenWriter();
  std::string value;
  ASSERT_EQ(writer->Run(kSetting, {}, [&](const Row& row) { value = row.Bytes(0); }),
            absl::OkStatus());
  EXPECT_EQ(value, "on");
}

TEST_F(StorePostgres, AColumnThatIsNoneOfOursIsInternal) {
  static constexpr Sql kNow{"postgresql_test_now", "SELECT now()"};
  const absl::Status status = (*database_->OpenWriter())->Run(kNow, {});
  EXPECT_EQ(status.code(), absl::StatusCode::kInternal);
  EXPECT_THAT(std::string(status.message()), HasSubstr("postgresql_test_now"));
}

TEST_F(StorePostgres, TextThatIsNotUtf8IsInvalidArgument) {
  static constexpr Sql kLength{"test_length", "SELECT length($1)"};
  const std::array values = {Value::Text("\xC3\x28")};
  EXPECT_EQ((*database_->OpenWriter())->Run(kLength, values).code(),
            absl::StatusCode::kInvalidArgument);
}

TEST(StorePostgresAddress, AServerThatIsNotThereIsUnavailable) {
  const testing::TempFolder folder;
  const auto database = OpenPostgres("host=" + folder.File("none") + " port=1 dbname=x");
  ASSERT_TRUE(database.ok()) << database.status();
  EXPECT_EQ((*database)->OpenWriter().status().code(), absl::StatusCode::kUnavailable);
}

TEST(StorePostgresAddress, AConnectionStringThatIsNoneIsInvalidArgument) {
  EXPECT_EQ(OpenPostgres("hots=x").status().code(), absl::StatusCode::kInvalidArgument);
  EXPECT_EQ(OpenPostgres("nothing").status().code(), absl::StatusCode::kInvalidArgument);
}

}  // namespace
}  // namespace ferrule::store
