// Thousands of lives of a depot, each out of a seed, with failing disks, networks and clocks
// (tests/support/simulation.h): nothing acknowledged is ever lost, doubled, moved or half there.
#include "tests/support/simulation.h"

#include <gtest/gtest.h>
#include <unistd.h>

#include <chrono>
#include <cstdlib>
#include <filesystem>
#include <iostream>

#include "absl/strings/str_cat.h"
#include "core/fact/timed_id.h"
#include "core/ledger/whole.h"
#include "core/store/migrate.h"
#include "core/store/open.h"
#include "core/store/schema/migrations.h"
#include "core/time/clock.h"
#include "tests/support/depot_stores.h"
#include "tests/support/entries.h"
#include "tests/support/fault_disk.h"

namespace ferrule::testing {
namespace {

uint64_t FromEnvironment(const char* name, uint64_t otherwise) {
  const char* value = std::getenv(name);
  return value != nullptr ? std::strtoull(value, nullptr, 10) : otherwise;
}

// In memory where there is such a disk: what reaches the disk is told by FaultDisk.
class LedgerSimulation : public ::testing::Test {
 protected:
  LedgerSimulation() {
    const bool memory = std::filesystem::is_directory("/dev/shm");
    std::string pattern =
        (memory ? std::filesystem::path("/dev/shm") : std::filesystem::temp_directory_path()) /
        "ferrule-simulation-XXXXXX";
    folder_ = ::mkdtemp(pattern.data());
    FaultDisk::Instance();
    options_.folder = folder_;
    options_.template_path = folder_ + "/template.ferrule";
    MakeSimulationTemplate(options_.template_path);
  }
  ~LedgerSimulation() override { std::filesystem::remove_all(folder_); }

