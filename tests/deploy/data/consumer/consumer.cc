// Records one unit in a depot of its own and reads it back.
#include <cstdio>

#include "core/ledger/ledger.h"
#include "core/store/migrate.h"
#include "core/store/open.h"
#include "core/time/civil.h"

int main(int argc, char** argv) {
  if (argc != 2) return 2;
  ferrule::store::SqliteOptions options;
  options.path = argv[1];
  options.create = true;
  auto database = ferrule::store::OpenSqlite(options);
  if (!database.ok()) return 3;
  {
    auto writer = (*database)->OpenWriter();
    if (!writer.ok() || !ferrule::store::Migrate(**writer).ok()) return 4;
  }
  const ferrule::time::SystemClock clock;
  auto ledger = ferrule::ledger::Ledger::Open(*std::move(database), &clock, {});
  if (!ledger.ok()) return 5;
  ferrule::v1::Entry entry;
  entry.set_entry_id("first");
  entry.set_actor("consumer");
  entry.set_mode(ferrule::v1::ENTRY_MODE_OBSERVED);
  auto* fact = entry.add_facts();
  ferrule::time::SetMicros(clock.NowMicros(), fact->mutable_happened_time());
  fact->mutable_unit_received()->set_unit("K-1");
  fact->mutable_unit_received()->set_model("knee-a");
  fact->mutable_unit_received()->set_place("north-dock");
  const auto receipt = (*ledger)->RecordAndWait(entry);
  if (!receipt.ok()) {
    std::fprintf(stderr, "%s\n", receipt.status().ToString().c_str());
    return 6;
  }
  const auto state = (*ledger)->Get("units/K-1");
  if (!state.ok()) return 7;
  std::printf("entry %lld: %s at %s\n", static_cast<long long>(receipt->sequence()),
              (*state)->name().c_str(), (*state)->unit().place().c_str());
  return 0;
}
