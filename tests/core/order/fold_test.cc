#include "core/order/fold.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <string>

#include "tests/support/folded_depot.h"

namespace ferrule::order {
namespace {

using ::testing::ElementsAre;
using testing::FoldedDepot;
using ::testing::IsEmpty;

constexpr int64_t kDayMin = 24 * 60;

std::vector<std::string> Asked(const FoldedDepot& d) { return d.Questions("orders/R-1"); }

// The first question about the order, in words.
std::string Words(const FoldedDepot& d) {
  const v1::SubjectState state = d.State("orders/R-1");
  if (state.questions_size() == 0) return "";
  v1::Finding finding = state.questions(0);
  finding::PutIntoWords(absl::UTCTimeZone(), &finding);
  return finding.text();
}

FoldedDepot OnRent() {
  FoldedDepot d;
  d.TakeOrder("R-1", 0);
  d.HandOver("K-1", "R-1", 60);
  return d;
}

void Hold(FoldedDepot& d, int64_t at, const std::string& unit, const std::string& more = "") {
  d.Tell(at, "unit_held_for_order { unit: '" + unit + "' order: 'R-1' " + more + " }");
}
void Exchange(FoldedDepot& d, int64_t at, const std::string& out, const std::string& in) {
  d.Tell(at, "exchanged { order: 'R-1' unit_out: '" + out + "' to_place: 'van-dirty' unit_in: '" +
                 in + "' unit_in_model: 'knee-a' unit_in_side: SIDE_LEFT }");
}

TEST(OrderContent, AChangeChangesOnlyWhatItSays) {
  FoldedDepot d;
  d.TakeOrder("R-1", 0);
  d.Tell(10,
         "order_changed { order: 'R-1' details { side: SIDE_RIGHT motion { flexion_deg: 70 } "
         "needed_date { year: 2026 month: 3 day: 9 } } }");
  const v1::OrderDetails details = d.Order("R-1").details();
  EXPECT_EQ(details.side(), v1::SIDE_RIGHT);
  EXPECT_EQ(details.motion().flexion_deg(), 70);
  EXPECT_EQ(details.motion().speed_deg_per_min(), 60);
  EXPECT_EQ(details.needed_date().day(), 9);
  EXPECT_EQ(details.patient(), "P-1");
  EXPECT_THAT(Asked(d), IsEmpty());
}

TEST(OrderContent, ADayIsReplacedWhole) {
  FoldedDepot d;
  d.TakeOrder("R-1", 0, "needed_date { year: 2026 month: 3 day: 31 }");
  d.Tell(10,
         "order_changed { order: 'R-1' details { needed_date { year: 2026 month: 4 day: 1 } } }");
  EXPECT_EQ(time::FormatDay(time::ToDay(d.Order("R-1").details().needed_date())), "2026-04-01");
}

TEST(OrderContent, AnOlderVersionIsKeptAndNotApplied) {
  FoldedDepot d;
  d.Tell(0, "order_taken { order: 'R-1' sender_version: 2 details { side: SIDE_LEFT } }");
  d.Tell(10, "order_changed { order: 'R-1' sender_version: 4 details { side: SIDE_RIGHT } }");
  d.Tell(20, "order_changed { order: 'R-1' sender_version: 3 details { side: SIDE_LEFT } }");
  EXPECT_THAT(Asked(d), ElementsAre("OLDER_VERSION"));
  EXPECT_EQ(Words(d),
            "a message about order R-1 is older than one already applied: version 3 "
            "after 4");
  EXPECT_EQ(d.Order("R-1").details().side(), v1::SIDE_RIGHT);
  EXPECT_EQ(d.Order("R-1").sender_version(), 4);
  // Without a version, the later fact is the later word.
  d.Tell(30, "order_changed { order: 'R-1' details { side: SIDE_LEFT } }");
  EXPECT_EQ(d.Order("R-1").details().side(), v1::SIDE_LEFT);
}

TEST(OrderContent, UnknownBranchAndClassAreAskedAtTheirFact) {
  FoldedDepot d;
  d.Tell(0, "order_taken { order: 'R-1' details { branch: 'south' device_class: 'hip' } }");
  EXPECT_THAT(Asked(d), ElementsAre("BRANCH_UNKNOWN", "DEVICE_CLASS_UNKNOWN"));
  d.Tell(10, "order_changed { order: 'R-1' details { branch: 'north' } }");
  EXPECT_EQ(Asked(d).size(), 2u);
}

TEST(OrderContent, ANumberInUseChangesNothingAndACancelledOneIsReinstated) {
  FoldedDepot d;
  d.TakeOrder("R-1", 0);
  d.Tell(10, "order_taken { order: 'R-1' details { patient: 'P-2' } }");
  EXPECT_THAT(Asked(d), ElementsAre("ORDER_NUMBER_IN_USE"));
  EXPECT_EQ(d.Order("R-1").details().patient(), "P-1");
  d.Tell(20, "order_cancelled { order: 'R-1' reason: 'surgery moved' }");
  EXPECT_EQ(d.Order("R-1").cancel_reason(), "surgery moved");
  d.Tell(30, "order_taken { order: 'R-1' details { patient: 'P-3' } }");
  EXPECT_EQ(d.Order("R-1").status(), v1::ORDER_STATUS_OPEN);
  EXPECT_EQ(d.Order("R-1").details().patient(), "P-3");
  EXPECT_EQ(d.Order("R-1").cancel_reason(), "");
}

TEST(OrderContent, OfAnOrderNeverTakenOneThingIsAskedAFact) {
  FoldedDepot d;
  d.HandOver("K-1", "R-1", 10);
  EXPECT_THAT(Asked(d), ElementsAre("ORDER_UNKNOWN"));
  d.TakeOrder("R-1", 0);
  EXPECT_THAT(Asked(d), IsEmpty());
  EXPECT_EQ(d.Order("R-1").status(), v1::ORDER_STATUS_ON_RENT);
}

TEST(OrderHold, KeepsOneUnitUntilItsReleaseOrItsTime) {
  FoldedDepot d;
  d.TakeOrder("R-1", 0);
  const std::string until = std::to_string(FoldedDepot::Us(60) / 1'000'000);
  Hold(d, 10, "K-1", "until_time { seconds: " + until + " }");
  EXPECT_EQ(d.Order("R-1").status(), v1::ORDER_STATUS_HELD);
  EXPECT_EQ(d.Order("R-1").unit(), "K-1");
  // Held again, now firmly and without an end.
  Hold(d, 20, "K-1", "firm: true");
  EXPECT_TRUE(d.Order("R-1").hold_firm());
  EXPECT_FALSE(d.Order("R-1").has_hold_until_time());
  d.Tell(70, "order_hold_released { unit: 'K-1' order: 'R-1' }");
  EXPECT_EQ(d.Order("R-1").status(), v1::ORDER_STATUS_OPEN);
  EXPECT_EQ(d.Order("R-1").unit(), "");
  EXPECT_FALSE(d.Order("R-1").hold_firm());
  EXPECT_THAT(Asked(d), IsEmpty());
}

TEST(OrderHold, LapsesAtItsTimeAndNotBefore) {
  for (const int64_t at : {59, 60}) {
    FoldedDepot d;
    d.TakeOrder("R-1", 0);
    const std::string until = std::to_string(FoldedDepot::Us(60) / 1'000'000);
    Hold(d, 10, "K-1", "until_time { seconds: " + until + " }");
    Hold(d, at, "K-2");
    if (at < 60) {
      EXPECT_THAT(Asked(d), ElementsAre("ORDER_HAS_OTHER_UNIT"));
      EXPECT_EQ(Words(d),
                "another unit is kept for order R-1: K-1 since 2026-03-02 08:10 by "
                "tech-ada");
    } else {
      EXPECT_THAT(Asked(d), IsEmpty());
    }
    EXPECT_EQ(d.Order("R-1").unit(), "K-2");
  }
}

TEST(OrderHold, EndsWithTheOrder) {
  FoldedDepot d;
  d.TakeOrder("R-1", 0);
  Hold(d, 10, "K-1", "firm: true");
  d.Tell(20, "order_cancelled { order: 'R-1' reason: 'surgery cancelled' }");
  EXPECT_EQ(d.Order("R-1").status(), v1::ORDER_STATUS_CANCELLED);
  EXPECT_EQ(d.Order("R-1").unit(), "");
  EXPECT_FALSE(d.Order("R-1").hold_firm());
  d.Tell(20, "order_hold_released { unit: 'K-1' order: 'R-1' }");
  EXPECT_THAT(Asked(d), IsEmpty());
}

TEST(OrderRental, BeginsWithTheHandOver) {
  FoldedDepot d;
  d.TakeOrder("R-1", 0);
  Hold(d, 10, "K-1");
  d.HandOver("K-1", "R-1", 60, "motion { extension_deg: 0 flexion_deg: 40 }");
  const v1::OrderState order = d.Order("R-1");
  EXPECT_EQ(order.status(), v1::ORDER_STATUS_ON_RENT);
  EXPECT_EQ(order.unit(), "K-1");
  EXPECT_EQ(time::FormatDay(time::ToDay(order.handed_over_date())), "2026-03-02");
  EXPECT_EQ(order.motion_set().flexion_deg(), 40);
  ASSERT_EQ(order.legs_size(), 1);
  EXPECT_EQ(order.legs(0).unit(), "K-1");
  EXPECT_FALSE(order.legs(0).has_to());
  EXPECT_THAT(Asked(d), IsEmpty());
}

TEST(OrderRental, AHandOverShortOfPapersNamesWhatIsMissing) {
  FoldedDepot d;
  d.Tell(0, "order_taken { order: 'R-1' details { " + FoldedDepot::KneeDetails() + " } }");
  d.Tell(10, "order_changed { order: 'R-1' details { patient: '' prescriber: '' } }");
  d.Tell(60,
         "handed_over { unit: 'K-1' order: 'R-1' unit_model: 'knee-a' unit_side: SIDE_LEFT "
         "motion { flexion_deg: 95 } }");
  EXPECT_THAT(Asked(d), ElementsAre("ORDER_INCOMPLETE", "SETTING_BEYOND_ORDER", "KIT_MISSING",
                                    "SIGNATURE_MISSING"));
  EXPECT_EQ(Words(d),
            "order R-1 is not enough to go out with: something is missing: patient "
            "reference, from the referrer; prescriber, from the referrer");
  EXPECT_EQ(d.Order("R-1").status(), v1::ORDER_STATUS_ON_RENT) << "it has happened";
}

TEST(OrderRental, AnotherUnitThanTheOneHeldIsAsked) {
  FoldedDepot d;
  d.TakeOrder("R-1", 0);
  Hold(d, 10, "K-1");
  d.HandOver("K-2", "R-1", 60);
  EXPECT_THAT(Asked(d), ElementsAre("ORDER_HAS_OTHER_UNIT"));
  EXPECT_EQ(Words(d), "another unit is kept for order R-1: K-1 since 2026-03-02 08:10 by tech-ada");
  EXPECT_EQ(d.Order("R-1").unit(), "K-2");
}

// An exchange is two moves of custody and one rental that goes on (common practice, no source).
TEST(OrderRental, AnExchangeGoesOnWithTheSameRental) {
  FoldedDepot d = OnRent();
  Exchange(d, kDayMin, "K-1", "K-2");
  v1::OrderState order = d.Order("R-1");
  EXPECT_THAT(Asked(d), IsEmpty());
  EXPECT_EQ(order.unit(), "K-2");
  EXPECT_EQ(time::ToMicros(order.handed_over().time()), FoldedDepot::Us(60));
  EXPECT_EQ(time::ToMicros(order.status_since().time()), FoldedDepot::Us(60));
  ASSERT_EQ(order.legs_size(), 2);
  EXPECT_EQ(time::ToMicros(order.legs(0).to().time()), FoldedDepot::Us(kDayMin));
  EXPECT_EQ(time::ToMicros(order.legs(1).from().time()), FoldedDepot::Us(kDayMin));
  EXPECT_FALSE(order.legs(1).has_to());
  Exchange(d, 2 * kDayMin, "K-1", "K-3");
  EXPECT_THAT(Asked(d), ElementsAre("ORDER_HAS_OTHER_UNIT")) << "K-1 is not there any more";
}

TEST(OrderRental, EndsWithTheLastUnitPickedUp) {
  FoldedDepot d = OnRent();
  d.HandOver("K-2", "R-1", 70);
  EXPECT_THAT(Asked(d), ElementsAre("ORDER_ON_RENT"));
  d.PickUp("K-2", "R-1", 80);
  EXPECT_EQ(d.Order("R-1").status(), v1::ORDER_STATUS_ON_RENT);
  EXPECT_EQ(d.Order("R-1").unit(), "K-1");
  d.PickUp("K-9", "R-1", 85);
  EXPECT_EQ(Asked(d).size(), 2u);
  EXPECT_EQ(d.Order("R-1").status(), v1::ORDER_STATUS_ON_RENT);
  d.PickUp("K-1", "R-1", 90);
  const v1::OrderState order = d.Order("R-1");
  EXPECT_EQ(order.status(), v1::ORDER_STATUS_CLOSED);
  EXPECT_EQ(order.unit(), "K-1") << "the last one";
  EXPECT_EQ(time::ToMicros(order.legs(0).to().time()), FoldedDepot::Us(90));
  EXPECT_EQ(time::ToMicros(order.legs(1).to().time()), FoldedDepot::Us(80));
}

TEST(OrderRental, CancellingItWithAUnitInTheHomeIsAskedAndItGoesOn) {
  FoldedDepot d = OnRent();
  d.Tell(90, "order_cancelled { order: 'R-1' reason: 'surgery cancelled' }");
  EXPECT_THAT(Asked(d), ElementsAre("ORDER_ON_RENT"));
  EXPECT_EQ(d.Order("R-1").status(), v1::ORDER_STATUS_ON_RENT);
}

TEST(OrderRental, FailedPickUpsAreCounted) {
  FoldedDepot d = OnRent();
  d.Tell(90, "pickup_failed { order: 'R-1' outcome: 'nobody home' }");
  d.Tell(95, "pickup_failed { order: 'R-1' outcome: 'wrong address' }");
  EXPECT_EQ(d.Order("R-1").failed_pickup_count(), 2);
  EXPECT_THAT(Asked(d), IsEmpty());
}

std::string Extend(const std::string& day) {
  const absl::CivilDay d = *time::ParseDay(day);
  return "order_extended { order: 'R-1' through_date { year: " + std::to_string(d.year()) +
         " month: " + std::to_string(d.month()) + " day: " + std::to_string(d.day()) + " } }";
}

// Handed over on 2 March for 21 days, so through 22 March.
TEST(OrderExtension, NeverTakesDaysAway) {
  FoldedDepot d = OnRent();
  d.Tell(2 * kDayMin, Extend("2026-03-22"));
  EXPECT_THAT(Asked(d), IsEmpty()) << "as far as it goes already";
  d.Tell(3 * kDayMin, Extend("2026-04-10"));
  d.Tell(4 * kDayMin, Extend("2026-04-09"));
  EXPECT_THAT(Asked(d), ElementsAre("EXTENSION_SHORTENS"));
  EXPECT_EQ(Words(d),
            "the extension of order R-1 through 2026-04-09 ends before the prescription "
            "already does, 2026-04-10");
  EXPECT_EQ(time::FormatDay(time::ToDay(d.Order("R-1").extended_through_date())), "2026-04-10");
}

TEST(OrderExtension, OverlappingOnesGiveTheSameEndInAnyOrder) {
  FoldedDepot d = OnRent();
  d.Tell(40 * kDayMin, Extend("2026-04-20"));
  d.Tell(10 * kDayMin, Extend("2026-04-01"));
  EXPECT_EQ(time::FormatDay(time::ToDay(d.Order("R-1").extended_through_date())), "2026-04-20");
  EXPECT_THAT(Asked(d), IsEmpty());
}

}  // namespace
}  // namespace ferrule::order
