// Many callers promise the units of one small pool at once; whatever the door lets through, no day
// of a unit is ever promised twice.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "core/ledger/ledger.h"

namespace ferrule::testing {

struct RaceResult {
  int64_t attempts = 0;
  int64_t kept = 0;      // promises that the door accepted
  int64_t released = 0;  // given back in between, so that the race goes on
  int64_t refused = 0;
  int64_t failed = 0;  // neither: must be none
  std::string first_failure;
};

// A race over six fresh units, whose tags begin with `prefix`: `callers` threads, shared out over
// the ledgers (several on one database stand for several processes), make `attempts` in all. Every
// caller works blindly, so most attempts come too late.
RaceResult RunRace(const std::vector<ledger::Ledger*>& ledgers, int callers, int64_t attempts,
                   const std::string& prefix);

// Days of that race's units that stand promised to more than one order, and questions about them,
// in words; empty when all is well.
std::vector<std::string> PromisedTwice(ledger::Ledger& ledger, const std::string& prefix);

}  // namespace ferrule::testing
