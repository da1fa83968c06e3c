#include "core/depot/known.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <string>

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
  settings.add_device_classes()->add_kit_items("pad-set");
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
              HasSubstr("no branch nroth; ferrule settings show"));
  EXPECT_TRUE(absl::IsNotFound(KnowPlace(rules, "north")));
  EXPECT_THAT(std::string(KnowPlace(rules, "shelv").message()), HasSubstr("no place \"shelv\""));
  EXPECT_FALSE(NamesItem(rules, "gause"));
}

}  // namespace
}  // namespace ferrule::depot
