#include "core/trace/recall_scope.h"

#include <gtest/gtest.h>

#include <string>
#include <vector>

#include "core/time/civil.h"

namespace ferrule::trace {
namespace {

TEST(SerialRange, ComparesDigitsAsNumbersAndEverythingElseAsItIs) {
  struct Case {
    const char* serial;
    const char* first;
    const char* last;
    bool in;
  };
  constexpr Case kCases[] = {
      {"A-9", "A-1", "A-120", true},
      {"A-120", "A-1", "A-120", true},
      {"A-1", "A-1", "A-120", true},
      {"A-121", "A-1", "A-120", false},
      {"A-0", "A-1", "A-120", false},
      {"B-9", "A-1", "A-120", false},
      {"A-009", "A-9", "A-9", true},
      {"77123", "77000", "78000", true},
      {"7712", "77000", "78000", false},
      {"A-9b", "A-1", "A-120", false},
      {"A", "A-1", "A-120", false},
      {"", "A-1", "A-120", false},
      {"K2-5", "K1-90", "K3-1", true},
      {"99999999999999999999", "1", "100000000000000000000", true},
  };
  for (const Case& c : kCases) {
    EXPECT_EQ(InSerialRange(c.serial, c.first, c.last), c.in) << c.serial << " in " << c.first;
  }
}

v1::RecallItem Item(const std::string& holder, v1::RecallOutcome outcome, int64_t done_s = 0) {
  v1::RecallItem item;
  item.set_holder(holder);
  item.mutable_word()->set_outcome(outcome);
  if (done_s != 0) {
    time::SetMicros(done_s * 1'000'000, item.mutable_word()->mutable_noted()->mutable_time());
  }
  return item;
}

TEST(RecallTotals, CountUnknownHoldersInTheDenominator) {
  const std::vector<v1::RecallItem> items = {
      Item("places/shelf", v1::RECALL_OUTCOME_CORRECTED, 1'100),
      Item("orders/R-1", v1::RECALL_OUTCOME_RETURNED, 1'900),
      Item("orders/R-2", v1::RECALL_OUTCOME_UNSPECIFIED),
      Item("nobody", v1::RECALL_OUTCOME_UNSPECIFIED),
      Item("", v1::RECALL_OUTCOME_UNSPECIFIED),
      Item("places/dock", v1::RECALL_OUTCOME_UNACCOUNTED),
  };
  const v1::RecallTotals totals = TotalsOf(items, 1'000'000'000);
  EXPECT_EQ(totals.item_count(), 6);
  EXPECT_EQ(totals.done_count(), 2);
  EXPECT_EQ(totals.done_basis_points(), 3333);
  EXPECT_EQ(totals.unaccounted_count(), 3);
  EXPECT_EQ(totals.at_home_count(), 1);
  EXPECT_FALSE(totals.has_half_done_s());
}

TEST(RecallTotals, GiveTheTimesToHalfToNinetyAndToAll) {
  std::vector<v1::RecallItem> items;
  for (int i = 1; i <= 10; ++i) {
    items.push_back(Item("places/shelf", v1::RECALL_OUTCOME_DESTROYED, 1'000 + 60 * i));
  }
  v1::RecallTotals totals = TotalsOf(items, 1'000'000'000);
  EXPECT_EQ(totals.half_done_s(), 300);
  EXPECT_EQ(totals.ninety_done_s(), 540);
  EXPECT_EQ(totals.all_done_s(), 600);
  items.back().clear_word();
  totals = TotalsOf(items, 1'000'000'000);
  EXPECT_EQ(totals.ninety_done_s(), 540);
  EXPECT_FALSE(totals.has_all_done_s());
}

TEST(RecallTotals, OfNothingAreNothing) {
  const v1::RecallTotals totals = TotalsOf({}, 0);
  EXPECT_EQ(totals.item_count(), 0);
  EXPECT_EQ(totals.done_basis_points(), 0);
  EXPECT_FALSE(totals.has_all_done_s());
}

}  // namespace
}  // namespace ferrule::trace
