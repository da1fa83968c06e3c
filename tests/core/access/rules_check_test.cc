#include "core/access/rules_check.h"

#include <gtest/gtest.h>

#include "google/protobuf/text_format.h"

namespace ferrule::access {
namespace {

std::vector<RulesError> Check(const char* text) {
  v1::Settings settings;
  settings.add_branches()->set_id("north");
  v1::AccessRules rules;
  EXPECT_TRUE(google::protobuf::TextFormat::ParseFromString(text, &rules));
  return CheckRules(rules, settings);
}

TEST(AccessRules, GoodOnesAreTaken) {
  EXPECT_TRUE(Check(R"(version: '1' roles { id: 'cleaner' rights: RIGHT_RECORD_BENCH }
    grants { principal: 'ada' role: 'cleaner' branches: 'north' }
    grants { principal: 'bo' role: 'manager' })")
                  .empty());
}

struct Case {
  const char* text;
  const char* field;
};

TEST(AccessRules, WhatIsWrongIsNamedByItsField) {
  for (const Case& one : {
           Case{"", "version"},
           Case{"version: '1' roles { id: 'a b' }", "roles[0].id"},
           Case{"version: '1' roles { id: 'a' } roles { id: 'a' }", "roles[1].id"},
           Case{"version: '1' roles { id: 'a' rights: RIGHT_UNSPECIFIED }", "roles[0].rights[0]"},
           Case{"version: '1' grants { role: 'rep' }", "grants[0].principal"},
           Case{"version: '1' grants { principal: 'a' role: 'king' }", "grants[0].role"},
           Case{"version: '1' grants { principal: 'a' role: 'rep' branches: 'west' }",
                "grants[0].branches[0]"},
           Case{"version: '1' grants { principal: 'a' role: 'rep' from_date { year: 2026 month: 2 "
                "day: 30 } }",
                "grants[0].from_date"},
           Case{"version: '1' grants { principal: 'a' role: 'rep' from_date { year: 2026 month: 2 "
                "day: 2 } to_date { year: 2026 month: 2 day: 1 } }",
                "grants[0].to_date"},
           Case{"version: '1' competence_for: 'juggling'", "competence_for[0]"},
           Case{"version: '1' competences { person: 'a' }", "competences[0].facts"},
           Case{"version: '1' competences { facts: 'repair_closed' }", "competences[0].person"},
           Case{"version: '1' competences { person: 'a' facts: 'repair' }",
                "competences[0].facts[0]"},
           Case{
               "version: '1' competences { person: 'a' facts: 'repair_closed' to_date { year: 2026 "
               "} }",
               "competences[0].to_date"},
       }) {
    const std::vector<RulesError> errors = Check(one.text);
    ASSERT_EQ(errors.size(), 1u) << one.text;
    EXPECT_EQ(errors[0].field, one.field);
    EXPECT_NE(errors[0].message.find(": give"), std::string::npos) << errors[0].message;
  }
}

}  // namespace
}  // namespace ferrule::access
