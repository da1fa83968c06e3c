// The embedded engine when the disk is full, fails or is damaged, and when the process is killed.
#include <signal.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

#include <array>
#include <filesystem>
#include <fstream>
#include <string>

#include "core/store/migrate.h"
#include "core/store/open.h"
#include "gtest/gtest.h"
#include "tests/support/depot_stores.h"

namespace ferrule::store {
namespace {

using testing::StoreKind;
using testing::TestStore;

constexpr Sql kAdd{"test_add_entry",
                   "INSERT INTO entries (sequence, recorded_us, id_key, digest, bytes) "
                   "VALUES ($1, 0, $1, $2, $2)"};
constexpr Sql kLast{"test_last_entry", "SELECT count(*), coalesce(max(sequence), 0) FROM entries"};

absl::Status Add(Connection& writer, int64_t sequence, size_t size = 1'000) {
  const std::string bytes(size, 'x');
  const std::array values = {Value::Int(sequence), Value::Blob(bytes)};
  return writer.Run(kAdd, values);
}

// The last entry, when no earlier one is missing; -1 otherwise.
int64_t LastOf(Connection& connection) {
  int64_t last = -1;
  EXPECT_EQ(connection.Run(kLast, {},
                           [&](const Row& row) {
                             if (row.Int(0) == row.Int(1)) last = row.Int(1);
                           }),
            absl::OkStatus());
  return last;
}

class StoreSqliteFaults : public ::testing::Test {
 protected:
  TestStore store_{StoreKind::kSqliteFile};
};

TEST_F(StoreSqliteFaults, AFullDiskIsResourceExhaustedAndLosesNothing) {
  const auto database = store_.OpenMigrated();
  const auto writer = *database->OpenWriter();
  ASSERT_EQ(writer->RunScript({"limit", "PRAGMA max_page_count = 60"}), absl::OkStatus());
  int64_t kept = 0;
  absl::Status status;
  while (status.ok() && kept < 1'000) {
    status = Add(*writer, kept + 1);
    if (status.ok()) ++kept;
  }
  EXPECT_EQ(status.code(), absl::StatusCode::kResourceExhausted) << status;
  EXPECT_GT(kept, 10);
  EXPECT_EQ(LastOf(*writer), kept);
  EXPECT_EQ(LastOf(**database->OpenReader()), kept);
  // Inside a transaction the engine rolls back by itself.
  ASSERT_EQ(writer->Begin(TransactionKind::kWrite), absl::OkStatus());
  EXPECT_EQ(Add(*writer, kept + 1, 50'000).code(), absl::StatusCode::kResourceExhausted);
  EXPECT_EQ(writer->Commit().code(), absl::StatusCode::kFailedPrecondition);
  EXPECT_EQ(LastOf(*writer), kept);
  // Room made, it goes on.
  ASSERT_EQ(writer->RunScript({"room", "PRAGMA max_page_count = 100000"}), absl::OkStatus());
  EXPECT_EQ(Add(*writer, kept + 1), absl::OkStatus());
  EXPECT_EQ(LastOf(*writer), kept + 1);
}

// In a process of its own, whose files may not grow beyond a limit. Exits with 0 when all is well.
int WriteUpToTheLimit(const TestStore& store) {
  signal(SIGXFSZ, SIG_IGN);
  const auto database = store.Open();
  const auto writer = *database->OpenWriter();
  const rlimit limit{300'000, 300'000};
  if (setrlimit(RLIMIT_FSIZE, &limit) != 0) return 2;
  int64_t kept = 0;
  absl::Status status;
  while (status.ok() && kept < 1'000) {
    status = Add(*writer, kept + 1);
    if (status.ok()) ++kept;
  }
  if (status.code() != absl::StatusCode::kInternal) return 3;
  if (kept < 10 || LastOf(*writer) != kept) return 4;
  return 0;
}

TEST_F(StoreSqliteFaults, AWriteErrorIsInternalAndLosesNothing) {
  store_.OpenMigrated();
  const pid_t child = fork();
  if (child == 0) _exit(WriteUpToTheLimit(store_));
  int result = 0;
  ASSERT_EQ(waitpid(child, &result, 0), child);
  ASSERT_TRUE(WIFEXITED(result)) << result;
  EXPECT_EQ(WEXITSTATUS(result), 0);
  const auto database = store_.Open();
  const auto writer = *database->OpenWriter();
  const int64_t last = LastOf(*writer);
  EXPECT_GT(last, 10);
  EXPECT_EQ(Add(*writer, last + 1), absl::OkStatus());
}

TEST_F(StoreSqliteFaults, ADamagedPageIsDataLoss) {
  {
    const auto database = store_.OpenMigrated();
    const auto writer = *database->OpenWriter();
    for (int64_t i = 1; i <= 200; ++i) ASSERT_EQ(Add(*writer, i), absl::OkStatus());
  }
  {
    std::fstream file(store_.path(), std::ios::in | std::ios::out | std::ios::binary);
    const auto pages = std::filesystem::file_size(store_.path()) / 4'096;
    for (uintmax_t page = 1; page < pages; ++page) {
      file.seekp(std::streamoff(page * 4'096));
      file << std::string(100, '\xA5');
    }
  }
  const auto database = store_.Open();
  const auto writer = database->OpenWriter();
  static constexpr Sql kBytes{"test_all_entries", "SELECT bytes FROM entries"};
  const absl::Status status = writer.ok() ? (*writer)->Run(kBytes, {}) : writer.status();
  EXPECT_EQ(status.code(), absl::StatusCode::kDataLoss) << status;
}

TEST_F(StoreSqliteFaults, AFileCutOffIsDataLoss) {
  {
    const auto database = store_.OpenMigrated();
    const auto writer = *database->OpenWriter();
    for (int64_t i = 1; i <= 200; ++i) ASSERT_EQ(Add(*writer, i), absl::OkStatus());
  }
  std::filesystem::resize_file(store_.path(), 3 * 4'096);
  const auto database = store_.Open();
  const auto writer = database->OpenWriter();
  const absl::Status status = writer.ok() ? (*writer)->Run(kLast, {}) : writer.status();
  EXPECT_EQ(status.code(), absl::StatusCode::kDataLoss) << status;
}

// Writes entries one by one and says so after each commit, until it is killed.
[[noreturn]] void WriteUntilKilled(const TestStore& store, int out) {
  const auto database = store.Open();
  const auto writer = *database->OpenWriter();
  for (int64_t sequence = LastOf(*writer) + 1;; ++sequence) {
    if (!Add(*writer, sequence).ok()) _exit(1);
    if (sequence % 7 == 0 && !database->Checkpoint(*writer, 10).ok()) _exit(1);
    if (write(out, &sequence, sizeof sequence) != ssize_t(sizeof sequence)) _exit(1);
  }
}

// After kill -9 everything that was acknowledged is there, at most one more, and nothing is half.
TEST_F(StoreSqliteFaults, AKilledWriterLosesNothingAcknowledged) {
  store_.OpenMigrated();
  for (int round = 0; round < 30; ++round) {
    int acks[2];
    ASSERT_EQ(pipe(acks), 0);
    const pid_t child = fork();
    if (child == 0) {
      close(acks[0]);
      WriteUntilKilled(store_, acks[1]);
    }
    close(acks[1]);
    int64_t acknowledged = 0;
    for (int i = 0; i < 5 + round % 9; ++i) {
      ASSERT_EQ(read(acks[0], &acknowledged, sizeof acknowledged), ssize_t(sizeof acknowledged));
    }
    usleep(useconds_t(37 * round));
    kill(child, SIGKILL);
    waitpid(child, nullptr, 0);
    for (int64_t more; read(acks[0], &more, sizeof more) == ssize_t(sizeof more);) {
      acknowledged = more;
    }
    close(acks[0]);
    const auto database = store_.Open();
    const int64_t last = LastOf(**database->OpenReader());
    EXPECT_GE(last, acknowledged) << "round " << round;
    EXPECT_LE(last, acknowledged + 1) << "round " << round;
  }
  const auto database = store_.Open();
  std::string answer;
  static constexpr Sql kCheck{"test_integrity", "PRAGMA integrity_check"};
  ASSERT_EQ(
      (*database->OpenWriter())->Run(kCheck, {}, [&](const Row& row) { answer = row.Bytes(0); }),
      absl::OkStatus());
  EXPECT_EQ(answer, "ok");
}

}  // namespace
}  // namespace ferrule::store
