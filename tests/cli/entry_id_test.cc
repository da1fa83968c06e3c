#include "cli/entry_id.h"

#include <gtest/gtest.h>

#include <chrono>
#include <set>

#include "core/fact/timed_id.h"

namespace ferrule::cli {
namespace {

int64_t NowMs() {
  const auto now = std::chrono::system_clock::now().time_since_epoch();
  return std::chrono::duration_cast<std::chrono::milliseconds>(now).count();
}

TEST(EntryId, SaysWhenItWasMadeAndIsMadeOnce) {
  std::set<std::string> ids;
  const int64_t before = NowMs();
  for (int i = 0; i < 1000; ++i) ids.insert(NewEntryId());
  const int64_t after = NowMs();
  EXPECT_EQ(ids.size(), 1000u);
  for (const std::string& id : ids) {
    ASSERT_TRUE(fact::MadeMs(id).has_value()) << id;
    EXPECT_GE(*fact::MadeMs(id), before);
    EXPECT_LE(*fact::MadeMs(id), after);
  }
}

}  // namespace
}  // namespace ferrule::cli
