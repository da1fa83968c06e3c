// Tests core/access/competence.cc.
#include "core/access/competence.h"

#include <gtest/gtest.h>

#include "google/protobuf/text_format.h"

namespace ferrule::access {
namespace {

v1::AccessRules Rules() {
  v1::AccessRules rules;
  EXPECT_TRUE(google::protobuf::TextFormat::ParseFromString(
      R"(competence_for: 'repair_closed' competence_for: 'set_up_done'
         competences { person: 'ada' facts: 'repair_closed'
           from_date { year: 2026 month: 3 day: 1 } to_date { year: 2026 month: 8 day: 31 } }
         competences { person: 'bo' facts: 'repair_closed' facts: 'set_up_done' })",
      &rules));
  return rules;
}

TEST(Competence, HoldsForItsPersonKindAndDaysAlone) {
  const v1::AccessRules rules = Rules();
  EXPECT_TRUE(MayHaveDone(rules, "ada", "repair_closed", absl::CivilDay(2026, 3, 1)));
  EXPECT_TRUE(MayHaveDone(rules, "ada", "repair_closed", absl::CivilDay(2026, 8, 31)));
  EXPECT_FALSE(MayHaveDone(rules, "ada", "repair_closed", absl::CivilDay(2026, 2, 28)));
  EXPECT_FALSE(MayHaveDone(rules, "ada", "repair_closed", absl::CivilDay(2026, 9, 1)));
  EXPECT_FALSE(MayHaveDone(rules, "ada", "set_up_done", absl::CivilDay(2026, 4, 1)));
  EXPECT_TRUE(MayHaveDone(rules, "bo", "set_up_done", absl::CivilDay(1999, 1, 1)));
  EXPECT_FALSE(MayHaveDone(rules, "", "repair_closed", absl::CivilDay(2026, 4, 1)));
}

TEST(Competence, IsAskedForWhereTheRulesSaySoAlone) {
  EXPECT_TRUE(MayHaveDone(Rules(), "ada", "unit_moved", absl::CivilDay(2026, 4, 1)));
  EXPECT_TRUE(MayHaveDone(v1::AccessRules(), "x", "repair_closed", absl::CivilDay(2026, 4, 1)));
}

TEST(Competence, IsOnRecordWhereAnybodyHasItOnAnyDay) {
  EXPECT_TRUE(IsOnRecord(Rules(), "repair_closed"));
  EXPECT_TRUE(IsOnRecord(Rules(), "set_up_done"));
  EXPECT_FALSE(IsOnRecord(Rules(), "inspection_done"));
  EXPECT_FALSE(IsOnRecord({}, "repair_closed"));
}

TEST(Competence, KindsAreThoseOfTheFacts) {
  v1::Fact fact;
  EXPECT_EQ(KindOf(fact), "");
  fact.mutable_repair_closed();
  EXPECT_EQ(KindOf(fact), "repair_closed");
  EXPECT_TRUE(IsKind("repair_closed"));
  EXPECT_FALSE(IsKind("note"));
  EXPECT_FALSE(IsKind("repair"));
}

}  // namespace
}  // namespace ferrule::access
