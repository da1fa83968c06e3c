#include "core/order/stays.h"

#include <gtest/gtest.h>

#include <string>

#include "core/time/civil.h"
#include "tests/core/cover/spec.h"

namespace ferrule::order {
namespace {

v1::OrderState Order(const std::string& line) {
  return testing::RentalOf("zone=Europe/Berlin reading=surgery:1:21 " + line).order;
}

Where On(const v1::OrderState& order, int day, bool leaving_is_home = false) {
  return WhereOn(order, absl::CivilDay(2026, 5, day), leaving_is_home);
}

TEST(Stays, WithoutANoteFollowThePlan) {
  EXPECT_EQ(On(Order(""), 4), Where::kHome);
  EXPECT_EQ(On(Order("planned=2026-05-06"), 5), Where::kNotDischarged);
  EXPECT_EQ(On(Order("planned=2026-05-06"), 6), Where::kHome);
  EXPECT_FALSE(DischargeDay(Order("")).has_value());
  EXPECT_EQ(DischargeDay(Order("planned=2026-05-06")), absl::CivilDay(2026, 5, 6));
  EXPECT_FALSE(IsDischargeNoted(Order("planned=2026-05-06")));
}

TEST(Stays, DischargeAsItWasRules) {
  const v1::OrderState order = Order("planned=2026-05-06 stay=home:2026-05-08T10:00");
  EXPECT_EQ(On(order, 7), Where::kNotDischarged);
  EXPECT_EQ(On(order, 8), Where::kHome);
  EXPECT_EQ(DischargeDay(order), absl::CivilDay(2026, 5, 8));
}

TEST(Stays, AdmissionForTheOperationIsNoReturnToTheHospital) {
  const v1::OrderState order = Order(
      "surgery=2026-05-04 stay=hospital:2026-05-03T15:00 stay=home:2026-05-06T10:00 "
      "stay=hospital:2026-05-10T10:00");
  EXPECT_EQ(On(order, 2), Where::kHome);
  EXPECT_EQ(On(order, 5), Where::kNotDischarged);
  EXPECT_EQ(On(order, 6), Where::kHome);
  EXPECT_EQ(On(order, 10), Where::kHospital);
  EXPECT_EQ(On(order, 10, true), Where::kHome);
  EXPECT_EQ(On(order, 11, true), Where::kHospital);
  EXPECT_EQ(DischargeDay(order), absl::CivilDay(2026, 5, 6));
}

TEST(Stays, ReturnWithoutANotedDischargeLeavesThePlan) {
  const v1::OrderState order = Order(
      "surgery=2026-05-04 planned=2026-05-06 stay=hospital:2026-05-10T10:00 "
      "stay=home:2026-05-12T10:00");
  EXPECT_EQ(On(order, 7), Where::kHome);
  EXPECT_EQ(On(order, 11), Where::kHospital);
  EXPECT_FALSE(IsDischargeNoted(order));
  EXPECT_EQ(DischargeDay(order), absl::CivilDay(2026, 5, 6));
}

TEST(Stays, DayOfDeathIsWhereThePatientWas) {
  const v1::OrderState order =
      Order("stay=home:2026-05-06T10:00 stay=hospital:2026-05-10T10:00 stay=died:2026-05-12T10:00");
  EXPECT_EQ(On(order, 12), Where::kHospital);
  EXPECT_EQ(On(order, 13), Where::kDied);
}

TEST(Stays, TwoChangesOnADayLeaveTheLast) {
  EXPECT_EQ(On(Order("stay=home:2026-05-06T10:00 stay=hospital:2026-05-10T10:00 "
                     "stay=home:2026-05-10T20:00"),
               10),
            Where::kHome);
}

TEST(Use, IsFromItsStartThroughTheDayOfItsEnd) {
  const v1::OrderState order = Order(
      "use=started:2026-05-05T10:00 use=stopped:2026-05-20T10:00 use=started:2026-05-25T10:00");
  const auto on = [&order](int day) { return UseOn(order, absl::CivilDay(2026, 5, day)); };
  EXPECT_EQ(on(4), Use::kNotYet);
  EXPECT_EQ(on(5), Use::kUsed);
  EXPECT_EQ(on(20), Use::kUsed);
  EXPECT_EQ(on(21), Use::kNoLonger);
  EXPECT_EQ(on(25), Use::kUsed);
  EXPECT_EQ(UseOn(Order(""), absl::CivilDay(2026, 5, 5)), Use::kUsed);
  EXPECT_EQ(UseOn(Order("use=stopped:2026-05-20T10:00"), absl::CivilDay(2026, 5, 5)), Use::kUsed);
  EXPECT_EQ(FirstUse(Order("use=stopped:2026-05-20T10:00")), nullptr);
}

TEST(Anchors, AreKnownOrNot) {
  const v1::OrderState order = Order("surgery=2026-05-04 leg=K-1/2026-05-06T12:00/");
  EXPECT_EQ(AnchorDay(order, v1::COVER_ANCHOR_SURGERY), absl::CivilDay(2026, 5, 4));
  EXPECT_EQ(AnchorDay(order, v1::COVER_ANCHOR_HAND_OVER), absl::CivilDay(2026, 5, 6));
  EXPECT_FALSE(AnchorDay(order, v1::COVER_ANCHOR_FIRST_USE).has_value());
  EXPECT_FALSE(AnchorDay(order, v1::COVER_ANCHOR_UNSPECIFIED).has_value());
}

}  // namespace
}  // namespace ferrule::order
