#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <string>

#include "tests/support/folded_depot.h"

namespace ferrule::unit {
namespace {

using ::testing::Contains;
using ::testing::ElementsAre;
using testing::FoldedDepot;
using ::testing::IsEmpty;

void Send(FoldedDepot& d, int64_t at) {
  d.Tell(at,
         "transfer_sent { transfer: 'T-1' from_place: 'shelf' to_place: 'west-shelf' units: 'K-1' "
         "seal: 'Z-5' }");
}

TEST(UnitTransfer, OnTheWayIsNotReadyAndTheSenderAnswersForIt) {
  FoldedDepot d;
  d.ReadyKnee();
  Send(d, 20);
  EXPECT_EQ(d.Unit("K-1").transfer(), "T-1");
  EXPECT_EQ(d.Unit("K-1").place(), "shelf");
  EXPECT_THAT(d.WhyNot("K-1", 30), ElementsAre("IN_TRANSIT"));
  d.Tell(60, "transfer_received { transfer: 'T-1' place: 'west-shelf' units: 'K-1' }");
  EXPECT_EQ(d.Unit("K-1").transfer(), "");
  EXPECT_EQ(d.Unit("K-1").place(), "west-shelf");
  EXPECT_THAT(d.WhyNot("K-1", 70), IsEmpty());
  EXPECT_THAT(d.Questions("units/K-1"), IsEmpty());
}

TEST(UnitTransfer, ReceivedWithoutSendingIsAsked) {
  FoldedDepot d;
  d.ReadyKnee();
  d.Tell(60, "transfer_received { transfer: 'T-1' place: 'west-shelf' units: 'K-1' }");
  EXPECT_THAT(d.Questions("units/K-1"), ElementsAre("NOT_SENT_WITH_TRANSFER"));
  Send(d, 20);
  EXPECT_THAT(d.Questions("units/K-1"), IsEmpty());
}

TEST(UnitTransfer, ABrokenSealSoilsWhatWasInside) {
  FoldedDepot d;
  d.ReadyKnee();
  Send(d, 20);
  d.Tell(60, "transfer_received { transfer: 'T-1' place: 'bench' units: 'K-1' seal_broken: true }");
  EXPECT_EQ(d.Unit("K-1").hygiene(), v1::HYGIENE_SOILED);
}

TEST(UnitTransfer, AMoveInBetweenIsAsked) {
  FoldedDepot d;
  d.ReadyKnee();
  Send(d, 20);
  d.Move("K-1", 30, "bench");
  EXPECT_THAT(d.Questions("units/K-1"), ElementsAre("IN_TRANSIT"));
  EXPECT_EQ(d.Unit("K-1").transfer(), "");
}

TEST(UnitSeal, BrokenMeansSoiledWhateverTheLabelSays) {
  FoldedDepot d;
  d.ReadyKnee();
  d.Tell(20, "seal_broken { unit: 'K-1' seal: 'Z-5' words: 'bag torn' }");
  EXPECT_THAT(d.WhyNot("K-1", 30), Contains("NOT_CLEANED"));
}

TEST(UnitPurpose, IsDatedAndKeepsItsOwnerAndReturnDay) {
  FoldedDepot d;
  d.ReadyKnee();
  d.Tell(20,
         "purpose_changed { unit: 'K-1' purpose: PURPOSE_CROSS_RENTED owner: 'partner' "
         "return_date { year: 2026 month: 6 day: 30 } papers: 'service record' }");
  const v1::UnitState unit = d.Unit("K-1");
  EXPECT_EQ(unit.purpose(), v1::PURPOSE_CROSS_RENTED);
  EXPECT_EQ(unit.owner(), "partner");
  EXPECT_EQ(unit.return_date().day(), 30);
  EXPECT_THAT(unit.papers(), ElementsAre("service record"));
  EXPECT_THAT(d.WhyNot("K-1", 30), IsEmpty());
  d.Tell(40, "purpose_changed { unit: 'K-1' purpose: PURPOSE_DEMONSTRATION }");
  EXPECT_THAT(d.WhyNot("K-1", 50), ElementsAre("OUTSIDE_RENTAL_FLEET"));
  EXPECT_FALSE(d.Unit("K-1").has_return_date());
}

}  // namespace
}  // namespace ferrule::unit
