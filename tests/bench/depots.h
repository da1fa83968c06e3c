// The depots that are measured: a small one whose units are moved about, and a large one that the
// simulator has filled.
#pragma once

#include <cstdint>
#include <memory>
#include <string>

#include "absl/status/status.h"
#include "absl/status/statusor.h"
#include "core/store/connection.h"
#include "ferrule/v1/facts.pb.h"
#include "tests/bench/measure.h"
#include "tests/bench/process.h"

namespace ferrule::bench {

// What the bench cannot go on without; it ends with the reason otherwise.
template <typename T>
T Must(absl::StatusOr<T> value) {
  if (!value.ok()) GiveUp(value.status().ToString());
  return *std::move(value);
}
void Must(const absl::Status& status);

int64_t NowMicros();

// A fresh depot file in the scratch folder, or the tables in a schema of their own; the latter
// gives the connection string that finds them.
std::string FreshFile(const Options& options, const std::string& name);
std::string FreshSchema(const Options& options, const std::string& name);

// Settings, and `units` units on the dock.
void ReceiveUnits(std::unique_ptr<store::Database> database, int units);

// The id of the n-th entry of this process, a UUID. Timed ones are made one after the other with so
// much between them: 10,000 in a second, more than any depot's.
inline constexpr int64_t kBetweenIdsUs = 100;
std::string EntryId(int64_t n, Ids ids = Ids::kTimed);

// Entries that move one unit each from dock to van and back, the units in turn. Each call gives
// the next; ids and times never repeat within a process.
v1::Entry NextMove(int units);
std::string UnitTag(int64_t n, int units);

// The simulator's depot of at least `options.units` units and `options.facts` facts; made once for
// each pair in a folder, then found again.
std::string LargeDepot(const Options& options);

}  // namespace ferrule::bench
