// A unit's turns: out to a patient, back, made ready, out again; and where its days go.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "core/outlook/records.h"

namespace ferrule::outlook {

// One stay of one unit with one order and what followed until it went out again. Instants are
// kNever when they have not come.
struct Turn {
  size_t unit = 0;  // of Records::units
  std::string order;
  int64_t out_us = kNever;       // handed over
  int64_t back_us = kNever;      // left the home
  int64_t received_us = kNever;  // arrived at the depot
  int64_t cleaned_us = kNever;
  int64_t passed_us = kNever;  // inspected
  int64_t ready_us = kNever;   // ready to go, the first time after coming back
  int64_t next_us = kNever;    // out again
  int64_t gone_us = kNever;    // left the fleet after coming back and before it was ready
  bool lost = false;           // it went missing or off the books instead of coming back
  bool exchange = false;       // it replaced another unit in the home
  FactKey out_fact, back_fact, ready_fact;
};

// Every turn of every unit, by unit and then time.
std::vector<Turn> TurnsOf(const Records& records);

// What a unit is doing between two steps; the stages of a turn add up to its whole length.
enum class Stage {
  kBeforeSurgery,  // in the home before the operation
  kInUse,          // in the home, not overdue
  kOverdue,        // in the home after its due day
  kVan,            // on a van, dirty
  kDock,           // back and not yet cleaned
  kToInspect,      // cleaned, not yet passed
  kRepair,         // failed or under repair
  kBlocked,        // cleaned and passed, but held, incomplete, due for service or misplaced
  kHeld,           // ready and held for an order
  kIdle,           // ready and free
  kUnaccounted,
};
inline constexpr int kStages = 11;
const char* StageWords(Stage stage);

// A time spent in one stage.
struct StageSpan {
  Stage stage = Stage::kIdle;
  int64_t from_us = 0;
  int64_t to_us = 0;
  FactKey fact;  // that began it
};
// The unit's spans within [from_us, to_us), without gaps from its arrival on; none after it has
// left the fleet.
std::vector<StageSpan> SpansOf(const Records& records, const UnitRecord& unit, int64_t from_us,
                               int64_t to_us);

// The unit as the last step before or at an instant left it; null before the first.
const UnitStep* StepAt(const UnitRecord& unit, int64_t us);

// Branch that a unit counts for: of its order while it is with a patient, else of its place; empty
// when the settings know neither.
std::string BranchOf(const Records& records, const UnitStep& step);
// Whether it belongs to the fleet that is lent: rental or rented in, accounted for, not written
// off.
bool InFleet(const UnitStep& step);

}  // namespace ferrule::outlook
