// Tests core/store/integrity.cc: a depot file with bytes flipped, pages emptied or its end cut off,
// by seed. It is never opened and believed: either nothing that counts was hit, and all of it still
// verifies, or somebody is told.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <iostream>
#include <random>

#include "SQLiteCpp/SQLiteCpp.h"
#include "absl/strings/str_cat.h"
#include "core/ledger/whole.h"
#include "core/store/integrity.h"
#include "core/store/open.h"
#include "tests/support/depot_stores.h"
#include "tests/support/entries.h"
#include "tests/support/ledger_depot.h"

namespace ferrule::testing {
namespace {

constexpr size_t kPage = 4'096;

int Seeds() {
  const char* seeds = std::getenv("FERRULE_DAMAGE_SEEDS");
  return seeds != nullptr ? std::atoi(seeds) : 120;
}

std::string Load(const std::string& path) {
  std::ifstream file(path, std::ios::binary);
  return {std::istreambuf_iterator<char>(file), std::istreambuf_iterator<char>()};
}

void Save(const std::string& path, const std::string& bytes) {
  std::ofstream(path, std::ios::binary | std::ios::trunc) << bytes;
}

void Flip(uint64_t at, uint64_t bit, std::string* bytes) {
  char& byte = (*bytes)[at % bytes->size()];
  byte = static_cast<char>(byte ^ (1 << bit % 8));
}

void Damage(std::mt19937_64& random, std::string* bytes) {
  switch (random() % 4) {
    case 0:
    case 1:
      Flip(random(), random(), bytes);
      break;
    case 2: {
      const size_t page = random() % (bytes->size() / kPage);
      bytes->replace(page * kPage, kPage, std::string(kPage, '\0'));
      break;
    }
    default:
      bytes->resize(bytes->size() - 1 - random() % std::min(kPage, bytes->size() - 1));
      break;
  }
}

absl::StatusOr<ledger::WholeReport> OpenAndVerify(const std::string& path,
                                                  std::span<const ledger::Anchor> anchors) {
  store::SqliteOptions options;
  options.path = path;
  auto database = store::OpenSqlite(options);
  if (!database.ok()) return database.status();
  const time::ManualClock clock(kStartUs + 60 * kDayUs);
  {
    // As a restart does it.
    auto opened = ledger::Ledger::Open(*std::move(database), &clock, {});
    if (!opened.ok()) return opened.status();
  }
  database = store::OpenSqlite(options);
  if (!database.ok()) return database.status();
  return ledger::CheckWhole(**database, nullptr, anchors);
}

class LedgerDamage : public ::testing::Test {
 protected:
  void SetUp() override {
    depot_.MustRecord(SettingsEntry());
    for (int i = 0; i < 30; ++i) {
      depot_.MustRecord(ReceiveUnit(absl::StrCat("K-", i), kStartUs));
      depot_.MustRecord(
          MakeReady(absl::StrCat("r-", i), absl::StrCat("K-", i), kStartUs + kHourUs));
    }
    const ledger::Head head = depot_.ledger().head();
    anchors_ = {{head.sequence, head.digest}};
    // Before the last commits are moved into the file, as a kill leaves it.
    file_ = Load(depot_.path());
    log_ = Load(depot_.path() + "-wal");
    depot_.Reopen();
    depot_.MustVerify();
    closed_ = Load(depot_.path());
  }
  // How often each outcome was: told, or nothing that counts was hit.
  void Try(const std::string& file, const std::string& log, bool damage_log) {
    int told = 0;
    for (int seed = 1; seed <= Seeds(); ++seed) {
      std::mt19937_64 random(static_cast<uint64_t>(seed));
      std::string bytes = damage_log ? log : file;
      Damage(random, &bytes);
      for (const char* suffix : {"-wal", "-shm", ".lock"}) std::filesystem::remove(path_ + suffix);
      Save(path_, damage_log ? file : bytes);
      if (!log.empty()) Save(path_ + "-wal", damage_log ? bytes : log);
      const auto report = OpenAndVerify(path_, anchors_);
      if (!report.ok()) {
        EXPECT_FALSE(report.status().message().empty()) << "seed " << seed;
        ++told;
      } else if (!report->ok()) {
        ++told;
      } else {
        EXPECT_EQ(report->entries, 61) << "seed " << seed;
      }
    }
    std::cout << Seeds() << " seeds: " << told << " told, " << Seeds() - told
              << " hit nothing that counts\n";
    EXPECT_GT(told, Seeds() / 4);
  }

  LedgerDepot depot_{"sqlite"};
  TempFolder folder_;
  const std::string path_ = folder_.File("damaged.ferrule");
  std::string file_, log_, closed_;
  std::vector<ledger::Anchor> anchors_;
};

TEST_F(LedgerDamage, OfAClosedFileIsToldOrHarmless) { Try(closed_, "", false); }
TEST_F(LedgerDamage, OfTheLogIsToldOrHarmless) {
  ASSERT_GT(log_.size(), 10 * kPage);
  Try(file_, log_, true);
}

TEST_F(LedgerDamage, ALogOfAnotherDepotIsNotTakenForOwn) {
  LedgerDepot other("sqlite");
  other.MustRecord(SettingsEntry());
  for (int i = 0; i < 40; ++i) other.MustRecord(ReceiveUnit(absl::StrCat("X-", i), kStartUs));
  Save(path_, closed_);
  Save(path_ + "-wal", Load(other.path() + "-wal"));
  const auto report = OpenAndVerify(path_, anchors_);
  if (report.ok() && report->ok()) {
    EXPECT_EQ(report->entries, 61);
  }
}

TEST_F(LedgerDamage, TheLogTakenAwayIsFoundAgainstTheHead) {
  Save(path_, file_);
  const auto report = OpenAndVerify(path_, anchors_);
  EXPECT_FALSE(report.ok() && report->ok());
}

// An index that has lost its rows: neither the chain nor the states tell, the engine does.
TEST_F(LedgerDamage, AnEmptiedIndexIsToldByTheEngine) {
  Save(path_, closed_);
  int64_t root = 0;
  {
    SQLite::Database database(path_);
    root = database.execAndGet("SELECT rootpage FROM sqlite_schema WHERE name = 'states_serial'")
               .getInt64();
  }
  constexpr size_t kCellCountAt = 3;  // sqlite.org/fileformat2.html, section 1.6
  std::string bytes = closed_;
  ASSERT_GT(root, 1);
  bytes.replace((static_cast<size_t>(root) - 1) * kPage + kCellCountAt, 2, std::string(2, '\0'));
  ASSERT_NE(bytes, closed_);
  Save(path_, bytes);
  const auto report = OpenAndVerify(path_, anchors_);
  ASSERT_TRUE(report.ok()) << report.status();
  EXPECT_EQ(report->first_broken_sequence, 0);
  EXPECT_FALSE(report->ok());
  EXPECT_THAT(report->engine_faults,
              ::testing::Contains(::testing::HasSubstr("index states_serial")));
}

TEST(StoreIntegrity, AWholeStoreHasNoFaultsOnAnyEngine) {
  for (const StoreKind kind : kLastingStores) {
    TestStore store(kind);
    const auto database = store.OpenMigrated();
    const auto reader = database->OpenReader();
    ASSERT_TRUE(reader.ok());
    const auto faults = store::EngineFaults(**reader);
    ASSERT_TRUE(faults.ok()) << faults.status();
    EXPECT_TRUE(faults->empty()) << faults->front();
  }
}

}  // namespace
}  // namespace ferrule::testing
