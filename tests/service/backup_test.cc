#include "service/backup.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <sys/wait.h>
#include <unistd.h>

#include <atomic>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <string>
#include <thread>
#include <vector>

#include "absl/strings/str_cat.h"
#include "tests/service/served_depot.h"
#include "tests/support/entries.h"

namespace ferrule::service {
namespace {

using ferrule::testing::kStartUs;
using ferrule::testing::ServedDepot;
using ::testing::HasSubstr;

constexpr int64_t kCreatedUs = kStartUs;

void Quiet(int64_t) {}

class BackupTest : public ::testing::Test {
 protected:
  void Fill(int units) {
    ASSERT_TRUE(depot_.host().ledger().RecordAndWait(ferrule::testing::SettingsEntry()).ok());
    for (int i = 0; i < units; ++i) Receive(absl::StrCat("K-", i));
  }
  void Receive(const std::string& unit) {
    const auto receipt =
        depot_.host().ledger().RecordAndWait(ferrule::testing::ReceiveUnit(unit, kStartUs));
    ASSERT_TRUE(receipt.ok()) << receipt.status();
  }
  std::string In(const std::string& name) { return depot_.folder() + "/" + name; }
  int FilesLike(const std::string& part) {
    int count = 0;
    for (const auto& entry : std::filesystem::directory_iterator(depot_.folder())) {
      if (entry.path().filename().string().find(part) != std::string::npos) ++count;
    }
    return count;
  }

