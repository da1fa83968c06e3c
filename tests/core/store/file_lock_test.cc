#include "core/store/file_lock.h"

#include <signal.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include <chrono>
#include <filesystem>
#include <functional>
#include <string>
#include <thread>

#include "core/store/open.h"
#include "gmock/gmock.h"
#include "gtest/gtest.h"
#include "tests/support/depot_stores.h"

namespace ferrule::store {
namespace {

using namespace std::chrono_literals;
using ::testing::HasSubstr;
using testing::TempFolder;

// A second process that takes something, says so, and keeps it until it is killed.
class OtherProcess {
 public:
  explicit OtherProcess(const std::function<bool()>& take) {
    int ready[2];
    if (pipe(ready) != 0) return;
    pid_ = fork();
    if (pid_ == 0) {
      const char answer = take() ? 'y' : 'n';
      if (write(ready[1], &answer, 1) != 1) _exit(1);
      for (;;) pause();
    }
    close(ready[1]);
    char answer = 'n';
    took_ = read(ready[0], &answer, 1) == 1 && answer == 'y';
    close(ready[0]);
  }
  ~OtherProcess() { Kill(); }

  void Kill() {
    if (pid_ <= 0) return;
    kill(pid_, SIGKILL);
    waitpid(pid_, nullptr, 0);
    pid_ = 0;
  }
  pid_t pid() const { return pid_; }
  bool took() const { return took_; }

 private:
  pid_t pid_ = 0;
  bool took_ = false;
};

TEST(StoreFileLock, TheOwnerIsNamed) {
  const TempFolder folder;
  const std::string path = folder.File("x.lock");
  std::unique_ptr<FileLock> kept;  // by the other process
  OtherProcess other([&] {
    auto lock = FileLock::Acquire(path, 0ms);
    if (!lock.ok()) return false;
    kept = *std::move(lock);
    return true;
  });
  ASSERT_TRUE(other.took());
  const auto second = FileLock::Acquire(path, 0ms);
  EXPECT_EQ(second.status().code(), absl::StatusCode::kUnavailable);
  char host[256] = {};
  ASSERT_EQ(gethostname(host, sizeof host - 1), 0);
  EXPECT_THAT(std::string(second.status().message()),
              HasSubstr("process " + std::to_string(other.pid()) + " on " + host));
}

TEST(StoreFileLock, AKilledOwnerLeavesItFree) {
  const TempFolder folder;
  const std::string path = folder.File("x.lock");
  std::unique_ptr<FileLock> kept;
  OtherProcess other([&] {
    auto lock = FileLock::Acquire(path, 0ms);
    if (lock.ok()) kept = *std::move(lock);
    return kept != nullptr;
  });
  ASSERT_TRUE(other.took());
  other.Kill();
  EXPECT_TRUE(std::filesystem::exists(path));
  EXPECT_TRUE(FileLock::Acquire(path, 0ms).ok());
}

TEST(StoreFileLock, OneProcessTakesItOnceOnly) {
  const TempFolder folder;
  const auto first = FileLock::Acquire(folder.File("x.lock"), 0ms);
  ASSERT_TRUE(first.ok()) << first.status();
  EXPECT_EQ(FileLock::Acquire(folder.File("x.lock"), 0ms).status().code(),
            absl::StatusCode::kUnavailable);
}

TEST(StoreFileLock, GivenBackItLeavesNoFile) {
  const TempFolder folder;
  { ASSERT_TRUE(FileLock::Acquire(folder.File("x.lock"), 0ms).ok()); }
  EXPECT_FALSE(std::filesystem::exists(folder.File("x.lock")));
}

TEST(StoreFileLock, ItIsWaitedFor) {
  const TempFolder folder;
  auto first = FileLock::Acquire(folder.File("x.lock"), 0ms);
  ASSERT_TRUE(first.ok()) << first.status();
  std::thread owner([&] {
    std::this_thread::sleep_for(100ms);
    first->reset();
  });
  EXPECT_TRUE(FileLock::Acquire(folder.File("x.lock"), 30s).ok());
  owner.join();
}

TEST(StoreFileLock, NeverTwoOwnersAtOnce) {
  const TempFolder folder;
  std::atomic<int> owners = 0;
  std::atomic<int> taken = 0;
  std::vector<std::thread> threads;
  for (int i = 0; i < 4; ++i) {
    threads.emplace_back([&] {
      for (int round = 0; round < 50; ++round) {
        const auto lock = FileLock::Acquire(folder.File("x.lock"), 30s);
        ASSERT_TRUE(lock.ok()) << lock.status();
        EXPECT_EQ(++owners, 1);
        ++taken;
        --owners;
      }
    });
  }
  for (std::thread& thread : threads) thread.join();
  EXPECT_EQ(taken, 200);
}

TEST(StoreFileLock, AChildDoesNotGiveBackItsParentsLock) {
  const TempFolder folder;
  auto lock = FileLock::Acquire(folder.File("x.lock"), 0ms);
  ASSERT_TRUE(lock.ok()) << lock.status();
  const pid_t child = fork();
  if (child == 0) {
    lock->reset();
    _exit(0);
  }
  waitpid(child, nullptr, 0);
  EXPECT_TRUE(std::filesystem::exists(folder.File("x.lock")));
  EXPECT_EQ(FileLock::Acquire(folder.File("x.lock"), 0ms).status().code(),
            absl::StatusCode::kUnavailable);
}

TEST(StoreFileLock, AMissingFolderIsNotFound) {
  const TempFolder folder;
  EXPECT_EQ(FileLock::Acquire(folder.File("none/x.lock"), 0ms).status().code(),
            absl::StatusCode::kNotFound);
}

TEST(StoreFileLock, ADepotFileHasOneProcess) {
  const TempFolder folder;
  const std::string path = folder.File("depot.ferrule");
  std::unique_ptr<Database> kept;
  OtherProcess other([&] {
    auto database = OpenSqlite({.path = path, .create = true});
    if (database.ok()) kept = *std::move(database);
    return kept != nullptr;
  });
  ASSERT_TRUE(other.took());
  const auto refused = OpenSqlite({.path = path, .lock_wait = 10ms});
  EXPECT_EQ(refused.status().code(), absl::StatusCode::kUnavailable);
  EXPECT_THAT(std::string(refused.status().message()),
              HasSubstr("process " + std::to_string(other.pid())));
  other.Kill();
  EXPECT_TRUE(OpenSqlite({.path = path}).ok());
}

TEST(StoreFileLock, ALinkToTheFileIsTheSameFile) {
  const TempFolder folder;
  const std::string path = folder.File("depot.ferrule");
  const auto first = OpenSqlite({.path = path, .create = true});
  ASSERT_TRUE(first.ok()) << first.status();
  std::filesystem::create_symlink(path, folder.File("link.ferrule"));
  EXPECT_EQ(OpenSqlite({.path = folder.File("link.ferrule"), .lock_wait = 0ms}).status().code(),
            absl::StatusCode::kUnavailable);
}

}  // namespace
}  // namespace ferrule::store
