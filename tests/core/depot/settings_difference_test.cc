#include <gtest/gtest.h>

#include <cstdint>
#include <utility>
#include <vector>

#include "core/depot/settings_book.h"
#include "core/time/civil.h"

namespace ferrule::depot {
namespace {

SettingsBook BookOf(const std::vector<std::pair<int64_t, const char*>>& versions) {
  v1::SettingsState state;
  for (const auto& [from_us, name] : versions) {
    v1::SettingsVersion* version = state.add_versions();
    version->mutable_settings()->set_version(name);
    time::SetMicros(from_us, version->mutable_from_time());
  }
  return SettingsBook(state);
}

TEST(FirstDifference, IsTheEarliestInstantAtWhichTwoBooksPart) {
  const SettingsBook one = BookOf({{10, "a"}, {20, "b"}});
  EXPECT_EQ(FirstDifference(one, BookOf({{10, "a"}, {20, "b"}})), INT64_MAX);
  EXPECT_EQ(FirstDifference(one, BookOf({{10, "a"}, {20, "c"}})), 20);
  EXPECT_EQ(FirstDifference(one, BookOf({{10, "a"}, {15, "b"}})), 15);
  EXPECT_EQ(FirstDifference(one, BookOf({{10, "a"}, {20, "b"}, {30, "c"}})), 30);
  EXPECT_EQ(FirstDifference(one, BookOf({{5, "a"}, {20, "b"}})), 5);
  EXPECT_EQ(FirstDifference(SettingsBook(), one), 10);
  EXPECT_EQ(FirstDifference(SettingsBook(), SettingsBook()), INT64_MAX);
}

TEST(FirstDifference, IsTheSameBothWays) {
  const SettingsBook one = BookOf({{10, "a"}});
  const SettingsBook other = BookOf({{12, "a"}});
  EXPECT_EQ(FirstDifference(one, other), 10);
  EXPECT_EQ(FirstDifference(other, one), 10);
}

TEST(FirstDifference, DoesNotCountAVersionPutAgain) {
  EXPECT_EQ(FirstDifference(BookOf({{10, "a"}}), BookOf({{10, "a"}, {20, "a"}})), INT64_MAX);
}

}  // namespace
}  // namespace ferrule::depot
