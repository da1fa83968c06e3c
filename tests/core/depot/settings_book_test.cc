#include "core/depot/settings_book.h"

#include <gtest/gtest.h>

#include "core/time/civil.h"
#include "tests/core/depot/sample_settings.h"

namespace ferrule::depot {
namespace {

void Put(const char* version, int64_t from_us, v1::SettingsState* state) {
  v1::SettingsVersion* v = state->add_versions();
  *v->mutable_settings() = ferrule::testing::SampleSettings();
  v->mutable_settings()->set_version(version);
  time::SetMicros(from_us, v->mutable_from_time());
}

std::string VersionAt(const SettingsBook& book, int64_t us) {
  return book.At(us).settings().version();
}

TEST(SettingsBook, GivesTheVersionInForceAtAnInstant) {
  v1::SettingsState state;
  Put("second", 2'000, &state);  // not in the order of their from-times
  Put("first", 1'000, &state);
  Put("third", 3'000, &state);
  const SettingsBook book(state);
  EXPECT_FALSE(book.empty());
  EXPECT_EQ(VersionAt(book, INT64_MIN), "");
  EXPECT_EQ(VersionAt(book, 999), "");
  EXPECT_EQ(VersionAt(book, 1'000), "first");
  EXPECT_EQ(VersionAt(book, 1'999), "first");
  EXPECT_EQ(VersionAt(book, 2'000), "second");
  EXPECT_EQ(VersionAt(book, 3'000), "third");
  EXPECT_EQ(VersionAt(book, INT64_MAX), "third");
}

TEST(SettingsBook, OfTwoFromOneInstantTheLaterPutRules) {
  v1::SettingsState state;
  Put("mistaken", 1'000, &state);
  Put("corrected", 1'000, &state);
  EXPECT_EQ(VersionAt(SettingsBook(state), 1'000), "corrected");
}

TEST(SettingsBook, FindsNothingBeforeTheFirstVersion) {
  const SettingsBook book;
  EXPECT_TRUE(book.empty());
  EXPECT_EQ(book.At(0).FindModel("knee-a"), nullptr);
  EXPECT_EQ(book.At(0).FindPlace(""), nullptr);
  EXPECT_EQ(book.At(0).ZoneOf("north"), absl::UTCTimeZone());
}

TEST(SettingsBook, StaysWhenItsSourceIsGone) {
  auto state = std::make_unique<v1::SettingsState>();
  Put("first", 0, state.get());
  const SettingsBook book(*state);
  const SettingsBook copy = book;
  state.reset();
  EXPECT_EQ(copy.At(1).FindPlace("west-shelf")->display_name(), "shelf");
}

TEST(Rules, FindEverythingById) {
  const Rules rules(ferrule::testing::SampleSettings());
  EXPECT_EQ(rules.FindBranch("west")->time_zone(), "America/Chicago");
  EXPECT_EQ(rules.FindPlace("north-dock")->kind(), v1::PLACE_KIND_DOCK);
  EXPECT_EQ(rules.BranchOfPlace("north-dock")->id(), "north");
  EXPECT_EQ(rules.BranchOfPlace("west-shelf")->id(), "west");
  EXPECT_EQ(rules.FindModel("knee-a")->device_class(), "knee");
  EXPECT_TRUE(rules.FindDeviceClass("knee")->sided());
  EXPECT_EQ(rules.FindProduct("wipe")->contact_time_s(), 60);
  EXPECT_EQ(rules.FindChecklist("knee-check")->items_size(), 2);
  EXPECT_EQ(rules.FindServicePlan("yearly")->interval_days(), 365);
  EXPECT_EQ(rules.ZoneOf("west").name(), "America/Chicago");
}

TEST(Rules, FindNothingOfAnotherKindOrSpelling) {
  const Rules rules(ferrule::testing::SampleSettings());
  EXPECT_EQ(rules.FindBranch("north-dock"), nullptr);
  EXPECT_EQ(rules.FindPlace("north"), nullptr);
  EXPECT_EQ(rules.BranchOfPlace("north"), nullptr);
  EXPECT_EQ(rules.FindModel("Knee-a"), nullptr);
  EXPECT_EQ(rules.FindDeviceClass("knee-a"), nullptr);
  EXPECT_EQ(rules.FindProduct(""), nullptr);
  EXPECT_EQ(rules.FindChecklist("yearly"), nullptr);
  EXPECT_EQ(rules.FindServicePlan("knee-check"), nullptr);
  EXPECT_EQ(rules.ZoneOf("south"), absl::UTCTimeZone());
}

TEST(Places, KeepAUnitCleanByTheirKind) {
  struct Case {
    v1::PlaceKind kind;
    bool clean;
  };
  // Common practice, no source; the bench is for cleaned units but does not count as storage.
  constexpr Case kCases[] = {
      {v1::PLACE_KIND_UNSPECIFIED, false},  {v1::PLACE_KIND_DOCK, false},
      {v1::PLACE_KIND_CLEANING_BAY, false}, {v1::PLACE_KIND_BENCH, false},
      {v1::PLACE_KIND_CLEAN_SHELF, true},   {v1::PLACE_KIND_QUARANTINE, false},
      {v1::PLACE_KIND_VAN_CLEAN, true},     {v1::PLACE_KIND_VAN_DIRTY, false},
      {v1::PLACE_KIND_CLOSET, true},        {v1::PLACE_KIND_VENDOR, false},
  };
  static_assert(std::size(kCases) == v1::PlaceKind_ARRAYSIZE);
  for (const Case& c : kCases) EXPECT_EQ(IsCleanPlace(c.kind), c.clean) << c.kind;
}

}  // namespace
}  // namespace ferrule::depot
