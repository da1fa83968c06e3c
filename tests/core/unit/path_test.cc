// The shortest way to ready.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/support/folded_depot.h"

namespace ferrule::unit {
namespace {

using ::testing::ElementsAre;
using testing::FoldedDepot;
using ::testing::IsEmpty;

std::vector<v1::Finding> Findings(std::initializer_list<v1::Reason> reasons) {
  std::vector<v1::Finding> findings;
  for (v1::Reason reason : reasons) findings.emplace_back().set_reason(reason);
  return findings;
}

TEST(PathToReady, IsEmptyForAReadyUnit) { EXPECT_THAT(PathToReady({}), IsEmpty()); }

TEST(PathToReady, OfAnArrivalIsTheWholeCleanSide) {
  FoldedDepot d;
  d.Receive("K-1", 0, "knee-a", "");
  EXPECT_THAT(PathToReady(d.Assess("K-1", 1)),
              ElementsAre("clean it", "erase the patient data", "fit the pendant", "inspect it",
                          "put it on a clean shelf"));
}

TEST(PathToReady, OfAUnitAtHomeBeginsWithItsPickUp) {
  FoldedDepot d;
  d.ReadyKnee();
  d.TakeOrder("O-1", 1);
  d.HandOver("K-1", "O-1", 20);
  EXPECT_THAT(PathToReady(d.Assess("K-1", 30)),
              ElementsAre("pick it up and receive it", "clean it", "inspect it",
                          "put it on a clean shelf"));
}

TEST(PathToReady, CleansBeforeItRepairsAndInspectsAfter) {
  EXPECT_THAT(PathToReady(Findings({v1::REASON_UNDER_REPAIR, v1::REASON_NOT_CLEANED})),
              ElementsAre("clean it", "repair it", "inspect it"));
}

TEST(PathToReady, NamesEveryHoldAndEveryPartOnce) {
  FoldedDepot d;
  d.ReadyKnee();
  d.Tell(20, "hold_placed { unit: 'K-1' kind: HOLD_KIND_RECALL reason: 'notice 7' }");
  d.Tell(21, "hold_placed { unit: 'K-1' kind: HOLD_KIND_RECALL reason: 'notice 8' }");
  d.Tell(22, "hold_placed { unit: 'K-1' kind: HOLD_KIND_INFESTATION reason: 'seen' }");
  EXPECT_THAT(PathToReady(d.Assess("K-1", 30)),
              ElementsAre("settle and lift the infestation hold", "settle and lift the recall hold",
                          "clean it"));
}

TEST(PathToReady, HasAStepForEveryReasonThatReadinessGives) {
  for (int r = v1::Reason_MIN; r <= v1::Reason_MAX; ++r) {
    if (!v1::Reason_IsValid(r)) continue;
    const bool of_readiness =
        (r >= v1::REASON_NOT_IN_CUSTODY && r <= v1::REASON_LEFT_FLEET &&
         r != v1::REASON_NOT_AT_THAT_HOME) ||
        (r >= v1::REASON_NOT_AT_CLEAN_PLACE && r <= v1::REASON_ON_HOLD &&
         r != v1::REASON_NO_REPAIR_OPEN) ||
        (r >= v1::REASON_COMMITTED_TO_OTHER_ORDER && r <= v1::REASON_WRONG_CLASS) ||
        r == v1::REASON_FIRMLY_PROMISED || r == v1::REASON_PROMISED_TO_OTHER_ORDER;
    if (!of_readiness) continue;
    EXPECT_THAT(PathToReady(Findings({static_cast<v1::Reason>(r)})), ::testing::Not(IsEmpty()))
        << v1::Reason_Name(static_cast<v1::Reason>(r));
  }
}

}  // namespace
}  // namespace ferrule::unit
