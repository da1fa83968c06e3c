#include "core/depot/known.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <string>
#include <vector>

#include "core/time/civil.h"

namespace ferrule::depot {
namespace {

using ::testing::HasSubstr;

Rules Small() {
  v1::Settings settings;
  v1::Branch* branch = settings.add_branches();
  branch->set_id("north");
  branch->set_time_zone("UTC");
  branch->add_places()->set_id("shelf");
  settings.add_stock_items()->set_id("gauze");
  v1::DeviceClass* knee = settings.add_device_classes();
  knee->set_id("knee");
  knee->add_kit_items("pad-set");
  return Rules(settings);
}

TEST(Known, NothingInParticularIsKnown) {
  const Rules rules = Small();
  EXPECT_TRUE(KnowBranch(rules, "").ok());
  EXPECT_TRUE(KnowPlace(rules, "").ok());
}

TEST(Known, WhatTheSettingsHaveIsKnown) {
  const Rules rules = Small();
  EXPECT_TRUE(KnowBranch(rules, "north").ok());
  EXPECT_TRUE(KnowPlace(rules, "shelf").ok());
  EXPECT_TRUE(NamesItem(rules, "gauze"));
  EXPECT_TRUE(NamesItem(rules, "pad-set"));
}

TEST(Known, AnythingElseIsNotFoundAndSaysWhereToLook) {
  const Rules rules = Small();
  EXPECT_TRUE(absl::IsNotFound(KnowBranch(rules, "shelf")));
  EXPECT_THAT(std::string(KnowBranch(rules, "nroth").message()),
              HasSubstr("there is no branch nroth; the branches are: north"));
  EXPECT_THAT(std::string(KnowDeviceClass(rules, "bed").message()),
              HasSubstr("there is no class of device bed; the classes are: knee"));
  EXPECT_TRUE(absl::IsNotFound(KnowPlace(rules, "north")));
  EXPECT_THAT(std::string(KnowPlace(rules, "shelv").message()), HasSubstr("no place \"shelv\""));
  EXPECT_FALSE(NamesItem(rules, "gause"));
}

// A long list is cut, and says where the rest is.
TEST(Known, ManyAreNotAllNamed) {
  std::vector<std::string> ids;
  for (int i = 0; i < 30; ++i) ids.push_back("b" + std::to_string(i));
  const std::string words(BranchAmong(ids, "x").message());
  EXPECT_THAT(words, HasSubstr("b19 and more, see ferrule settings show"));
  EXPECT_THAT(std::string(BranchAmong({}, "x").message()), HasSubstr("put settings in force"));
  EXPECT_TRUE(BranchAmong(ids, "b29").ok());
}

// A branch that was closed, or opens next month, is asked about like any other.
TEST(Known, ABranchOfAnyVersionIsKnown) {
  v1::SettingsState state;
  int64_t from_us = 0;
  for (const char* id : {"closed", "north", "opens-later"}) {
    v1::SettingsVersion* version = state.add_versions();
    *version->mutable_from_time() = time::FromMicros(from_us += 1'000'000);
    version->mutable_settings()->add_branches()->set_id(id);
    version->mutable_settings()->mutable_branches(0)->set_time_zone("UTC");
  }
  const SettingsBook book(state);
  for (const char* id : {"closed", "north", "opens-later", ""}) {
    EXPECT_TRUE(KnowBranchEver(book, id).ok()) << id;
  }
  EXPECT_TRUE(absl::IsNotFound(KnowBranchEver(book, "nroth")));
  EXPECT_TRUE(KnowBranchEver(SettingsBook(), "nroth").ok());
}

}  // namespace
}  // namespace ferrule::depot
