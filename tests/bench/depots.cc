#include "tests/bench/depots.h"

#include <array>
#include <atomic>
#include <filesystem>
#include <future>
#include <utility>
#include <vector>

#include "absl/time/clock.h"
#include "core/demo/simulator.h"
#include "core/fact/timed_id.h"
#include "core/ledger/ledger.h"
#include "core/store/migrate.h"
#include "core/store/open.h"
#include "core/time/clock.h"
#include "tests/support/entries.h"

namespace ferrule::bench {
namespace {

constexpr size_t kBatch = 500;

void RecordAll(ledger::Ledger& ledger, std::vector<v1::Entry> entries) {
  std::promise<std::vector<absl::StatusOr<v1::Receipt>>> done;
  ledger.RecordBatch(std::move(entries), "", [&](std::vector<absl::StatusOr<v1::Receipt>> all) {
    done.set_value(std::move(all));
  });
  for (const absl::StatusOr<v1::Receipt>& one : done.get_future().get()) Must(one.status());
}

std::unique_ptr<store::Database> OpenFile(const std::string& path) {
  store::SqliteOptions options;
  options.path = path;
  options.create = true;
  auto database = Must(store::OpenSqlite(options));
  Must(store::Migrate(*Must(database->OpenWriter())));
  return database;
}

void Remove(const std::string& path) {
  for (const char* end : {"", "-wal", "-shm", ".lock"}) std::filesystem::remove(path + end);
}

}  // namespace

void Must(const absl::Status& status) {
  if (!status.ok()) GiveUp(status.ToString());
}

int64_t NowMicros() { return absl::ToUnixMicros(absl::Now()); }

std::string FreshFile(const Options& options, const std::string& name) {
  const std::string path = options.folder + "/" + name + ".ferrule";
  Remove(path);
  OpenFile(path);
  return path;
}

std::string FreshSchema(const Options& options, const std::string& name) {
  auto admin = Must(Must(store::OpenPostgres(options.postgres))->OpenWriter());
  const std::string script =
      "DROP SCHEMA IF EXISTS " + name + " CASCADE; CREATE SCHEMA " + name + ";";
  Must(admin->RunScript({"fresh_schema", script.c_str()}));
  const std::string conninfo = options.postgres + " options='-c search_path=" + name + "'";
  auto database = Must(store::OpenPostgres(conninfo));
  Must(store::Migrate(*Must(database->OpenWriter())));
  return conninfo;
}

void ReceiveUnits(std::unique_ptr<store::Database> database, int units) {
  const time::SystemClock clock;
  auto ledger = Must(ledger::Ledger::Open(std::move(database), &clock, {}));
  std::vector<v1::Entry> entries = {testing::SettingsEntry()};
  for (int i = 0; i < units; ++i) {
    entries.push_back(testing::ReceiveUnit(UnitTag(i, units), testing::kStartUs));
    entries.back().set_entry_id(EntryId(i - units));  // those of other entries come after it
    if (entries.size() == kBatch) RecordAll(*ledger, std::exchange(entries, {}));
  }
  if (!entries.empty()) RecordAll(*ledger, std::move(entries));
}

std::string UnitTag(int64_t n, int units) { return "B-" + std::to_string(100000 + n % units); }

std::string EntryId(int64_t n, Ids ids) {
  static const int64_t base_us = NowMicros();
  uint64_t hash = static_cast<uint64_t>(base_us + n) * 0x9e3779b97f4a7c15u;
  hash ^= hash >> 32;
  std::array<uint8_t, 10> chance = {};
  for (size_t i = 0; i < 8; ++i) chance[i + 2] = static_cast<uint8_t>(hash >> 8 * i);
  if (ids == Ids::kTimed) return fact::TimedId((base_us + n * kBetweenIdsUs) / 1000, chance);
  std::string id = fact::TimedId(static_cast<int64_t>(hash >> 16), chance);
  id[14] = '4';  // a version that is nothing but chance
  return id;
}

v1::Entry NextMove(int units) {
  static std::atomic<int64_t> next{0};
  static const int64_t base_us = NowMicros() - testing::kDayUs;
  const int64_t n = next++;
  v1::Entry entry;
  entry.set_entry_id(EntryId(n));
  entry.set_actor("bench");
  entry.set_channel("bench");
  v1::Fact& fact = *entry.add_facts();
  time::SetMicros(base_us + n, fact.mutable_happened_time());
  fact.mutable_unit_moved()->set_unit(UnitTag(n, units));
  fact.mutable_unit_moved()->set_to_place((n / units) % 2 == 0 ? "north-van" : "north-dock");
  return entry;
}

std::string LargeDepot(const Options& options) {
  const std::string path = options.folder + "/large-" + std::to_string(options.units) + "-" +
                           std::to_string(options.facts) + ".ferrule";
  if (std::filesystem::exists(path)) return path;
  const std::string unfinished = path + ".unfinished";
  Remove(unfinished);
  demo::Options simulated;
  simulated.units = options.units;
  simulated.years = 20;
  simulated.fact_limit = options.facts;
  demo::Simulator simulator(simulated);
  time::ManualClock clock(0);
  {
    auto ledger = Must(ledger::Ledger::Open(OpenFile(unfinished), &clock, {}));
    for (demo::Batch batch; simulator.Next(&batch); batch.entries.clear()) {
      clock.Set(batch.recorded_us);
      RecordAll(*ledger, std::move(batch.entries));
    }
  }
  if (simulator.fact_count() < options.facts) {
    GiveUp(std::to_string(options.units) + " units make only " +
           std::to_string(simulator.fact_count()) + " facts in 20 years");
  }
  Remove(path);
  std::filesystem::rename(unfinished, path);
  return path;
}

}  // namespace ferrule::bench
