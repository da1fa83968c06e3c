#include "core/fold/columns.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "core/fact/subject.h"
#include "tests/support/folded_depot.h"

namespace ferrule::fold {
namespace {

using testing::FoldedDepot;

int64_t DayNumber(const std::string& day) { return time::DayNumber(*time::ParseDay(day)); }

Columns Of(const FoldedDepot& d, const std::string& name) {
  return ColumnsOf(d.State(name), d.book());
}

TEST(ColumnsOfUnit, SayWhereWhatAndHowItIs) {
  FoldedDepot d;
  d.ReadyKnee();
  d.Tell(20, "unit_held_for_order { unit: 'K-1' order: 'R-1' }");
  Columns expected;
  expected.kind = static_cast<int>(fact::SubjectKind::kUnit);
  expected.branch = "north";
  expected.place = "shelf";
  expected.model = "knee-a";
  expected.device_class = "knee";
  expected.serial = "S-K-1";
  expected.partner = "R-1";
  expected.custody = v1::CUSTODY_PLACE;
  expected.hygiene = v1::HYGIENE_CLEANED;
  expected.condition = v1::CONDITION_PASSED;
  expected.commitment = v1::COMMITMENT_HELD;
  EXPECT_EQ(Of(d, "units/K-1"), expected);
}

TEST(ColumnsOfUnit, KeepTheBranchOfItsLastPlaceWhileItIsOut) {
  FoldedDepot d;
  d.ReadyKnee();
  d.Move("K-1", 12, "west-shelf");
  d.TakeOrder("R-1", 0);
  d.HandOver("K-1", "R-1", 20);
  const Columns c = Of(d, "units/K-1");
  EXPECT_EQ(c.branch, "west");
  EXPECT_EQ(c.custody, v1::CUSTODY_HOME);
  EXPECT_EQ(c.commitment, v1::COMMITMENT_ON_RENT);
}

TEST(ColumnsOfUnit, AreEmptyWhereTheSettingsKnowNothing) {
  FoldedDepot d;
  d.Tell(0, "unit_received { unit: 'K-1' model: 'knee-z' place: 'nowhere' }");
  const Columns c = Of(d, "units/K-1");
  EXPECT_EQ(c.branch, "");
  EXPECT_EQ(c.device_class, "");
  EXPECT_EQ(c.place, "nowhere");
  EXPECT_EQ(c.questions, 2);
}

TEST(ColumnsOfUnit, AreReadByTheSettingsInForceAtTheLastFact) {
  FoldedDepot d;
  d.ReadyKnee();
  std::string renamed = testing::FoldSettings("2");
  renamed.replace(renamed.find("branches { id: 'north'"), 22, "branches { id: 'nord'");
  d.Settings(60, renamed);
  EXPECT_EQ(Of(d, "units/K-1").branch, "north");
  d.Move("K-1", 60, "bench");
  EXPECT_EQ(Of(d, "units/K-1").branch, "nord");
}

TEST(ColumnsOfOrder, WhileItWaitsSayWhenItIsNeeded) {
  FoldedDepot d;
  d.TakeOrder("R-1", 0, "needed_date { year: 2026 month: 3 day: 7 }");
  Columns expected;
  expected.kind = static_cast<int>(fact::SubjectKind::kOrder);
  expected.branch = "north";
  expected.device_class = "knee";
  expected.status = v1::ORDER_STATUS_OPEN;
  expected.needed_day = DayNumber("2026-03-07");
  EXPECT_EQ(Of(d, "orders/R-1"), expected);
  d.Tell(10, "unit_held_for_order { unit: 'K-1' order: 'R-1' }");
  expected.status = v1::ORDER_STATUS_HELD;
  expected.partner = "K-1";
  EXPECT_EQ(Of(d, "orders/R-1"), expected);
  d.Tell(20, "order_cancelled { order: 'R-1' reason: 'surgery cancelled' }");
  EXPECT_EQ(Of(d, "orders/R-1").needed_day, std::nullopt);
}

TEST(ColumnsOfOrder, OnRentSayWhenItIsDueAndByWhich) {
  FoldedDepot d;
  d.TakeOrder("R-1", 0, "needed_date { year: 2026 month: 3 day: 7 }");
  d.HandOver("K-1", "R-1", 60);
  Columns c = Of(d, "orders/R-1");
  EXPECT_EQ(c.needed_day, std::nullopt);
  EXPECT_EQ(c.due_day, DayNumber("2026-03-22"));
  EXPECT_EQ(c.due_basis, v1::DUE_BASIS_PRESCRIPTION_END);
  d.Tell(70, "pickup_agreed { order: 'R-1' pickup_date { year: 2026 month: 3 day: 24 } }");
  d.Tell(80, "pickup_failed { order: 'R-1' outcome: 'nobody home' }");
  c = Of(d, "orders/R-1");
  EXPECT_EQ(c.due_day, DayNumber("2026-03-24"));
  EXPECT_EQ(c.due_basis, v1::DUE_BASIS_AGREED_PICKUP);
  EXPECT_EQ(c.failed_pickups, 1);
  EXPECT_EQ(c.partner, "K-1");
  d.PickUp("K-1", "R-1", 90);
  c = Of(d, "orders/R-1");
  EXPECT_EQ(c.due_day, std::nullopt);
  EXPECT_EQ(c.due_basis, 0);
  EXPECT_EQ(c.status, v1::ORDER_STATUS_CLOSED);
}

TEST(ColumnsOfOthers, SayTheirKind) {
  FoldedDepot d;
  d.Receive("K-1", 0);
  d.HandOver("K-1", "R-1", 10);
  EXPECT_EQ(Of(d, "parts/P-1").kind, static_cast<int>(fact::SubjectKind::kPart));
  EXPECT_EQ(Of(d, "parts/P-1").partner, "K-1");
  EXPECT_EQ(Of(d, "lots/L-1").kind, static_cast<int>(fact::SubjectKind::kLot));
  EXPECT_EQ(ColumnsOf(Empty(fact::kSettingsName), d.book()).kind,
            static_cast<int>(fact::SubjectKind::kSettings));
  EXPECT_EQ(ColumnsOf(v1::SubjectState(), d.book()), Columns());
}

}  // namespace
}  // namespace ferrule::fold
