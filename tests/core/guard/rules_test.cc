#include "core/guard/rules.h"

#include <gtest/gtest.h>

#include "core/time/civil.h"
#include "tests/support/entries.h"
#include "tests/support/ledger_depot.h"

namespace ferrule::guard {
namespace {

using testing::kDayUs;

class AccessRulesTest : public testing::OnEveryEngine {
 protected:
  int64_t now() { return depot_.clock().NowMicros(); }
  void Put(const std::string& version, int64_t from_us) {
    v1::AccessRulesVersion one;
    one.mutable_rules()->set_version(version);
    time::SetMicros(from_us, one.mutable_from_time());
    time::SetMicros(now(), one.mutable_put_time());
    ASSERT_EQ(book_.Put(one), absl::OkStatus());
  }
  std::string At(int64_t us) {
    const auto version = book_.At(us);
    return *version == nullptr ? "none" : (*version)->rules().version();
  }

  testing::LedgerDepot depot_{GetParam()};
  AccessRulesBook book_{&depot_.ledger()};
};

TEST_P(AccessRulesTest, RuleFromTheirInstantOn) {
  EXPECT_EQ(At(now()), "none");
  Put("a", now());
  Put("b", now() + kDayUs);
  EXPECT_EQ(At(now() - 1), "none");
  EXPECT_EQ(At(now()), "a");
  EXPECT_EQ(At(now() + kDayUs - 1), "a");
  EXPECT_EQ(At(now() + kDayUs), "b");
}

TEST_P(AccessRulesTest, OfTwoOfOneInstantTheLaterPutRules) {
  Put("a", now());
  Put("b", now());
  EXPECT_EQ(At(now()), "b");
}

FERRULE_ON_EVERY_ENGINE(AccessRulesTest);

}  // namespace
}  // namespace ferrule::guard
