// Facts of units as the store has them, for answers about their past.
#pragma once

#include <string>
#include <vector>

#include "absl/functional/function_ref.h"
#include "absl/status/status.h"
#include "core/fact/fact_view.h"
#include "core/ledger/ledger.h"
#include "core/store/connection.h"

namespace ferrule::board {

using FactsFn =
    absl::FunctionRef<void(const std::string& name, const std::vector<fact::FactView>& facts)>;

// All facts of one unit, recorded by `known_us` (0 for all); NotFound when nothing names it.
absl::Status WithFactsOf(ledger::Ledger& ledger, const std::string& name, int64_t known_us,
                         FactsFn visit);

// Which facts of a unit an answer needs.
enum class Facts {
  kAll,
  kRun,          // receipt, meter, custody, repairs, reversals
  kInspections,  // inspections and reversals
};

// Which units.
struct UnitFilter {
  std::string branch;  // empty for all
  std::string model;   // empty for all
};

// Unit by unit, the facts of one in commit order; in one snapshot.
absl::Status EachUnitsFacts(store::Connection& connection, Facts which, const UnitFilter& filter,
                            FactsFn visit);

// Every unit's stored state with its branch, units off the books left out.
absl::Status EachUnit(
    store::Connection& connection, const UnitFilter& filter,
    absl::FunctionRef<void(const v1::SubjectState& state, std::string_view branch)> visit);

}  // namespace ferrule::board
