#include "core/unit/lifecycle.h"

#include <gtest/gtest.h>

#include <iterator>
#include <string>

#include "tests/support/case_table.h"

namespace ferrule::unit {
namespace {

using testing::CaseTable;
using testing::Outcome;
using testing::StateWord;

// In the order of Event.
constexpr const char* kEvents[] = {"received",
                                   "moved",
                                   "put_in_clean_place",
                                   "put_in_soiled_place",
                                   "meter_read",
                                   "meter_replaced",
                                   "meter_rolled_over",
                                   "part_fitted",
                                   "part_removed",
                                   "hold_placed",
                                   "contamination_found",
                                   "hold_lifted",
                                   "cleaning_started",
                                   "cleaned",
                                   "cleaning_failed",
                                   "memory_erased",
                                   "inspection_passed",
                                   "inspection_failed",
                                   "inspection_void",
                                   "repair_opened",
                                   "repair_closed",
                                   "service_done",
                                   "side_configured",
                                   "alias_noted",
                                   "cleaning_step_done",
                                   "contact_noted",
                                   "treated",
                                   "service_deferred",
                                   "tester_doubted",
                                   "missing",
                                   "found",
                                   "written_off",
                                   "held_for_order",
                                   "held_again",
                                   "hold_released",
                                   "other_hold_released",
                                   "handed_over",
                                   "exchanged_in",
                                   "exchanged_out",
                                   "carried_over",
                                   "picked_up",
                                   "received_back",
                                   "promised",
                                   "promise_released",
                                   "transfer_sent",
                                   "transfer_received",
                                   "seal_broken",
                                   "purpose_changed"};
static_assert(std::size(kEvents) == kEventCount);

constexpr Event At(int i) { return static_cast<Event>(i); }

// Every pair of state and event on one axis.
template <typename State, typename After, typename Name>
void Walk(const std::string& axis, int states, const std::string& prefix, After after, Name name,
          CaseTable* table) {
  for (int s = 0; s < states; ++s) {
    for (int e = 0; e < kEventCount; ++e) {
      const auto step = after(static_cast<State>(s), At(e));
      (*table)[{axis, StateWord(name(static_cast<State>(s)), prefix), kEvents[e]}] =
          Outcome(StateWord(name(step.next), prefix), step.reason);
    }
  }
}

CaseTable TablesInCode() {
  CaseTable table;
  Walk<v1::Custody>("custody", v1::Custody_ARRAYSIZE, "CUSTODY_", CustodyAfter,
                    v1::Custody_Name<v1::Custody>, &table);
  Walk<v1::Hygiene>("hygiene", v1::Hygiene_ARRAYSIZE, "HYGIENE_", HygieneAfter,
                    v1::Hygiene_Name<v1::Hygiene>, &table);
  Walk<v1::Condition>("condition", v1::Condition_ARRAYSIZE, "CONDITION_", ConditionAfter,
                      v1::Condition_Name<v1::Condition>, &table);
  Walk<v1::Commitment>("commitment", v1::Commitment_ARRAYSIZE, "COMMITMENT_", CommitmentAfter,
                       v1::Commitment_Name<v1::Commitment>, &table);
  return table;
}

TEST(UnitLifecycle, EveryStateAndEventIsInTheCaseTableAndNothingElseIs) {
  std::string bad_lines;
  const CaseTable cases = testing::ReadCases(FERRULE_TEST_DATA "/lifecycle_cases.txt", &bad_lines);
  EXPECT_EQ(bad_lines, "") << "lines that are no case or come twice";
  const CaseTable code = TablesInCode();
  for (const auto& [key, outcome] : code) {
    const auto& [axis, state, event] = key;
    const auto it = cases.find(key);
    if (it == cases.end()) {
      ADD_FAILURE() << "no line for: " << axis << " " << state << " " << event;
    } else {
      EXPECT_EQ(it->second, outcome) << axis << " " << state << " " << event;
    }
  }
  for (const auto& [key, outcome] : cases) {
    const auto& [axis, state, event] = key;
    EXPECT_TRUE(code.contains(key)) << "no such case: " << axis << " " << state << " " << event;
  }
}

TEST(UnitLifecycle, NothingMakesAReceivedUnitUnknownAgain) {
  for (const auto& [key, outcome] : TablesInCode()) {
    const auto& [axis, state, event] = key;
    if (state != "never") {
      EXPECT_NE(outcome.substr(0, 5), "never") << axis << " " << state << " " << event;
    }
  }
}

TEST(UnitLifecycle, OnlyCleaningMakesClean) {
  for (const auto& [key, outcome] : TablesInCode()) {
    const auto& [axis, state, event] = key;
    if (axis == "hygiene" && state != "cleaned" && event != "cleaned") {
      EXPECT_NE(outcome.substr(0, outcome.find(' ')), "cleaned") << state << " " << event;
    }
  }
}

TEST(UnitLifecycle, OnlyAPassedInspectionMakesPassed) {
  for (const auto& [key, outcome] : TablesInCode()) {
    const auto& [axis, state, event] = key;
    if (axis == "condition" && state != "passed" && event != "inspection_passed") {
      EXPECT_NE(outcome.substr(0, outcome.find(' ')), "passed") << state << " " << event;
    }
  }
}

}  // namespace
}  // namespace ferrule::unit
