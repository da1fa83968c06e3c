// Exceptions of the trade on the way back, 48 to 61, each told through the API.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/service/bench_depot.h"

namespace ferrule::service {
namespace {

using ferrule::testing::BenchDepot;
using ferrule::testing::kDayMin;
using ::testing::Contains;
using ::testing::ElementsAre;
using ::testing::HasSubstr;
using ::testing::IsEmpty;
using ::testing::Not;

constexpr char kBoth[] = "accessories: 'pendant' accessories: 'foot-plate'";

class Exceptions : public BenchDepot {};

// Handed over on 2026-03-02 for 21 days: the last day is 2026-03-22.
TEST_F(Exceptions, No48AReturnThatIsLateAgesAndIsNotDropped) {
  Rent("K-1", "R-1", 0);
  Must(22 * kDayMin, "pickup_failed { order: 'R-1' outcome: 'nobody home' }");
  Now(30 * kDayMin);
  const v1::ReportDueResponse due = Due();
  ASSERT_EQ(due.rows_size(), 1);
  EXPECT_EQ(due.rows(0).overdue_days(), 10);
  EXPECT_EQ(due.rows(0).basis(), v1::DUE_BASIS_PRESCRIPTION_END);
  EXPECT_EQ(due.rows(0).failed_pickup_count(), 1) << "the contact counts";
  Must(31 * kDayMin, PickUp("K-1", "R-1"));
  EXPECT_EQ(Due().rows_size(), 0);
}

TEST_F(Exceptions, No49EveryFailedPickUpCountsAndTheNextIsBooked) {
  Rent("K-1", "R-1", 0);
  for (int day : {21, 22}) {
    Must(day * kDayMin, "pickup_failed { order: 'R-1' outcome: 'nobody home' }");
  }
  Must(22 * kDayMin + 5,
       "pickup_agreed { order: 'R-1' pickup_date { year: 2026 month: 3 day: 26 } }");
  Now(23 * kDayMin);
  const v1::ReportDueResponse due = Due();
  EXPECT_EQ(due.rows_size(), 0) << "the agreed day stands above the prescription's end";
  Now(24 * kDayMin);
  ASSERT_EQ(Due().rows_size(), 1);
  EXPECT_EQ(Due().rows(0).failed_pickup_count(), 2);
}

TEST_F(Exceptions, No50AUnitLeftAtAnotherBranchIsThereAndItsOwnBranchSeesIt) {
  Rent("K-1", "R-1", 0);
  const std::string seen = ReceiveBack("K-1", "", "south-dock");
  EXPECT_THAT(Enforce(10 * kDayMin, seen), ElementsAre("NOT_PICKED_UP"));
  EXPECT_THAT(Observe(10 * kDayMin, seen), ElementsAre("NOT_PICKED_UP"));
  EXPECT_EQ(Unit("K-1").place(), "south-dock");
  const v1::ReportStraysResponse strays = Strays();
  ASSERT_EQ(strays.strays_size(), 1);
  const auto& proposals = strays.strays(0).proposals();
  ASSERT_GE(proposals.size(), 2);
  EXPECT_EQ(proposals[0].kind(), v1::PROPOSAL_KIND_OTHER_BRANCH);
  EXPECT_THAT(proposals[0].text(), HasSubstr("served by branch north"));
  // The missing pick-up is recorded as proposed, and the question is gone.
  const auto pick_up = std::find_if(proposals.begin(), proposals.end(), [](const v1::Proposal& p) {
    return p.kind() == v1::PROPOSAL_KIND_UNRECORDED_PICKUP;
  });
  ASSERT_NE(pick_up, proposals.end());
  EXPECT_THAT(Send({pick_up->facts(0)}, v1::ENTRY_MODE_OBSERVED), IsEmpty());
  EXPECT_EQ(Strays().strays_size(), 0);
  EXPECT_EQ(Subject("orders/R-1").order().status(), v1::ORDER_STATUS_CLOSED);
  EXPECT_EQ(Unit("K-1").place(), "south-dock");
}

TEST_F(Exceptions, No51AReturnWithoutItsAccessoriesIsIncompleteAndASpareIsWanted) {
  Rent("K-1", "R-1", 0);
  Must(10 * kDayMin, PickUp("K-1", "R-1", kBoth));
  const std::string seen =
      ReceiveBack("K-1", "accessories_counted: true accessories: 'foot-plate'");
  EXPECT_THAT(Enforce(10 * kDayMin + 60, seen), ElementsAre("ACCESSORY_NOT_BACK"));
  EXPECT_THAT(Observe(10 * kDayMin + 60, seen), ElementsAre("ACCESSORY_NOT_BACK"));
  EXPECT_THAT(WhyNot("K-1"), Contains("PART_MISSING"));
  v1::ReportMissingAccessoriesRequest request;
  request.set_unit("K-1");
  const auto missing = Ask(bench_, &v1::BenchService::Stub::ReportMissingAccessories, request);
  ASSERT_EQ(missing.rows_size(), 1);
  EXPECT_EQ(missing.rows(0).position(), "pendant");
  EXPECT_EQ(missing.rows(0).lost(), v1::LOST_BETWEEN_PICKUP_AND_DOCK);
  EXPECT_EQ(missing.rows(0).order(), "R-1");
  const auto spares = Ask(bench_, &v1::BenchService::Stub::ReportSpares, v1::ReportSparesRequest());
  ASSERT_EQ(spares.rows_size(), 1);
  EXPECT_EQ(spares.rows(0).lacking_count(), 1);
  EXPECT_GT(spares.rows(0).expected_in_lead_time(), 0);
}

TEST_F(Exceptions, No52AnotherUnitsPartNamesTheDonorAndBothAreCorrected) {
  Rent("K-1", "R-1", 0);
  ReadyKnee("K-2", 10);
  Must(10 * kDayMin, PickUp("K-1", "R-1", kBoth));
  v1::AssessReturnRequest request;
  request.mutable_seen()->set_unit("K-1");
  request.mutable_seen()->set_place("north-dock");
  v1::PartInPosition* part = request.mutable_seen()->add_parts();
  part->set_part("P-K-2");
  part->set_position("pendant");
  Now(10 * kDayMin + 60);
  const auto compared = Ask(bench_, &v1::BenchService::Stub::AssessReturn, request);
  EXPECT_THAT(Reasons(compared.findings()), ElementsAre("OTHER_PART_SEEN"));
  ASSERT_EQ(compared.proposals_size(), 1);
  EXPECT_THAT(compared.proposals(0).text(), HasSubstr("belongs to K-2"));
  EXPECT_THAT(Questions("units/K-1"), IsEmpty()) << "a comparison records nothing";
  // The removals come first, then the receipt raises nothing.
  const auto& facts = compared.proposals(0).facts();
  Send({facts.begin(), facts.end()}, v1::ENTRY_MODE_OBSERVED);
  EXPECT_FALSE(refused_);
  Observe(10 * kDayMin + 60, ReceiveBack("K-1", "parts { part: 'P-K-2' position: 'pendant' }"));
  EXPECT_THAT(Questions("units/K-1"), IsEmpty());
  EXPECT_THAT(Questions("parts/P-K-2"), IsEmpty());
  EXPECT_EQ(Subject("parts/P-K-2").part().unit(), "K-1");
  EXPECT_THAT(WhyNot("K-2"), Contains("PART_MISSING")) << "the donor is incomplete";
}

TEST_F(Exceptions, No53InsectsAreTreatedAndLookedAtAndNeverTimedOut) {
  Rent("K-1", "R-1", 0);
  ReadyKnee("K-2", 10);
  Must(kDayMin, Moved("K-2", "van1-clean"));
  Must(10 * kDayMin, PickUp("K-1", "R-1", kBoth));
  Must(10 * kDayMin + 1, "hold_placed { unit: 'K-1' kind: HOLD_KIND_INFESTATION reason: 'seen' }");
  const auto doubts = Ask(bench_, &v1::BenchService::Stub::ReportDoubts, v1::ReportDoubtsRequest());
  ASSERT_EQ(doubts.rows_size(), 1);
  EXPECT_EQ(doubts.rows(0).unit(), "K-2") << "its neighbour on the van";
  EXPECT_EQ(doubts.rows(0).kind(), v1::DOUBT_KIND_BESIDE_INFESTED);
  const std::string lift =
      "hold_lifted { unit: 'K-1' kind: HOLD_KIND_INFESTATION outcome: 'clear' inspected_by: 'bo' }";
  EXPECT_THAT(Enforce(400 * kDayMin, lift), ElementsAre("NOT_TREATED")) << "a year is no treatment";
  const auto heat = [](int64_t minutes) {
    const int64_t to_s = Us(401 * kDayMin) / 1'000'000;
    return absl::StrCat(
        "treatment_done { unit: 'K-1' treatment: 'heat' temperature_c: 50 "
        "from_time { seconds: ",
        to_s - 60 * minutes, " } to_time { seconds: ", to_s, " } }");
  };
  EXPECT_THAT(Enforce(401 * kDayMin, heat(89)), ElementsAre("TREATMENT_SHORT"));
  Must(401 * kDayMin, heat(90));
  EXPECT_THAT(Enforce(401 * kDayMin + 5,
                      "hold_lifted { unit: 'K-1' kind: HOLD_KIND_INFESTATION "
                      "outcome: 'clear' }"),
              ElementsAre("RELEASE_NOT_INSPECTED"));
  Must(401 * kDayMin + 5, lift);
  EXPECT_THAT(WhyNot("K-1"), Not(Contains("CONTAMINATED")));
}

TEST_F(Exceptions, No54BodyFluidSaysWhatRemainsAndIsReleasedByAHandler) {
  Receive("K-1", 0);
  Must(5,
       "hold_placed { unit: 'K-1' kind: HOLD_KIND_CONTAMINATION "
       "reason: 'dried blood on the carriage; motor housing not reached' }");
  const v1::AssessUnitResponse why = Assess("K-1");
  EXPECT_THAT(Reasons(why.findings()), Contains("CONTAMINATED"));
  EXPECT_THAT(why.state().unit().holds(0).reason(), HasSubstr("motor housing not reached"));
  const std::string lift =
      "hold_lifted { unit: 'K-1' kind: HOLD_KIND_CONTAMINATION outcome: "
      "'carriage replaced' inspected_by: 'handler-1' }";
  EXPECT_THAT(Enforce(20, lift), ElementsAre("NOT_TREATED"));
  const int64_t to_s = Us(30) / 1'000'000;
  Must(30, absl::StrCat("treatment_done { unit: 'K-1' treatment: 'soak' from_time { seconds: ",
                        to_s - 600, " } to_time { seconds: ", to_s, " } }"));
  Must(31, lift);
  EXPECT_THAT(WhyNot("K-1"), Contains("NOT_CLEANED")) << "then it is cleaned like any other";
}

TEST_F(Exceptions, No55SmokeIsExtraCleaningWithItsMinutes) {
  Rent("K-1", "R-1", 0);
  Must(10 * kDayMin, PickUp("K-1", "R-1", kBoth));
  Must(10 * kDayMin + 60, ReceiveBack("K-1", "condition: 'smells of smoke'"));
  Must(10 * kDayMin + 70, "cleaning_started { unit: 'K-1' }");
  Must(10 * kDayMin + 115, Cleaning("K-1", 10 * kDayMin + 115, 90, "extra: 'smoke'"));
  v1::ReportCleaningsRequest request;
  request.set_unit("K-1");
  const auto cleanings = Ask(bench_, &v1::BenchService::Stub::ReportCleanings, request);
  ASSERT_EQ(cleanings.rows_size(), 2);
  EXPECT_THAT(cleanings.rows(1).extra(), ElementsAre("smoke"));
  EXPECT_EQ(cleanings.rows(1).minutes(), 45);
}

TEST_F(Exceptions, No56ADroppedUnitFailsIsRetestedAndCostsTheClaim) {
  Rent("K-1", "R-1", 0);
  Must(10 * kDayMin, PickUp("K-1", "R-1", "condition: 'dropped, case open'"));
  Must(10 * kDayMin + 60, ReceiveBack("K-1"));
  Must(10 * kDayMin + 70, Cleaning("K-1", 10 * kDayMin + 70));
  Must(10 * kDayMin + 80, "repair_opened { unit: 'K-1' complaint: 'dropped' }");
  EXPECT_THAT(WhyNot("K-1"), Contains("UNDER_REPAIR"));
  Must(10 * kDayMin + 200,
       "repair_closed { unit: 'K-1' cause: 'drop' work: 'case' cost_minor: 18000 }");
  EXPECT_THAT(WhyNot("K-1"), Contains("NOT_INSPECTED_SINCE_RETURN")) << "the full test is due";
  v1::AssessFailureRequest request;
  request.set_name("units/K-1");
  const auto past = Ask(bench_, &v1::BenchService::Stub::AssessFailure, request);
  ASSERT_EQ(past.repairs_size(), 1);
  EXPECT_EQ(past.repairs(0).cost_minor(), 18'000);
  EXPECT_EQ(past.repairs(0).cause(), "drop");
  const auto reliability =
      Ask(bench_, &v1::BenchService::Stub::ReportReliability, v1::ReportReliabilityRequest());
  ASSERT_EQ(reliability.rows_size(), 1);
  EXPECT_EQ(reliability.rows(0).failure_count(), 0) << "no failure of the unit's own";
}

TEST_F(Exceptions, No57TwoUnitsThatCameFromEachOthersHomesWereSwapped) {
  Rent("K-1", "R-1", 0);
  Rent("K-2", "R-2", 10);
  EXPECT_THAT(Enforce(10 * kDayMin, PickUp("K-1", "R-2")), Contains("NOT_AT_THAT_HOME"));
  EXPECT_THAT(Observe(10 * kDayMin, PickUp("K-1", "R-2")), Contains("NOT_AT_THAT_HOME"));
  EXPECT_EQ(Strays().strays(0).proposals(0).kind(), v1::PROPOSAL_KIND_WRONG_UNIT);
  Observe(10 * kDayMin + 60, PickUp("K-2", "R-1"));
  const v1::ReportStraysResponse strays = Strays();
  ASSERT_EQ(strays.strays_size(), 2);
  for (const v1::Stray& stray : strays.strays()) {
    ASSERT_GE(stray.proposals_size(), 1);
    EXPECT_EQ(stray.proposals(0).kind(), v1::PROPOSAL_KIND_UNRECORDED_SWAP);
  }
  EXPECT_THAT(strays.strays(0).proposals(0).text(), HasSubstr("swapped with K-2"));
}

TEST_F(Exceptions, No58PickedUpAndNeverReceivedIsAnAlarmAfterADay) {
  Rent("K-1", "R-1", 0);
  Must(10 * kDayMin, PickUp("K-1", "R-1"));
  Now(11 * kDayMin - 1);
  EXPECT_EQ(Strays().strays_size(), 0);
  Now(11 * kDayMin);
  const v1::ReportStraysResponse strays = Strays();
  ASSERT_EQ(strays.strays_size(), 1);
  EXPECT_EQ(strays.strays(0).question().reason(), v1::REASON_NOT_RECEIVED);
  EXPECT_THAT(strays.strays(0).question().text(), HasSubstr("nobody received it"));
  EXPECT_EQ(strays.strays(0).place(), "van1-dirty");
  Must(11 * kDayMin + 5, ReceiveBack("K-1"));
  EXPECT_EQ(Strays().strays_size(), 0);
}

TEST_F(Exceptions, No59InTheWarehouseWhileOnRentEndsTheRentalAtTheProvenReturn) {
  Rent("K-1", "R-1", 0);
  Observe(25 * kDayMin, ReceiveBack("K-1"));
  EXPECT_EQ(Subject("orders/R-1").order().status(), v1::ORDER_STATUS_ON_RENT);
  // A ticket turns up: it left the home on the 20th day.
  EXPECT_THAT(Observe(20 * kDayMin, PickUp("K-1", "R-1", "condition: 'ticket 77 found'")),
              IsEmpty());
  const v1::OrderState order = Subject("orders/R-1").order();
  EXPECT_EQ(order.status(), v1::ORDER_STATUS_CLOSED);
  EXPECT_EQ(time::ToMicros(order.legs(0).to().time()), Us(20 * kDayMin));
  EXPECT_THAT(Questions("units/K-1"), IsEmpty());
  EXPECT_EQ(Unit("K-1").place(), "north-dock");
}

TEST_F(Exceptions, No60LostIsApprovedAndFoundComesBackSoiledWithItsHistory) {
  ReadyKnee("K-1");
  Must(10, "unit_missing { unit: 'K-1' evidence: 'shelf, bench and vans searched; police 4711' }");
  EXPECT_EQ(Unit("K-1").custody(), v1::CUSTODY_UNACCOUNTED);
  Must(20, "unit_written_off { unit: 'K-1' reason: 'stolen' approved_by: 'manager' }");
  const int before = HistoryRows("units/K-1");
  Must(kDayMin, "unit_found { unit: 'K-1' place: 'north-dock' }");
  EXPECT_EQ(Unit("K-1").hygiene(), v1::HYGIENE_SOILED);
  EXPECT_EQ(Unit("K-1").commitment(), v1::COMMITMENT_FREE);
  EXPECT_EQ(HistoryRows("units/K-1"), before + 1) << "nothing is lost";
}

TEST_F(Exceptions, No61AUnitThePatientBoughtLeavesTheFleetAndItsHolderStaysKnown) {
  Rent("K-1", "R-1", 0);
  const std::string bought =
      "unit_written_off { unit: 'K-1' reason: 'bought by the patient' approved_by: 'manager' }";
  EXPECT_THAT(Enforce(10 * kDayMin, bought), ElementsAre("ON_RENT"));
  Observe(10 * kDayMin, bought);
  const v1::UnitState unit = Unit("K-1");
  EXPECT_EQ(unit.custody(), v1::CUSTODY_LEFT_FLEET);
  EXPECT_EQ(unit.kit().order(), "R-1") << "whom a recall must reach";
  v1::ListHistoryRequest history;
  history.set_name("units/K-1");
  const auto rows = Ask(reads_, &v1::DepotService::Stub::ListHistory, history);
  EXPECT_THAT(rows.rows(rows.rows_size() - 1).text(), HasSubstr("bought by the patient"));
}

}  // namespace
}  // namespace ferrule::service
