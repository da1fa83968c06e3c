#include "core/order/due.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <string>
#include <vector>

#include "tests/support/folded_depot.h"

namespace ferrule::order {
namespace {

using ::testing::ElementsAre;
using testing::FoldedDepot;
using ::testing::IsEmpty;

constexpr int64_t kDayMin = 24 * 60;

v1::OrderState Order(const std::string& text) {
  v1::OrderState order;
  if (!google::protobuf::TextFormat::ParseFromString(text, &order)) {
    throw std::invalid_argument("not an order: " + text);
  }
  return order;
}

google::type::Date Date(const std::string& day) { return time::FromDay(*time::ParseDay(day)); }

std::string Day(const std::optional<absl::CivilDay>& day) {
  return day ? time::FormatDay(*day) : "none";
}

std::string Words(const std::optional<v1::RentalEnd>& end) {
  if (!end) return "none";
  return v1::DueBasis_Name(end->basis()) + " " + time::FormatDay(time::ToDay(end->date()));
}

v1::OrderState HandedOverOn(const std::string& day, int length_of_need_days) {
  v1::OrderState order;
  *order.mutable_handed_over_date() = Date(day);
  order.mutable_details()->set_length_of_need_days(length_of_need_days);
  return order;
}

// The day of hand-over is the first day (common practice, no source).
TEST(PrescriptionEnd, CountsCalendarDaysOverMonthsLeapDaysAndClockChanges) {
  struct Case {
    const char* first;
    int days;
    const char* last;
  };
  const Case kCases[] = {
      {"2026-03-02", 1, "2026-03-02"},
      {"2026-03-02", 21, "2026-03-22"},
      // 20 days on from 10 February, with and without a leap day: computed with the Gregorian
      // calendar (ISO 8601-1:2019).
      {"2024-02-10", 21, "2024-03-01"},
      {"2023-02-10", 21, "2023-03-02"},
      {"2025-01-31", 30, "2025-03-01"},
      {"2024-01-31", 30, "2024-02-29"},
      // Over the change of the clocks in New York on 2025-03-09 (IANA tz database): 503 hours from
      // noon to noon, which hours divided by 24 would make 20 days, and 21 days by dates.
      {"2025-03-01", 22, "2025-03-22"},
      {"2024-12-31", 730, "2026-12-30"},
  };
  for (const Case& c : kCases) {
    EXPECT_EQ(Day(PrescriptionEnd(HandedOverOn(c.first, c.days))), c.last)
        << c.days << " days from " << c.first;
  }
}

TEST(PrescriptionEnd, IsTheLaterOfLengthOfNeedAndExtension) {
  v1::OrderState order = HandedOverOn("2026-03-02", 21);
  *order.mutable_extended_through_date() = Date("2026-03-20");
  EXPECT_EQ(Day(PrescriptionEnd(order)), "2026-03-22");
  *order.mutable_extended_through_date() = Date("2026-04-05");
  EXPECT_EQ(Day(PrescriptionEnd(order)), "2026-04-05");
  order.mutable_details()->clear_length_of_need_days();
  EXPECT_EQ(Day(PrescriptionEnd(order)), "2026-04-05");
  order.clear_extended_through_date();
  EXPECT_EQ(Day(PrescriptionEnd(order)), "none");
}

TEST(PrescriptionEnd, BeginsOnTheLocalDayOfTheHandOver) {
  // 2025-06-30 20:30 in Los Angeles is 2025-07-01 03:30 UTC (IANA tz database): 30 June counts.
  FoldedDepot d;
  const int64_t at =
      (*time::ParseInstant("2025-07-01T03:30:00Z", absl::UTCTimeZone()) - testing::kStartUs) /
      testing::kMinuteUs;
  d.Settings(at - kDayMin, testing::FoldSettings());
  d.Tell(at - 60, "order_taken { order: 'R-1' details { branch: 'west' length_of_need_days: 1 } }");
  d.HandOver("K-1", "R-1", at);
  EXPECT_EQ(Day(PrescriptionEnd(d.Order("R-1"))), "2025-06-30");
  d.Tell(at - 60,
         "order_taken { order: 'R-2' details { branch: 'north' length_of_need_days: 1 } }");
  d.HandOver("K-1", "R-2", at);
  EXPECT_EQ(Day(PrescriptionEnd(d.Order("R-2"))), "2025-07-01");
}

TEST(RentalEnds, AreListedInTheOrderOfTheirBasesWhenKnown) {
  v1::OrderState order = HandedOverOn("2026-03-02", 21);
  *order.mutable_pickup_date() = Date("2026-03-24");
  *order.mutable_details()->mutable_cover_end_date() = Date("2026-03-18");
  *order.mutable_details()->mutable_authorisation_end_date() = Date("2026-03-20");
  std::vector<std::string> ends;
  for (const v1::RentalEnd& end : Ends(order)) ends.push_back(Words(end));
  EXPECT_THAT(ends, ElementsAre("DUE_BASIS_AGREED_PICKUP 2026-03-24",
                                "DUE_BASIS_PRESCRIPTION_END "
                                "2026-03-22",
                                "DUE_BASIS_AUTHORISATION_END 2026-03-20",
                                "DUE_BASIS_COVER_END 2026-03-18"));
  EXPECT_THAT(Ends(v1::OrderState()), IsEmpty());
}

// An order handed over at minute 60, on Monday 2026-03-02, for 21 days.
FoldedDepot OnRent(const std::string& more = "") {
  FoldedDepot d;
  d.ReadyKnee();
  d.TakeOrder("R-1", 0, more);
  d.HandOver("K-1", "R-1", 60);
  return d;
}

std::string DueOf(const FoldedDepot& d) { return Words(Due(d.Order("R-1"), d.book())); }

TEST(RentalDue, IsUnknownBeforeTheHandOver) {
  FoldedDepot d;
  d.TakeOrder("R-1", 0, "authorisation_end_date { year: 2026 month: 3 day: 18 }");
  EXPECT_EQ(DueOf(d), "none");
  EXPECT_EQ(DueOf(OnRent()), "DUE_BASIS_PRESCRIPTION_END 2026-03-22");
}

TEST(RentalDue, IsTheEarliestOfTheSecondGroupUntilAPickUpIsAgreed) {
  FoldedDepot d = OnRent("authorisation_end_date { year: 2026 month: 3 day: 18 }");
  EXPECT_EQ(DueOf(d), "DUE_BASIS_AUTHORISATION_END 2026-03-18");
  // The agreed day stands above the others, earlier or later: a need that ends early moves the due
  // date up.
  d.Tell(100, "pickup_agreed { order: 'R-1' pickup_date { year: 2026 month: 3 day: 25 } }");
  EXPECT_EQ(DueOf(d), "DUE_BASIS_AGREED_PICKUP 2026-03-25");
  d.Tell(200, "pickup_agreed { order: 'R-1' pickup_date { year: 2026 month: 3 day: 9 } }");
  EXPECT_EQ(DueOf(d), "DUE_BASIS_AGREED_PICKUP 2026-03-09");
}

TEST(RentalDue, MovesWithAnExtensionBeforeOrAfterTheDayItEnds) {
  FoldedDepot d = OnRent();
  d.Tell(10 * kDayMin,
         "order_extended { order: 'R-1' through_date { year: 2026 month: 4 day: 1 } }");
  EXPECT_EQ(DueOf(d), "DUE_BASIS_PRESCRIPTION_END 2026-04-01");
  // The paper comes after the end: the days between are covered now.
  d.Tell(40 * kDayMin,
         "order_extended { order: 'R-1' through_date { year: 2026 month: 4 day: 20 } }");
  EXPECT_EQ(DueOf(d), "DUE_BASIS_PRESCRIPTION_END 2026-04-20");
  EXPECT_THAT(d.Questions("orders/R-1"), IsEmpty());
}

TEST(RentalDue, StaysThroughAnExchange) {
  FoldedDepot d = OnRent();
  d.Receive("K-2", 0, "knee-a", "parts { part: 'P-2' position: 'pendant' }");
  d.MakeReady("K-2", 5);
  d.Tell(5 * kDayMin,
         "exchanged { order: 'R-1' unit_out: 'K-1' to_place: 'van-dirty' unit_in: 'K-2' "
         "unit_in_model: 'knee-a' unit_in_side: SIDE_LEFT reason: 'noise' }");
  EXPECT_THAT(d.Questions("orders/R-1"), IsEmpty());
  EXPECT_EQ(DueOf(d), "DUE_BASIS_PRESCRIPTION_END 2026-03-22");
}

TEST(RentalDue, FollowsThePolicyInForceOnTheDayOfTheHandOver) {
  FoldedDepot d = OnRent("cover_end_date { year: 2026 month: 3 day: 12 }");
  std::string later = testing::FoldSettings("2");
  later.replace(later.find("due_policy"), std::string::npos,
                "due_policy { else_earliest: DUE_BASIS_COVER_END }");
  d.Settings(61, later);
  EXPECT_EQ(DueOf(d), "DUE_BASIS_PRESCRIPTION_END 2026-03-22");
  d.Settings(60, later);
  EXPECT_EQ(DueOf(d), "DUE_BASIS_COVER_END 2026-03-12");
}

TEST(RentalDue, OfAPolicyThatNamesNothingIsTheEarliestEnd) {
  FoldedDepot d = OnRent("cover_end_date { year: 2026 month: 3 day: 12 }");
  std::string none = testing::FoldSettings("2");
  none.erase(none.find("due_policy"));
  d.Settings(30, none);
  EXPECT_EQ(DueOf(d), "DUE_BASIS_COVER_END 2026-03-12");
}

TEST(RentalDue, OfAPolicyWhoseEndsAreNotKnownIsNone) {
  FoldedDepot d = OnRent();
  std::string cover = testing::FoldSettings("2");
  cover.replace(cover.find("due_policy"), std::string::npos,
                "due_policy { else_earliest: DUE_BASIS_COVER_END }");
  d.Settings(30, cover);
  EXPECT_EQ(DueOf(d), "none");
}

TEST(LastDayOfUse, CountsFromTheDayItGoesOutOrIsNeeded) {
  const absl::CivilDay day(2026, 3, 2);
  EXPECT_EQ(Day(LastDayOfUse(Order("details { length_of_need_days: 21 }"), day)), "2026-03-22");
  const v1::OrderState needed =
      Order("details { length_of_need_days: 21 needed_date { year: 2026 month: 3 day: 7 } }");
  EXPECT_EQ(Day(LastDayOfUse(needed, day)), "2026-03-27");
  EXPECT_EQ(Day(LastDayOfUse(needed, absl::CivilDay(2026, 4, 1))), "2026-04-21") << "late";
  const v1::OrderState extended = Order(
      "details { length_of_need_days: 21 } extended_through_date { year: 2026 month: 4 day: 9 }");
  EXPECT_EQ(Day(LastDayOfUse(extended, day)), "2026-04-09");
  EXPECT_EQ(Day(LastDayOfUse(Order(""), day)), "none");
}

TEST(LastDayOfUse, OfARunningRentalIsItsPickUpOrPrescriptionEnd) {
  FoldedDepot d = OnRent();
  const absl::CivilDay day(2026, 3, 12);
  EXPECT_EQ(Day(LastDayOfUse(d.Order("R-1"), day)), "2026-03-22");
  d.Tell(100, "pickup_agreed { order: 'R-1' pickup_date { year: 2026 month: 3 day: 24 } }");
  EXPECT_EQ(Day(LastDayOfUse(d.Order("R-1"), day)), "2026-03-24");
}

TEST(MissingToGoOut, NamesEverythingAndWhoSuppliesIt) {
  const FoldedDepot d;
  const depot::Rules& rules = d.book().At(FoldedDepot::Us(0));
  EXPECT_THAT(MissingToGoOut(v1::OrderState(), rules),
              ElementsAre("patient reference, from the referrer", "prescriber, from the referrer",
                          "servicing branch, from intake", "class of device, from the prescriber",
                          "procedure, from the prescriber",
                          "day of the operation or day needed, from the referrer",
                          "length of need, from the prescriber",
                          "extension and flexion limits, from the prescriber"));
  const v1::OrderState whole = Order("details { " + FoldedDepot::KneeDetails() + " }");
  EXPECT_THAT(MissingToGoOut(whole, rules), IsEmpty());
}

TEST(MissingToGoOut, AsksForEachThingAlone) {
  const FoldedDepot d;
  const depot::Rules& rules = d.book().At(FoldedDepot::Us(0));
  const auto missing = [&](auto change) {
    v1::OrderState order = Order("details { " + FoldedDepot::KneeDetails() + " }");
    change(order.mutable_details());
    return MissingToGoOut(order, rules);
  };
  EXPECT_THAT(missing([](v1::OrderDetails* o) { o->set_branch("south"); }),
              ElementsAre("servicing branch, from intake"));
  EXPECT_THAT(missing([](v1::OrderDetails* o) { o->clear_side(); }),
              ElementsAre("side, from the prescriber"));
  EXPECT_THAT(missing([](v1::OrderDetails* o) { o->set_side(v1::SIDE_EITHER); }),
              ElementsAre("side, from the prescriber"));
  EXPECT_THAT(missing([](v1::OrderDetails* o) { o->mutable_motion()->clear_flexion_deg(); }),
              ElementsAre("extension and flexion limits, from the prescriber"));
  EXPECT_THAT(missing([](v1::OrderDetails* o) {
                o->clear_surgery_date();
                *o->mutable_needed_date() = Date("2026-03-07");
              }),
              IsEmpty())
      << "one of the two days is enough";
  // A class without sides and without powered motion needs neither.
  EXPECT_THAT(missing([](v1::OrderDetails* o) {
                o->set_device_class("walker");
                o->clear_side();
                o->clear_motion();
              }),
              IsEmpty());
}

}  // namespace
}  // namespace ferrule::order
