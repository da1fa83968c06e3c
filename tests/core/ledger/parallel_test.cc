#include "core/ledger/parallel.h"

#include <gtest/gtest.h>

#include <atomic>
#include <vector>

namespace ferrule::ledger {
namespace {

TEST(InParallel, EveryValueIsWorkedOnOnce) {
  for (const size_t count : {0, 1, 255, 256, 257, 10'000}) {
    std::vector<std::atomic<int>> times(count);
    InParallel(count, [&](size_t begin, size_t end) {
      ASSERT_LT(begin, end);
      for (size_t i = begin; i < end; ++i) ++times[i];
    });
    for (size_t i = 0; i < count; ++i) ASSERT_EQ(times[i], 1) << i << " of " << count;
  }
}

TEST(InParallel, ThereIsAtLeastOneThread) { EXPECT_GE(ThreadCount(), 1); }

}  // namespace
}  // namespace ferrule::ledger
