#include "core/order/lifecycle.h"

#include <gtest/gtest.h>

#include <iterator>
#include <string>

#include "tests/support/case_table.h"

namespace ferrule::order {
namespace {

using testing::CaseTable;
using testing::StateWord;

// In the order of Event.
constexpr const char* kEvents[] = {"taken",
                                   "changed",
                                   "cancelled",
                                   "held",
                                   "held_again",
                                   "hold_released",
                                   "other_hold_released",
                                   "handed_over",
                                   "exchanged",
                                   "extended",
                                   "reinstated",
                                   "stopped",
                                   "noted",
                                   "pickup_agreed",
                                   "pickup_failed",
                                   "picked_up",
                                   "one_of_two_picked_up",
                                   "other_unit_picked_up",
                                   "promised",
                                   "promise_released",
                                   "waiting",
                                   "promise_refused",
                                   "motion_changed",
                                   "usage_reported"};
static_assert(std::size(kEvents) == kEventCount);

CaseTable TableInCode() {
  CaseTable table;
  for (int s = 0; s < v1::OrderStatus_ARRAYSIZE; ++s) {
    for (int e = 0; e < kEventCount; ++e) {
      const auto status = static_cast<v1::OrderStatus>(s);
      const Step step = StatusAfter(status, static_cast<Event>(e));
      const auto word = [](v1::OrderStatus s_) {
        return StateWord(v1::OrderStatus_Name(s_), "ORDER_STATUS_");
      };
      table[{"status", word(status), kEvents[e]}] = testing::Outcome(word(step.next), step.reason);
    }
  }
  return table;
}

TEST(OrderLifecycle, EveryStatusAndEventIsInTheCaseTableAndNothingElseIs) {
  std::string bad_lines;
  const CaseTable cases = testing::ReadCases(FERRULE_TEST_DATA "/lifecycle_cases.txt", &bad_lines);
  EXPECT_EQ(bad_lines, "") << "lines that are no case or come twice";
  const CaseTable code = TableInCode();
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

}  // namespace
}  // namespace ferrule::order
