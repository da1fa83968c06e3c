// The statements of the bench's answers, one text for both engines. The kinds of facts are the
// numbers of v1::Fact.what.
#pragma once

#include "core/store/connection.h"

namespace ferrule::board::sql {

inline constexpr store::Sql kBenchUnitStates{
    "bench_unit_states",
    "SELECT state, branch FROM states WHERE kind = 1 AND custody <> 4 "
    "AND ($1 = '' OR branch = $1) AND ($2 = '' OR model = $2) ORDER BY name"};

inline constexpr store::Sql kUnitsFacts{
    "units_facts",
    "SELECT f.subject_id, s.name, f.sequence, e.bytes, f.fact_index FROM states s "
    "JOIN fact_subjects f ON f.subject_id = s.id JOIN entries e ON e.sequence = f.sequence "
    "WHERE s.kind = 1 AND ($1 = '' OR s.branch = $1) AND ($2 = '' OR s.model = $2) "
    "ORDER BY f.subject_id, f.sequence, f.fact_index"};

// Receipt, meter, repairs, found, hand-over, exchange, pick-up, return, reversal.
inline constexpr store::Sql kUnitsRunFacts{
    "units_run_facts",
    "SELECT f.subject_id, s.name, f.sequence, e.bytes, f.fact_index FROM states s "
    "JOIN fact_subjects f ON f.subject_id = s.id JOIN entries e ON e.sequence = f.sequence "
    "WHERE s.kind = 1 AND ($1 = '' OR s.branch = $1) AND ($2 = '' OR s.model = $2) "
    "AND f.kind IN (10, 12, 13, 14, 23, 24, 28, 45, 46, 50, 51, 71) "
    "ORDER BY f.subject_id, f.sequence, f.fact_index"};

inline constexpr store::Sql kUnitsInspections{
    "units_inspections",
    "SELECT f.subject_id, s.name, f.sequence, e.bytes, f.fact_index FROM states s "
    "JOIN fact_subjects f ON f.subject_id = s.id JOIN entries e ON e.sequence = f.sequence "
    "WHERE s.kind = 1 AND ($1 = '' OR s.branch = $1) AND ($2 = '' OR s.model = $2) "
    "AND f.kind IN (22, 71) ORDER BY f.subject_id, f.sequence, f.fact_index"};

inline constexpr store::Sql kTesterStates{"tester_states",
                                          "SELECT state FROM states WHERE kind = 45 ORDER BY name"};

// Orders that wait for a unit, held ones included.
inline constexpr store::Sql kWaitingOrderStates{
    "waiting_order_states",
    "SELECT state FROM states WHERE kind = 4 AND status IN (1, 2) ORDER BY name"};

inline constexpr store::Sql kUnitsWithQuestions{
    "units_with_questions",
    "SELECT state, branch FROM states WHERE questions > 0 AND kind = 1 ORDER BY name"};

inline constexpr store::Sql kUnitsBySerial{
    "units_by_serial", "SELECT state FROM states WHERE serial <> '' AND serial = $1 AND kind = 1"};

// Units of a class at a branch that the records have at some place, and that are free or held.
inline constexpr store::Sql kFleetOfClass{
    "fleet_of_class",
    "SELECT state FROM states WHERE kind = 1 AND custody = 1 AND device_class = $1 "
    "AND branch = $2 AND commitment IN (1, 2) ORDER BY name"};

}  // namespace ferrule::board::sql
