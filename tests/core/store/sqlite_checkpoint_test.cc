// Tests core/store/sqlite_checkpoint.cc on a disk that loses power or fails at any step of it:
// whatever was committed is there afterwards. All synthetic.
#include <gtest/gtest.h>

#include <array>
#include <chrono>
#include <filesystem>
#include <iostream>
#include <string>
#include <thread>

#include "absl/strings/str_cat.h"
#include "core/store/migrate.h"
#include "core/store/open.h"
#include "tests/support/depot_stores.h"
#include "tests/support/fault_disk.h"

namespace ferrule::store {
namespace {

using testing::FaultDisk;
using testing::StoreKind;
using testing::TestStore;

constexpr int kMostPages = 40;  // so that a step has 5
constexpr int64_t kRows = 150;

constexpr Sql kAdd{"test_add_entry",
                   "INSERT INTO entries (sequence, recorded_us, id_key, digest, bytes) "
                   "VALUES ($1, 0, $1 * 7919 % 1009, $2, $2)"};
constexpr Sql kLast{"test_last_entry", "SELECT count(*), coalesce(max(sequence), 0) FROM entries"};
constexpr Sql kCheck{"test_integrity", "PRAGMA integrity_check"};

absl::Status Add(Connection& writer, int64_t sequence) {
  const std::string bytes(900, 'x');
  const std::array values = {Value::Int(sequence), Value::Blob(bytes)};
  return writer.Run(kAdd, values);
}

// A depot on a disk that fails as planned.
class FailingDepot {
 public:
  FailingDepot() : disk_(FaultDisk::Instance()), store_(StoreKind::kSqliteFile) {
    store_.OpenMigrated();
    disk_.Watch(store_.path());
  }

  int64_t committed() const { return committed_; }
  const absl::Status& checkpointed() const { return checkpointed_; }  // the first error
  FaultDisk& disk() { return disk_; }
  std::string log() const { return store_.path() + "-wal"; }

  // Commits until kRows are there or the disk refuses one; then the process is gone.
  void Write() {
    const auto database = OpenSqlite({.path = store_.path()});
    if (!database.ok()) return disk_.Kill();
    const auto writer = (*database)->OpenWriter();
    if (!writer.ok()) return disk_.Kill();
    while (committed_ < kRows) {
      if (!Add(**writer, committed_ + 1).ok()) return disk_.Kill();
      ++committed_;
      checkpointed_.Update((*database)->Checkpoint(**writer, kMostPages));
    }
  }

  // At the next thing that is written, unless the process is gone already; and starts again.
  void CutPower() {
    disk_.SetPlan({.fault = FaultDisk::Fault::kPowerCut, .at = 1, .seed = 5});
    if (!disk_.off()) {
      const auto database = OpenSqlite({.path = store_.path()});
      const auto writer = (*database)->OpenWriter();
      if (writer.ok()) Add(**writer, committed_ + 1).IgnoreError();
    }
    ASSERT_TRUE(disk_.off());
    disk_.PowerOn();
  }

  void ExpectWhole() {
    const auto database = OpenSqlite({.path = store_.path()});
    ASSERT_TRUE(database.ok()) << database.status();
    const auto writer = (*database)->OpenWriter();
    ASSERT_TRUE(writer.ok()) << writer.status();
    int64_t rows = -1, last = -1;
    EXPECT_EQ((*writer)->Run(kLast, {},
                             [&](const Row& row) {
                               rows = row.Int(0);
                               last = row.Int(1);
                             }),
              absl::OkStatus());
    EXPECT_EQ(rows, last);
    EXPECT_GE(last, committed_);
    EXPECT_LE(last, committed_ + 1);
    std::string check;
    EXPECT_EQ((*writer)->Run(kCheck, {}, [&](const Row& row) { check = row.Bytes(0); }),
              absl::OkStatus());
    EXPECT_EQ(check, "ok");
  }