  std::string folder_;
  SimulationOptions options_;
};

TEST_F(LedgerSimulation, NothingAcknowledgedIsLostDoubledOrHalfApplied) {
  const uint64_t first = FromEnvironment("FERRULE_SIMULATION_FIRST", 1);
  const uint64_t lives = FromEnvironment("FERRULE_SIMULATION_LIVES", 400);
  const auto begun = std::chrono::steady_clock::now();
  SimulationReport sum;
  for (uint64_t i = 0; i < lives; ++i) {
    options_.seed = first + i;
    const SimulationReport report = Simulate(options_);
    ASSERT_EQ(report.broken, "");
    sum.entries += report.entries;
    sum.deliveries += report.deliveries;
    sum.unknown += report.unknown;
    sum.restarts += report.restarts;
    sum.faults += report.faults;
  }
  const double seconds =
      std::chrono::duration<double>(std::chrono::steady_clock::now() - begun).count();
  std::cout << lives << " lives from seed " << first << ": " << sum.entries << " entries in "
            << sum.deliveries << " deliveries, " << sum.unknown << " of unknown outcome, "
            << sum.restarts << " restarts, " << sum.faults << " faults; "
            << static_cast<int>(static_cast<double>(lives) * 60 / seconds) << " lives a minute\n";
  // The faults must have struck.
  EXPECT_GT(sum.restarts, static_cast<int>(lives));
  EXPECT_GT(sum.unknown, static_cast<int>(lives));
  EXPECT_GT(sum.faults, static_cast<int>(lives));
}

TEST_F(LedgerSimulation, TheSameSeedGivesTheSameLife) {
  for (uint64_t seed = 1; seed <= 10; ++seed) {
    options_.seed = seed;
    const SimulationReport one = Simulate(options_);
    const SimulationReport other = Simulate(options_);
    EXPECT_EQ(one.trace, other.trace);
    EXPECT_EQ(one.head_digest, other.head_digest);
  }
}

// The checks bite: a disk that lies about having synced loses what was acknowledged.
TEST_F(LedgerSimulation, ADiskThatLiesIsFoundOut) {
  options_.lying_disk = true;
  int found = 0;
  for (uint64_t seed = 1; seed <= 120; ++seed) {
    options_.seed = seed;
    if (!Simulate(options_).broken.empty()) ++found;
  }
  EXPECT_GT(found, 20);
}

class MigrationUnderPowerCut : public LedgerSimulation {
 protected:
  static std::unique_ptr<store::Database> Open(const std::string& path) {
    store::SqliteOptions options;
    options.path = path;
    options.create = true;
    auto database = store::OpenSqlite(options);
    return database.ok() ? *std::move(database) : nullptr;
  }
  // Brings a file to a version; false when the disk failed.
  static bool MigrateTo(const std::string& path, size_t version) {
    const auto database = Open(path);
    if (database == nullptr) return false;
    const auto writer = database->OpenWriter();
    return writer.ok() && store::schema::Steps(std::span(store::schema::kMigrations).first(version))
                              .Apply(**writer)
                              .ok();
  }
  static int VersionOf(const std::string& path) {
    const auto database = Open(path);
    if (database == nullptr) return -1;
    const auto writer = database->OpenWriter();
    if (!writer.ok()) return -2;
    return store::SchemaVersion(**writer).value_or(-3);
  }
  // As `ferruled migrate` does.
  static bool MigrateWhole(const std::string& path) {
    const auto database = Open(path);
    if (database == nullptr) return false;
    {
      const auto writer = database->OpenWriter();
      if (!writer.ok() || !store::Migrate(**writer).ok()) return false;
    }
    return ledger::Rebuild(*database, nullptr).ok();
  }
  // Whether a depot may be served.
  static bool Served(const std::string& path) {
    const auto database = Open(path);
    const auto writer = database->OpenWriter();
    return store::CheckSchema(**writer).ok();
  }
  static bool Whole(const std::string& path) {
    const auto report = ledger::CheckWhole(*Open(path), nullptr);
    return report.ok() && report->ok();
  }
  static absl::StatusOr<v1::Receipt> Send(const std::string& path, const v1::Entry& entry) {
    const time::ManualClock clock(kStartUs + 30 * kDayUs);
    auto ledger = ledger::Ledger::Open(Open(path), &clock, {});
    if (!ledger.ok()) return ledger.status();
    return (*ledger)->RecordAndWait(entry);
  }
};

// From nothing and from the first version on, with the power cut at each single step.
TEST_F(MigrationUnderPowerCut, TheSchemaIsOldOrNewAndTheNextTryFinishes) {
  const size_t last = store::schema::kMigrations.size();
  FaultDisk& disk = FaultDisk::Instance();
  for (const size_t from : {size_t{0}, size_t{1}}) {
    const std::string path = absl::StrCat(folder_, "/from-", from, ".ferrule");
    int cuts = 0;
    for (bool done = false; !done; ++cuts) {
      ASSERT_LT(cuts, 2'000);
      for (const char* suffix : {"", "-wal", "-shm", ".lock"})
        std::filesystem::remove(path + suffix);
      if (from > 0) {
        ASSERT_TRUE(MigrateTo(path, from));
      }
      disk.Watch(path);
      disk.SetPlan(
          {FaultDisk::Fault::kPowerCut, cuts + 1, false, false, static_cast<uint64_t>(cuts)});
      done = MigrateTo(path, last) && !disk.off();
      if (!done) {
        disk.Kill();
        disk.PowerOn();
      }
      // Without a file there was nothing yet.
      const int found = VersionOf(path);
      if (found != static_cast<int>(last)) {
        if (from == 0) {
          EXPECT_EQ(found, 0) << "cut " << cuts;
        } else {
          EXPECT_GE(found, static_cast<int>(from)) << "cut " << cuts;
        }
      }
      EXPECT_TRUE(MigrateTo(path, last)) << "cut " << cuts;
      EXPECT_EQ(VersionOf(path), static_cast<int>(last));
    }
    EXPECT_GT(cuts, 5);
    std::cout << "from version " << from << ": " << cuts << " cuts\n";
  }
}

// The last step's work is in the rebuild that follows: from hashes for keys to keys in the order of
// the ids' times.
TEST_F(MigrationUnderPowerCut, AnEntryIsFiledAsBeforeOrAnewAndTheNextTryFinishes) {
  const std::string& old = options_.template_path;
  const v1::Entry entry =
      EntryOf(fact::TimedId(kStartUs / 1000, {}), kStartUs + 2 * kHourUs,
              "unit_moved { unit: 'K-1' to_place: 'north-bench' }", v1::ENTRY_MODE_OBSERVED);
  const absl::StatusOr<v1::Receipt> first = Send(old, entry);
  ASSERT_TRUE(first.ok()) << first.status();
  {
    const auto database = Open(old);
    const auto writer = database->OpenWriter();
    ASSERT_EQ((*writer)->RunScript({"older",
                                    "DELETE FROM schema_migrations WHERE version > 4;"
                                    "ALTER TABLE entries RENAME COLUMN id_key TO entry_key;"
                                    "UPDATE entries SET entry_key = -entry_key "
                                    "WHERE sequence = (SELECT max(sequence) FROM entries)"}),
              absl::OkStatus());
  }
  FaultDisk& disk = FaultDisk::Instance();
  const std::string path = folder_ + "/filed.ferrule";
  int cuts = 0, served = 0;
  for (bool done = false; !done; ++cuts) {
    ASSERT_LT(cuts, 2'000);
    for (const char* suffix : {"", "-wal", "-shm", ".lock"}) std::filesystem::remove(path + suffix);
    std::filesystem::copy_file(old, path);
    disk.Watch(path);
    disk.SetPlan(
        {FaultDisk::Fault::kPowerCut, cuts + 1, false, false, static_cast<uint64_t>(cuts)});
    done = MigrateWhole(path) && !disk.off();
    if (done) {
      disk.SetPlan({});  // the cut would come later
    } else {
      disk.Kill();
      disk.PowerOn();
    }
    if (Served(path)) {
      ++served;
      EXPECT_TRUE(Whole(path)) << "cut " << cuts;
    }
    ASSERT_TRUE(MigrateWhole(path)) << "cut " << cuts;
    EXPECT_TRUE(Whole(path)) << "cut " << cuts;
    const absl::StatusOr<v1::Receipt> again = Send(path, entry);
    ASSERT_TRUE(again.ok()) << again.status();
    EXPECT_TRUE(again->repeated()) << "cut " << cuts;
    EXPECT_EQ(again->digest(), first->digest());
  }
  EXPECT_GT(cuts, 20);
  EXPECT_LT(served, cuts);
  std::cout << "filed anew: " << cuts << " cuts\n";
}

}  // namespace
}  // namespace ferrule::testing
