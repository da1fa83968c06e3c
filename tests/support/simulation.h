// A whole life of a depot out of one seed: callers, a network that loses, repeats and delays, a
// clock that jumps, and a disk that fails, around the real ledger on the real embedded engine. What
// must hold is checked after every restart and at the end.
//
// The same seed gives the same life, to the byte: the ledger is only ever given one task at a time.
#pragma once

#include <cstdint>
#include <string>

namespace ferrule::testing {

struct SimulationOptions {
  uint64_t seed = 0;
  // A depot file to begin with: migrated, with SmallSettings and some units. It is copied.
  std::string template_path;
  std::string folder;  // for this life's files
  // A disk that says it has synced and has not: the life must then be found wanting, sooner or
  // later.
  bool lying_disk = false;
};

struct SimulationReport {
  // What was broken, in a sentence; empty when everything held.
  std::string broken;
  int entries = 0;       // of the callers
  int deliveries = 0;    // of entries to the ledger, repeats included
  int acknowledged = 0;  // entries whose caller knows what became of them
  int unknown = 0;       // deliveries of which the caller did not learn
  int restarts = 0;
  int faults = 0;     // of the disk
  std::string trace;  // one word a step, for replaying
  std::string head_digest;
};

// Makes the depot that lives begin with.
void MakeSimulationTemplate(const std::string& path);

SimulationReport Simulate(const SimulationOptions& options);

}  // namespace ferrule::testing
