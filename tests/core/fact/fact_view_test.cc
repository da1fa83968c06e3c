#include "core/fact/fact_view.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <string>
#include <vector>

namespace ferrule::fact {
namespace {

v1::Entry EntryOf(const std::string& id, int64_t order_number) {
  v1::Entry entry;
  entry.set_entry_id(id);
  entry.set_order_number(order_number);
  entry.add_facts();
  entry.add_facts();
  return entry;
}

TEST(FactOrder, IsTrueTimeThenOrderNumberThenEntryThenIndex) {
  const v1::Entry a = EntryOf("a", 1);
  const v1::Entry b = EntryOf("b", 1);
  const v1::Entry c = EntryOf("c", 0);
  // As they must be folded: happened, order number, entry id, index.
  const std::vector<FactView> sorted = {
      {&b, 1, 100, 900, 9}, {&c, 0, 200, 800, 8}, {&c, 1, 200, 800, 8},
      {&a, 0, 200, 700, 7}, {&a, 1, 200, 700, 7}, {&b, 0, 200, 600, 6},
  };
  for (size_t i = 0; i < sorted.size(); ++i) {
    for (size_t k = 0; k < sorted.size(); ++k) {
      EXPECT_EQ(Before(sorted[i], sorted[k]), i < k) << i << " " << k;
    }
  }
}

TEST(FactOrder, DoesNotDependOnArrival) {
  const v1::Entry a = EntryOf("a", 0);
  const FactView early{&a, 0, 100, 5, 5};
  const FactView late{&a, 1, 100, 4, 4};
  EXPECT_TRUE(Before(early, late));
  EXPECT_FALSE(Before(late, early));
}

TEST(FactView, GivesTheFactOfItsEntry) {
  const v1::Entry a = EntryOf("a", 0);
  const FactView view{&a, 1, 0, 0, 0};
  EXPECT_EQ(&view.fact(), &a.facts(1));
}

}  // namespace
}  // namespace ferrule::fact
