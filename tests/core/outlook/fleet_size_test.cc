// Tests core/outlook/fleet_size.cc, core/outlook/targets.cc, core/outlook/transfers.cc.
#include "core/outlook/fleet_size.h"

#include <cmath>

#include "core/outlook/targets.h"
#include "core/outlook/transfers.h"
#include "gmock/gmock.h"
#include "gtest/gtest.h"
#include "tests/core/outlook/built_records.h"

namespace ferrule::outlook {
namespace {

using ::testing::HasSubstr;

constexpr char kMoney[] = R"(
  planning { class_plans { device_class: "knee" rent_per_day_minor: 1500 price_minor: 300000
    life_years: 5 shortage_per_day_minor: 2500 lost_target_share: 0.02 } })";
constexpr char kLanes[] = R"(
  planning { transfer_lanes { from_branch: "west" to_branch: "north" transit_days: 1 cost_minor: 1 } })";

v1::ReportFleetSizeRequest Quick() {
  v1::ReportFleetSizeRequest request;
  request.set_horizon_days(91);
  request.set_path_count(400);
  return request;
}

TEST(FleetSize, GivesEveryRuleSideBySide) {
  BuiltRecords built(kMoney);
  FillSteady(&built, 700, 16);
  const auto response = SizeFleets(built.AsOf(At(700)), Quick(), At(700));
  ASSERT_TRUE(response.ok()) << response.status();
  ASSERT_EQ(response->sizes_size(), 1);
  const v1::FleetSize& s = response->sizes(0);
  EXPECT_EQ(s.unit_count(), 16);
  EXPECT_NEAR(s.orders_per_day(), .357, .06);
  EXPECT_NEAR(s.cycle_days(), 23.5, 2);
  EXPECT_GT(s.lost_rule_count(), s.mean_units());
  EXPECT_TRUE(s.has_profit_rule_count());
  EXPECT_TRUE(s.has_hire_rule_count());
  EXPECT_TRUE(s.missing_money().empty());
  EXPECT_FALSE(s.agreement().empty());
  // The named sizes are on the curve, which never rises.
  double before = 2;
  bool named = false;
  for (const v1::FleetPoint& p : s.points()) {
    EXPECT_LE(p.formula_lost_share(), before + 1e-12);
    before = p.formula_lost_share();
    if (p.unit_count() == s.lost_rule_count()) {
      named = true;
      EXPECT_LE(p.formula_lost_share(), .02);
    }
    EXPECT_GE(p.at_least_once_probability(), p.worst_day_probability());
  }
  EXPECT_TRUE(named);
  EXPECT_GT(s.day_less().freed_units(), 0);
  EXPECT_LE(s.day_less().lost_after_share(), s.day_less().lost_before_share());
}

TEST(FleetSize, WithoutMoneySaysWhatIsMissing) {
  BuiltRecords built;
  FillSteady(&built, 400, 12);
  const auto response = SizeFleets(built.AsOf(At(400)), Quick(), At(400));
  ASSERT_TRUE(response.ok());
  EXPECT_FALSE(response->sizes(0).has_profit_rule_count());
  EXPECT_THAT(response->sizes(0).missing_money(), HasSubstr("rent_per_day_minor"));
  EXPECT_GT(response->sizes(0).lost_rule_count(), 0);
}

TEST(FleetSize, ABudgetBuysTheBestFirstAndNoMore) {
  BuiltRecords built(kMoney);
  FillSteady(&built, 700, 5);
  v1::ReportFleetSizeRequest request = Quick();
  request.set_budget_minor(1'000'000);
  const auto response = SizeFleets(built.AsOf(At(700)), request, At(700));
  ASSERT_TRUE(response.ok());
  EXPECT_EQ(response->purchases_size(), 3);  // 3 x 3,000 of 10,000
  for (int i = 1; i < response->purchases_size(); ++i) {
    EXPECT_LE(response->purchases(i).gain_per_year_minor(),
              response->purchases(i - 1).gain_per_year_minor());
  }
  EXPECT_EQ(response->purchases(0).unit_number(), 6);
}