 private:
  FaultDisk& disk_;
  TestStore store_;
  int64_t committed_ = 0;
  absl::Status checkpointed_;
};

struct Sum {
  int happened = 0;
  int checkpoints_failed = 0;
};

// At every `stride`-th step of the disk, beginning with the first, until nothing happens any more.
Sum FailAtManySteps(FaultDisk::Fault fault, int64_t stride) {
  Sum sum;
  for (int64_t at = 1;; at += stride) {
    SCOPED_TRACE(absl::StrCat("step ", at));
    FailingDepot depot;
    depot.disk().SetPlan({.fault = fault, .at = at, .seed = static_cast<uint64_t>(at)});
    depot.Write();
    const bool happened = depot.disk().happened() > 0;
    sum.happened += happened;
    sum.checkpoints_failed += !depot.checkpointed().ok();
    depot.CutPower();
    depot.ExpectWhole();
    if (happened && !::testing::Test::HasFailure()) continue;
    std::cout << sum.happened << " lives, of which " << sum.checkpoints_failed
              << " lost the moving of the log\n";
    return sum;
  }
}

TEST(StoreSqliteCheckpoint, APowerCutAtAnyStepLosesNothingCommitted) {
  const Sum sum = FailAtManySteps(FaultDisk::Fault::kPowerCut, 2);
  EXPECT_GT(sum.happened, 100);
}

TEST(StoreSqliteCheckpoint, AFailedWriteLosesNothingCommitted) {
  const Sum sum = FailAtManySteps(FaultDisk::Fault::kWriteError, 3);
  EXPECT_GT(sum.checkpoints_failed, 10);
}

// What the system could not write of the file is lost for it, and it says so once.
TEST(StoreSqliteCheckpoint, AFailedSyncLosesNothingCommitted) {
  const Sum sum = FailAtManySteps(FaultDisk::Fault::kSyncError, 3);
  EXPECT_GT(sum.checkpoints_failed, 10);
}

TEST(StoreSqliteCheckpoint, AFullDiskIsTriedAgain) {
  int tried_again = 0;
  for (int64_t at = 1; at < 1'000; at += 13) {
    FailingDepot depot;
    depot.disk().SetPlan({.fault = FaultDisk::Fault::kFull, .at = at});
    depot.Write();
    if (depot.committed() < kRows || depot.checkpointed().ok()) continue;
    ++tried_again;
    EXPECT_TRUE(absl::IsResourceExhausted(depot.checkpointed())) << depot.checkpointed();
    EXPECT_FALSE(std::filesystem::exists(depot.log()));  // taken in when it was closed
    depot.CutPower();
    depot.ExpectWhole();
  }
  EXPECT_GT(tried_again, 5);
}

// Long before the log is as long as it may be, some of it is in the file.
TEST(StoreSqliteCheckpoint, TheLogIsCopiedInParts) {
  const TestStore store(StoreKind::kSqliteFile);
  const auto database = store.OpenMigrated();
  const auto writer = *database->OpenWriter();
  const auto size = [&](const char* suffix) {
    return std::filesystem::file_size(store.path() + suffix);
  };
  ASSERT_EQ(Add(*writer, 1), absl::OkStatus());
  ASSERT_EQ(database->Checkpoint(*writer, 0), absl::OkStatus());
  const auto before = size("");
  constexpr int kPages = 400;
  int64_t row = 1;
  while (size("-wal") < 200u * 4'120) {
    ASSERT_EQ(Add(*writer, ++row), absl::OkStatus());
    ASSERT_EQ(database->Checkpoint(*writer, kPages), absl::OkStatus());
  }
  for (int i = 0; size("") == before && i < 6'000; ++i) {
    std::this_thread::sleep_for(std::chrono::milliseconds(10));
  }
  EXPECT_GT(size(""), before);
  // The log begins anew before it is too long.
  while (row < 1'500) {
    ASSERT_EQ(Add(*writer, ++row), absl::OkStatus());
    ASSERT_EQ(database->Checkpoint(*writer, kPages), absl::OkStatus());
  }
  EXPECT_LT(size("-wal"), 4u * kPages * 4'120);
}

// A disk that takes the file's pages slowly keeps nobody from committing. Until it has taken them
// the log is not begun anew: SQLite could lose pages then.
TEST(StoreSqliteCheckpoint, CommitsGoOnWhileTheDiskIsSlow) {
  FaultDisk& disk = FaultDisk::Instance();
  const TestStore store(StoreKind::kSqliteFile);
  store.OpenMigrated();
  disk.Watch(store.path());
  const auto database = *OpenSqlite({.path = store.path()});
  const auto writer = *database->OpenWriter();
  const auto log_size = [&] { return std::filesystem::file_size(store.path() + "-wal"); };
  constexpr int kPages = 400;
  int64_t row = 0;
  const auto add_until = [&](uintmax_t pages) {
    while (log_size() < pages * 4'120) {
      ASSERT_EQ(Add(*writer, ++row), absl::OkStatus());
      ASSERT_EQ(database->Checkpoint(*writer, kPages), absl::OkStatus());
    }
  };
  disk.HoldWrites(true);
  add_until(kPages + 40);  // it was never begun anew
  disk.HoldWrites(false);
  for (int i = 0; i < 1'500; ++i) {
    ASSERT_EQ(Add(*writer, ++row), absl::OkStatus());
    ASSERT_EQ(database->Checkpoint(*writer, kPages), absl::OkStatus());
  }
  EXPECT_LT(log_size(), 4u * kPages * 4'120) << "and it is begun anew afterwards";
  int64_t rows = -1;
  ASSERT_EQ(writer->Run(kLast, {}, [&](const Row& found) { rows = found.Int(0); }),
            absl::OkStatus());
  EXPECT_EQ(rows, row);
}

// A reader that stands still keeps what it needs in the log; when it is gone the log is taken in.
TEST(StoreSqliteCheckpoint, AReaderInTheWayIsNotWaitedFor) {
  const TestStore store(StoreKind::kSqliteFile);
  const auto database = store.OpenMigrated();
  const auto writer = *database->OpenWriter();
  const auto reader = *database->OpenReader();
  const auto add = [&](int64_t from, int64_t to) {
    for (int64_t row = from; row < to; ++row) {
      ASSERT_EQ(Add(*writer, row), absl::OkStatus());
      ASSERT_EQ(database->Checkpoint(*writer, kMostPages), absl::OkStatus());
    }
  };
  add(1, 10);
  ASSERT_EQ(reader->Begin(TransactionKind::kRead), absl::OkStatus());
  int64_t seen = -1;
  const auto look = [&](const Row& row) { seen = row.Int(1); };
  ASSERT_EQ(reader->Run(kLast, {}, look), absl::OkStatus());
  add(10, 200);
  const auto long_log = std::filesystem::file_size(store.path() + "-wal");
  EXPECT_GT(long_log, 300u * 4'120);
  ASSERT_EQ(reader->Run(kLast, {}, look), absl::OkStatus());
  EXPECT_EQ(seen, 9);
  ASSERT_EQ(reader->Rollback(), absl::OkStatus());
  add(200, 600);
  EXPECT_LT(std::filesystem::file_size(store.path() + "-wal"), long_log + 200 * 4'120);
  ASSERT_EQ(reader->Run(kLast, {}, look), absl::OkStatus());
  EXPECT_EQ(seen, 599);
}

}  // namespace
}  // namespace ferrule::store
