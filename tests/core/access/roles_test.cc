#include "core/access/roles.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "core/access/table.h"

namespace ferrule::access {
namespace {

TEST(Roles, TheProgramBringsTen) {
  EXPECT_THAT(BuiltInRoles(), testing::UnorderedElementsAre(
                                  "technician", "rep", "dispatcher", "intake", "biller", "manager",
                                  "compliance", "integrator", "auditor", "administrator"));
}

TEST(Roles, AnAuditorSeesAndRecordsNothing) {
  for (const v1::Right right : RightsOfRole({}, "auditor")) {
    EXPECT_EQ(v1::Right_Name(right).rfind("RIGHT_READ_", 0), 0u) << v1::Right_Name(right);
  }
}

TEST(Roles, AnAuditorSeesAllButPatients) {
  const auto rights = RightsOfRole({}, "auditor");
  EXPECT_FALSE(rights.contains(v1::RIGHT_READ_PATIENTS));
  for (int i = v1::Right_MIN + 1; i <= v1::Right_MAX; ++i) {
    const auto right = static_cast<v1::Right>(i);
    if (!v1::Right_IsValid(i) || !IsReading(right) || right == v1::RIGHT_READ_PATIENTS) continue;
    EXPECT_TRUE(rights.contains(right)) << v1::Right_Name(right);
  }
  for (const MethodRule& rule : MethodRules()) {
    if (rule.path.find("TraceService/") == std::string_view::npos) continue;
    EXPECT_TRUE(rights.contains(rule.right)) << rule.path;
  }
}

TEST(Roles, AnAdministratorNeitherSeesPatientsNorRecordsWork) {
  const auto rights = RightsOfRole({}, "administrator");
  EXPECT_FALSE(rights.contains(v1::RIGHT_READ_PATIENTS));
  EXPECT_FALSE(rights.contains(v1::RIGHT_RECORD_HOME));
  EXPECT_TRUE(rights.contains(v1::RIGHT_KEEP_TOKENS));
}

TEST(Roles, TheDepotsOwnReplacesTheProgramsOfThatName) {
  v1::AccessRules rules;
  v1::Role* own = rules.add_roles();
  own->set_id("technician");
  own->add_rights(v1::RIGHT_READ_FLEET);
  EXPECT_THAT(RightsOfRole(rules, "technician"), testing::ElementsAre(v1::RIGHT_READ_FLEET));
}

TEST(Roles, AnUnknownOneHasNoRights) {
  EXPECT_TRUE(RightsOfRole({}, "king").empty());
  EXPECT_FALSE(IsRole({}, "king"));
  EXPECT_TRUE(IsRole({}, "rep"));
}

}  // namespace
}  // namespace ferrule::access