TEST(FleetSize, SmallAndWrongRequestsAreAnswered) {
  BuiltRecords built;
  built.Unit("K-1", 0);
  const auto one = SizeFleets(built.AsOf(At(3)), Quick(), At(3));
  ASSERT_TRUE(one.ok());
  EXPECT_TRUE(std::isfinite(one->sizes(0).mean_units()));
  v1::ReportFleetSizeRequest request;
  request.set_path_count(5);
  EXPECT_FALSE(SizeFleets(built.AsOf(At(3)), request, At(3)).ok());
  request = Quick();
  request.set_lost_target_share(1.5);
  EXPECT_FALSE(SizeFleets(built.AsOf(At(3)), request, At(3)).ok());
  request = Quick();
  request.set_budget_minor(-1);
  EXPECT_FALSE(SizeFleets(built.AsOf(At(3)), request, At(3)).ok());
}

TEST(FleetSize, ADepotThatFellSilentIsSaidSo) {
  BuiltRecords built(kLanes);
  FillSteady(&built, 400, 16);
  for (const int day : {400, 460}) {
    const auto sizes = SizeFleets(built.AsOf(At(day)), Quick(), At(day));
    const auto moves = SuggestTransfers(built.AsOf(At(day)), {}, At(day));
    ASSERT_TRUE(sizes.ok() && moves.ok()) << sizes.status() << moves.status();
    for (const std::string& words : {sizes->sizes(0).basis(), moves->text()})
      EXPECT_EQ(words.find("what happened since is not in it") != std::string::npos, day > 400)
          << words;
  }
}

TEST(Targets, AreTheSettingsOrTheUsualOnes) {
  BuiltRecords built(kMoney);
  const Targets knee = TargetsOf(built.AsOf(At(0)).rules(), "knee", 0);
  // 3,000 over five years without interest: 1.64 a day.
  EXPECT_NEAR(knee.money.cost, 164.4, .1);
  EXPECT_TRUE(knee.missing.empty());
  const Targets elbow = TargetsOf(built.AsOf(At(0)).rules(), "elbow", 255'500);
  EXPECT_NEAR(elbow.money.cost, 100, 1e-9);  // what the fleet cost, over seven years
  EXPECT_EQ(elbow.lost_share, .02);
  EXPECT_EQ(elbow.missing, "rent_per_day_minor, shortage_per_day_minor");
}

// Four units stand idle in the west, and the north is short.
TEST(Transfers, SendWhatIsReadyToWhereItIsMissing) {
  BuiltRecords built(kLanes);
  FillSteady(&built, 700, 7);
  for (int u = 0; u < 4; ++u) built.Unit("W-" + std::to_string(u), 0, 0, "west-shelf");
  const auto response = SuggestTransfers(built.AsOf(At(700)), {}, At(700));
  ASSERT_TRUE(response.ok()) << response.status();
  ASSERT_EQ(response->transfers_size(), 1) << response->text();
  const v1::Transfer& t = response->transfers(0);
  EXPECT_EQ(t.from_branch(), "west");
  EXPECT_EQ(t.to_branch(), "north");
  EXPECT_GE(t.unit_count(), 1);
  EXPECT_EQ(t.units_size(), t.unit_count());
  EXPECT_EQ(t.units(0), "W-0");
  EXPECT_GT(t.saved_unit_days(), 0);
  EXPECT_EQ(response->balances_size(), 2);
}

TEST(Transfers, NothingIsAnAnswer) {
  BuiltRecords built(kLanes);
  FillSteady(&built, 700, 25);
  built.Unit("W-1", 0, 0, "west-shelf");
  const auto enough = SuggestTransfers(built.AsOf(At(700)), {}, At(700));
  ASSERT_TRUE(enough.ok());
  EXPECT_EQ(enough->transfers_size(), 0);
  EXPECT_THAT(enough->text(), HasSubstr("nothing should move"));
  BuiltRecords no_lanes;
  FillSteady(&no_lanes, 300, 3);
  EXPECT_THAT(SuggestTransfers(no_lanes.AsOf(At(300)), {}, At(300))->text(),
              HasSubstr("no transfer lanes"));
}

}  // namespace
}  // namespace ferrule::outlook