  ServedDepot depot_;
};

TEST_F(BackupTest, BackupWhileServedRestoresToTheSameLedger) {
  Fill(30);
  const auto backup = Backup(depot_.path(), In("copy"), kCreatedUs, Quiet);
  ASSERT_TRUE(backup.ok()) << backup.status();
  EXPECT_EQ(backup->head_sequence, 31);
  const auto restored = Restore(In("copy"), In("again.ferrule"), Quiet);
  ASSERT_TRUE(restored.ok()) << restored.status();
  EXPECT_EQ(restored->head_sequence, 31);
  EXPECT_EQ(restored->head_digest, backup->head_digest);
  HostOptions options;
  options.sqlite_path = In("again.ferrule");
  options.clock = &depot_.clock();
  const auto host = OpenDepot(options);
  ASSERT_TRUE(host.ok()) << host.status();
  EXPECT_EQ((*host)->ledger().head().digest, depot_.host().ledger().head().digest);
  EXPECT_TRUE((*host)->ledger().Get("units/K-29").ok());
  EXPECT_EQ(FilesLike(".part"), 0);
}

TEST_F(BackupTest, EveryBackupTakenDuringWritesVerifiesAndHoldsWhatWasAcknowledgedBefore) {
  Fill(1);
  std::atomic<bool> stop{false};
  std::atomic<int> written{0};
  std::thread writer([&] {
    for (int i = 0; !stop; ++i) {
      Receive(absl::StrCat("W-", i));
      ++written;
    }
  });
  for (int i = 0; i < 10; ++i) {
    const int64_t before = depot_.host().ledger().head().sequence;
    const auto backup = Backup(depot_.path(), In(absl::StrCat("copy-", i)), kCreatedUs, Quiet);
    ASSERT_TRUE(backup.ok()) << backup.status();
    EXPECT_GE(backup->head_sequence, before);
  }
  stop = true;
  writer.join();
  EXPECT_GT(written.load(), 0);
}

TEST_F(BackupTest, BackupAndRestoreNeverOverwrite) {
  Fill(1);
  std::ofstream(In("taken")) << "precious";
  EXPECT_EQ(Backup(depot_.path(), In("taken"), kCreatedUs, Quiet).status().code(),
            absl::StatusCode::kFailedPrecondition);
  ASSERT_TRUE(Backup(depot_.path(), In("copy"), kCreatedUs, Quiet).ok());
  for (const char* remains : {"", "-wal", "-shm"}) {
    const std::string target = In("target");
    std::ofstream(target + remains) << "precious";
    const auto restored = Restore(In("copy"), target, Quiet);
    EXPECT_EQ(restored.status().code(), absl::StatusCode::kFailedPrecondition);
    EXPECT_THAT(std::string(restored.status().message()), HasSubstr("not overwritten"));
    std::filesystem::remove(target + remains);
  }
  std::string content;
  std::ifstream(In("taken")) >> content;
  EXPECT_EQ(content, "precious");
}

TEST_F(BackupTest, ChangedOrCutBackupIsRefusedAndNothingIsLeft) {
  Fill(5);
  ASSERT_TRUE(Backup(depot_.path(), In("copy"), kCreatedUs, Quiet).ok());
  const auto size = std::filesystem::file_size(In("copy"));
  for (const uintmax_t at : {uintmax_t{100}, size / 2, size - 1}) {
    std::fstream file(In("copy"), std::ios::in | std::ios::out | std::ios::binary);
    file.seekg(static_cast<std::streamoff>(at));
    const char was = static_cast<char>(file.get());
    file.seekp(static_cast<std::streamoff>(at));
    file.put(static_cast<char>(was ^ 1));
    file.close();
    const auto restored = Restore(In("copy"), In("target"), Quiet);
    EXPECT_EQ(restored.status().code(), absl::StatusCode::kDataLoss);
    EXPECT_FALSE(std::filesystem::exists(In("target")));
    std::fstream back(In("copy"), std::ios::in | std::ios::out | std::ios::binary);
    back.seekp(static_cast<std::streamoff>(at));
    back.put(was);
  }
  EXPECT_TRUE(Restore(In("copy"), In("whole"), Quiet).ok());
  std::filesystem::resize_file(In("copy"), size - 4096);
  EXPECT_EQ(Restore(In("copy"), In("target"), Quiet).status().code(), absl::StatusCode::kDataLoss);
  EXPECT_EQ(FilesLike("target"), 0);
}

TEST_F(BackupTest, ManifestOfAnotherBackupIsRefused) {
  Fill(2);
  ASSERT_TRUE(Backup(depot_.path(), In("first"), kCreatedUs, Quiet).ok());
  Receive("K-more");
  ASSERT_TRUE(Backup(depot_.path(), In("second"), kCreatedUs, Quiet).ok());
  std::filesystem::copy_file(In("first.manifest.json"), In("second.manifest.json"),
                             std::filesystem::copy_options::overwrite_existing);
  EXPECT_EQ(Restore(In("second"), In("target"), Quiet).status().code(),
            absl::StatusCode::kDataLoss);
  std::filesystem::remove(In("second.manifest.json"));
  const auto none = Restore(In("second"), In("target"), Quiet);
  EXPECT_EQ(none.status().code(), absl::StatusCode::kNotFound);
  EXPECT_THAT(std::string(none.status().message()), HasSubstr("manifest"));
  std::ofstream(In("second.manifest.json")) << "{ \"format\": 1, \"bytes\": \"many\" }";
  EXPECT_EQ(Restore(In("second"), In("target"), Quiet).status().code(),
            absl::StatusCode::kDataLoss);
}

TEST_F(BackupTest, EveryRestoreMarksItsLedgerAnew) {
  Fill(2);
  const auto first = Backup(depot_.path(), In("copy"), kCreatedUs, Quiet);
  ASSERT_TRUE(first.ok()) << first.status();
  EXPECT_EQ(first->epoch, "");
  const auto one = Restore(In("copy"), In("one.ferrule"), Quiet);
  const auto two = Restore(In("copy"), In("two.ferrule"), Quiet);
  ASSERT_TRUE(one.ok() && two.ok());
  EXPECT_EQ(one->epoch.size(), 16U);
  EXPECT_NE(one->epoch, two->epoch);
  HostOptions options;
  options.sqlite_path = In("one.ferrule");
  options.clock = &depot_.clock();
  {
    const auto host = OpenDepot(options);
    ASSERT_TRUE(host.ok()) << host.status();
    EXPECT_EQ((*host)->epoch(), one->epoch);
  }
  const auto again = Backup(In("one.ferrule"), In("second"), kCreatedUs, Quiet);
  ASSERT_TRUE(again.ok()) << again.status();
  EXPECT_EQ(again->epoch, one->epoch);
  std::ifstream manifest(In("second.manifest.json"));
  const std::string text((std::istreambuf_iterator<char>(manifest)),
                         std::istreambuf_iterator<char>());
  EXPECT_THAT(text, HasSubstr(absl::StrCat("\"epoch\": \"", one->epoch, "\"")));
}

// The number of a process that has ended.
pid_t EndedProcess() {
  const pid_t child = fork();
  if (child == 0) _exit(0);
  waitpid(child, nullptr, 0);
  return child;
}

std::string PartOf(const std::string& name, const std::string& host, pid_t process) {
  return absl::StrCat(name, ".ferruled-", host, "-", process, ".part");
}

std::string ThisHost() {
  char host[256] = {};
  gethostname(host, sizeof host - 1);
  return host;
}

TEST_F(BackupTest, WhatAKilledOneLeftGoesWithTheNextAndNothingElseDoes) {
  Fill(3);
  const pid_t ended = EndedProcess();
  const std::string left = PartOf(In("yesterday"), ThisHost(), ended);
  const std::vector<std::string> ours = {left, left + "-journal", left + "-wal", left + "-shm",
                                         PartOf(In("copy.manifest.json"), ThisHost(), ended)};
  const std::string elsewhere = PartOf(In("copy"), "another-machine", ended);
  const std::vector<std::string> kept = {
      elsewhere,
      PartOf(In("copy"), ThisHost(), 1),  // runs
      In("copy.part"),
      In("copy.ferruled-.part"),
      absl::StrCat(In("copy.ferruled-"), ended, ".part"),
      PartOf(In("copy"), ThisHost(), ended) + ".txt",
      absl::StrCat(In("copy.ferruled-"), ThisHost(), "-12x.part")};
  for (const auto* names : {&ours, &kept}) {
    for (const std::string& name : *names) std::ofstream(name) << "x";
  }
  const std::string folder = PartOf(In("folder"), ThisHost(), ended);
  const std::string link = PartOf(In("link"), ThisHost(), ended);
  std::filesystem::create_directory(folder);
  std::filesystem::create_symlink(In("copy.part"), link);
  const auto backup = Backup(depot_.path(), In("copy"), kCreatedUs, Quiet);
  ASSERT_TRUE(backup.ok()) << backup.status();
  for (const std::string& name : ours) EXPECT_FALSE(std::filesystem::exists(name)) << name;
  for (const std::string& name : kept) EXPECT_TRUE(std::filesystem::exists(name)) << name;
  EXPECT_TRUE(std::filesystem::exists(folder));
  EXPECT_TRUE(std::filesystem::is_symlink(link));
  EXPECT_THAT(backup->left_alone, ::testing::ElementsAre(elsewhere));
  std::ofstream(left) << "x";
  ASSERT_TRUE(Restore(In("copy"), In("again.ferrule"), Quiet).ok());
  EXPECT_FALSE(std::filesystem::exists(left));
}

TEST_F(BackupTest, ABackupKilledBetweenItsTwoNamesIsMadeAnew) {
  Fill(3);
  ASSERT_TRUE(Backup(depot_.path(), In("copy"), kCreatedUs, Quiet).ok());
  const pid_t ended = EndedProcess();
  std::filesystem::create_hard_link(In("copy"), PartOf(In("copy"), ThisHost(), ended));
  std::filesystem::rename(In("copy.manifest.json"),
                          PartOf(In("copy.manifest.json"), ThisHost(), ended));
  Receive("K-more");
  const auto again = Backup(depot_.path(), In("copy"), kCreatedUs, Quiet);
  ASSERT_TRUE(again.ok()) << again.status();
  EXPECT_EQ(again->head_sequence, 5);
  EXPECT_EQ(FilesLike(".part"), 0);
}

TEST_F(BackupTest, ARestoreKilledAfterItHadItsNameIsNoBackupsLeftover) {
  Fill(3);
  ASSERT_TRUE(Backup(depot_.path(), In("copy"), kCreatedUs, Quiet).ok());
  ASSERT_TRUE(Restore(In("copy"), In("again.ferrule"), Quiet).ok());
  const std::string part = PartOf(In("again.ferrule"), ThisHost(), EndedProcess());
  std::filesystem::create_hard_link(In("again.ferrule"), part);
  EXPECT_EQ(Backup(depot_.path(), In("again.ferrule"), kCreatedUs, Quiet).status().code(),
            absl::StatusCode::kFailedPrecondition);
  EXPECT_TRUE(std::filesystem::exists(In("again.ferrule")));
  EXPECT_FALSE(std::filesystem::exists(part));
}

TEST_F(BackupTest, WrongFilesAreTold) {
  EXPECT_EQ(Backup(In("none"), In("copy"), kCreatedUs, Quiet).status().code(),
            absl::StatusCode::kNotFound);
  std::ofstream(In("letter")) << "Dear depot, this is no depot file at all, only a letter to it.";
  EXPECT_FALSE(Backup(In("letter"), In("copy"), kCreatedUs, Quiet).ok());
  EXPECT_FALSE(std::filesystem::exists(In("copy")));
  EXPECT_EQ(Restore(In("none"), In("target"), Quiet).status().code(), absl::StatusCode::kNotFound);
}

}  // namespace
}  // namespace ferrule::service
