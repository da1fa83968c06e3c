// A unit's turn and its corrections, typed at a counter.
#include <set>
#include <sstream>

#include "gmock/gmock.h"
#include "tests/cli/program.h"

namespace ferrule::testing {
namespace {

using ::testing::ContainsRegex;
using ::testing::HasSubstr;
using ::testing::Not;

using Counter = ProgramTest;

constexpr char kInspection[] =
    "inspect K-1 visual=yes stop=yes earth-ohm=0.12 insulation-mohm=20 leakage-ua=85 --tester T-3";

// The order that the tests lend the unit K-1 for.
constexpr char kOrder[] =
    "take-order R-1 --class knee --side left --branch north --days 21 --needed 2026-03-03 "
    "--patient P-7 --prescriber D-5 --procedure 'total knee' --surgery 2026-03-02 "
    "--signed 2026-03-01 --extension 0 --flexion 90 --at '2026-03-02 11:00'";

TEST_F(Counter, AWholeTurnIsTypedInFewShortCommands) {
  Done("init");
  const std::vector<std::string> turn = {
      std::string("settings apply ") + FERRULE_SETTINGS + " --from 2026-01-01",
      "add-unit K-1 knee-a north-dock --part pendant=PEN-1 --part foot-plate=FP-1 "
      "--at '2026-03-02 08:00'",
      "clean K-1 wipe-q --wet-min 12 --at '2026-03-02 09:00'",
      "erase K-1 --at '2026-03-02 09:05'",
      std::string(kInspection) + " --at '2026-03-02 10:00'",
      "move K-1 north-shelf --at '2026-03-02 10:10'",
      kOrder,
      "reserve K-1 R-1 --firm --at '2026-03-02 11:05'",
      "hand-over K-1 R-1 --kit pad-set=L5 --meter 100 --signed-by patient --flexion 90 "
      "--at '2026-03-03 10:00'",
      "pick-up K-1 north-van-dirty --meter 140 --at '2026-03-20 10:00'",
      "receive K-1 north-dock --at '2026-03-20 16:00'",
      "clean K-1 wipe-q --wet-min 12 --at '2026-03-20 17:00'",
      "erase K-1 --at '2026-03-20 17:05'",
      std::string(kInspection) + " --at '2026-03-21 09:00'",
  };
  ASSERT_LT(turn.size(), 15u);
  for (const std::string& line : turn) ASSERT_THAT(Done(line), HasSubstr("recorded as no. "));
  EXPECT_THAT(Done("why K-1 --at '2026-03-21 10:00'"), HasSubstr("K-1 cannot go out"));
  EXPECT_THAT(Done("move K-1 north-shelf --at '2026-03-21 09:05'"),
              HasSubstr("K-1 now: at north-shelf, cleaned, passed, free"));
  EXPECT_THAT(Done("why K-1 --at '2026-03-21 10:00'"), HasSubstr("K-1 is ready to go\n"));
  EXPECT_THAT(Done("show K-1"), HasSubstr("run hours    40.0"));
}

TEST_F(Counter, WhySaysEveryReasonWithEvidenceAndTheWayToReady) {
  MakeDepot();
  MakeReadyUnit();
  Done("repair-open K-1 'pendant dead' --at '2026-03-03 08:00'");
  Done("repair-close K-1 --work 'cable replaced' --at '2026-03-03 09:00'");
  const std::string why = Done("why K-1 --at '2026-03-03 10:00'");
  EXPECT_THAT(why, HasSubstr("K-1 cannot go out"));
  EXPECT_THAT(why, HasSubstr("repaired 2026-03-03 09:00 by tech-ada"));
  EXPECT_THAT(why, HasSubstr("inspection 2026-03-02 10:00 by tech-ada"));
  EXPECT_THAT(why, HasSubstr("The way to ready\n  1. "));
  EXPECT_THAT(why, HasSubstr("(America/New_York)"));
}

class AfterARepair : public ProgramTest {
 protected:
  AfterARepair() {
    MakeDepot();
    MakeReadyUnit();
    Done(kOrder);
    Done("repair-open K-1 'pendant dead' --at '2026-03-03 08:00'");
    Done("repair-close K-1 --at '2026-03-03 09:00'");
  }
  const std::string hand_over_ =
      "hand-over K-1 R-1 --kit pad-set=L5 --signed-by patient --at '2026-03-03 10:00'";
};

TEST_F(AfterARepair, AHandOverIsRefusedWithReasonEvidenceAndWay) {
  const Outcome refused = Ferrule(hand_over_);
  EXPECT_EQ(refused.exit, 1);
  EXPECT_EQ(refused.out, "");
  EXPECT_THAT(refused.err, HasSubstr("ferrule: refused, 1 reason:\n  1. K-1 cannot go out"));
  EXPECT_THAT(refused.err, HasSubstr("it was repaired 2026-03-03 09:00 by tech-ada, after its last "
                                     "inspection 2026-03-02 10:00 by tech-ada"));
  EXPECT_THAT(refused.err, HasSubstr("[repaired-after-inspection]"));
  EXPECT_THAT(refused.err, HasSubstr("-> inspect it again"));
  EXPECT_THAT(Done("show R-1"), ContainsRegex("status +open\n"));
}

// The first line is short; every reason follows once, numbered, with what to do next.
TEST_F(Counter, ARefusalListsEachReasonOnce) {
  MakeDepot();
  Done(
      "add-unit K-2 knee-a north-dock --part pendant=PEN-1 --part foot-plate=FP-1 "
      "--at '2026-03-02 08:00'");
  Done(kOrder);
  const Outcome refused = Ferrule("hand-over K-2 R-1 --signed-by patient --at '2026-03-03 10:00'");
  EXPECT_EQ(refused.exit, 1);
  EXPECT_EQ(refused.out, "");
  std::stringstream lines(refused.err);
  std::string heading;
  std::getline(lines, heading);
  int reasons = 0;
  std::set<std::string> seen;
  for (std::string line; std::getline(lines, line);) {
    EXPECT_TRUE(seen.insert(line.substr(0, 5) == "     " ? line : line.substr(5)).second) << line;
    if (line.substr(0, 4) == "  " + std::to_string(reasons + 1) + ".") ++reasons;
  }
  EXPECT_GE(reasons, 4) << refused.err;
  EXPECT_EQ(heading, "ferrule: refused, " + std::to_string(reasons) + " reasons:");
  EXPECT_EQ(seen.size(), 2U * static_cast<size_t>(reasons)) << refused.err;
}

TEST_F(Counter, AnOrderGoesToTheCountersBranchUnlessAnotherIsNamed) {
  MakeDepot();
  Done("take-order R-1 --at '2026-03-02 11:00'");
  EXPECT_THAT(Done("show R-1"), ContainsRegex("branch +north\n"));
  Done("take-order R-2 --branch south --at '2026-03-02 11:00'");
  environment()["FERRULE_BRANCH"] = "south";
  Done("change-order R-1 --days 14 --at '2026-03-02 12:00'");
  EXPECT_THAT(Done("show R-1"), ContainsRegex("branch +north\n"));
  environment()["FERRULE_BRANCH"] = "north";
  EXPECT_THAT(Done("show R-2"), ContainsRegex("branch +south\n"));
}

TEST_F(AfterARepair, AHandOverThatHasHappenedIsRecordedAndOpensAQuestion) {
  const std::string recorded = Done(hand_over_ + " --observed");
  EXPECT_THAT(recorded, HasSubstr("opened 1 question:"));
  EXPECT_THAT(recorded, HasSubstr("[repaired-after-inspection]"));
  EXPECT_THAT(recorded, HasSubstr("on rent with order R-1"));
  EXPECT_THAT(Done("questions K-1"), HasSubstr("1 question is open"));
  Done(
      "answer K-1 repaired-after-inspection 'inspected in the van, sheet lost' "
      "--at '2026-03-04 08:00'");
  EXPECT_THAT(Done("questions K-1"), HasSubstr("no question is open"));
}

TEST_F(AfterARepair, CheckRecordsNothing) {
  const Outcome refused = Ferrule(hand_over_ + " --check");
  EXPECT_EQ(refused.exit, 1);
  Done(std::string(kInspection) + " --at '2026-03-03 09:30'");
  EXPECT_THAT(Done(hand_over_ + " --check"), HasSubstr("would be recorded: handed over K-1"));
  EXPECT_THAT(Done("show R-1"), ContainsRegex("status +open\n"));
}

TEST_F(Counter, HandOverCarriesTheCautionAndOnlySettingsThatWereTyped) {
  MakeDepot();
  MakeReadyUnit();
  Done(kOrder);
  const std::string recorded =
      Done("hand-over K-1 R-1 --kit pad-set=L5 --signed-by patient --at '2026-03-03 10:00'");
  EXPECT_THAT(recorded,
              HasSubstr("Caution: the prescriber's order and the maker's instructions rule"));
  EXPECT_THAT(Done("show R-1"), Not(HasSubstr("motion set")));
}

TEST_F(Counter, AnImpossibleMeterIsRefusedUnlessSomebodyAnswersForIt) {
  MakeDepot();
  MakeReadyUnit();
  const Outcome fell = Ferrule("read-meter K-1 20.5 --at '2026-03-05 08:00'");
  EXPECT_EQ(fell.exit, 1);
  EXPECT_THAT(fell.err, HasSubstr("reads less than before: 20.5 h after 100.0 h"));
  const Outcome grew = Ferrule("read-meter K-1 9999 --at '2026-03-05 08:00'");
  EXPECT_EQ(grew.exit, 1);
  EXPECT_THAT(grew.err, HasSubstr("[meter-beyond-elapsed]"));
  Done(
      "read-meter K-1 20.5 --override meter-fell --authority mgr-bo --because 'display misread "
      "before' --at '2026-03-05 08:00'");
  EXPECT_THAT(Done("show K-1"), HasSubstr("meter-fell"));
}

TEST_F(Counter, CancellingAnOrderFreesItsUnitInTheSameEntry) {
  MakeDepot();
  MakeReadyUnit();
  Done(kOrder);
  Done("reserve K-1 R-1 --at '2026-03-02 11:05'");
  EXPECT_THAT(Done("cancel-order R-1 --reason 'operation called off' --at '2026-03-02 12:00'"),
              HasSubstr("K-1 now: at north-shelf, cleaned, passed, free"));
  EXPECT_THAT(Done("show R-1"), ContainsRegex("cancelled because +operation called off"));
}

TEST_F(Counter, ReleaseAndPickUpFindTheOrderOnTheRecords) {
  MakeDepot();
  MakeReadyUnit();
  Done(kOrder);
  Done("reserve K-1 R-1 --at '2026-03-02 11:05'");
  EXPECT_THAT(Done("release K-1 --at '2026-03-02 11:10'"), HasSubstr("free"));
  const Outcome idle = Ferrule("release K-1");
  EXPECT_EQ(idle.exit, 1);
  EXPECT_THAT(idle.err, HasSubstr("held for no order"));
  const Outcome nobody = Ferrule("pick-up K-1 north-van-dirty");
  EXPECT_EQ(nobody.exit, 1);
  EXPECT_THAT(nobody.err, HasSubstr("--order ORDER"));
}

TEST_F(Counter, AMistakeIsReversedByItsNumberAndStaysReadable) {
  MakeDepot();
  MakeReadyUnit();
  const std::string wrong = Done("hold K-1 recall 'notice 14' --at '2026-03-02 12:00'");
  ASSERT_THAT(wrong, HasSubstr("recorded as no. 7:"));
  const std::string number = "7";
  EXPECT_THAT(Done("why K-1 --at '2026-03-02 13:00'"), HasSubstr("on hold"));
  Done("reverse " + number + " --because 'wrong unit scanned' --at '2026-03-02 12:30'");
  EXPECT_THAT(Done("why K-1 --at '2026-03-02 13:00'"), HasSubstr("is ready to go"));
  EXPECT_THAT(Done("history K-1"), HasSubstr("reversed"));
  const Outcome again =
      Ferrule("reverse " + number + " --because 'wrong unit' --at '2026-03-02 12:40'");
  EXPECT_EQ(again.exit, 1);
  EXPECT_THAT(again.err, HasSubstr("[already-reversed]"));
}

TEST_F(Counter, ARepeatWithTheSameEntryIdDoesNothingTwice) {
  MakeDepot();
  MakeReadyUnit();
  const std::string hold =
      "hold K-1 owner 'kept back' --at '2026-03-02 12:00' --entry-id call-0007";
  EXPECT_THAT(Done(hold), HasSubstr("recorded as no. 7"));
  EXPECT_THAT(Done(hold), HasSubstr("had been recorded as no. 7"));
  const Outcome other =
      Ferrule("hold K-1 other 'something else' --at '2026-03-02 12:00' --entry-id call-0007");
  EXPECT_NE(other.exit, 0);
  EXPECT_THAT(Done("info"), HasSubstr("entries  7"));
}

TEST_F(Counter, ShortWetTimeIsRecordedAndTheUnitStaysSoiled) {
  MakeDepot();
  Done("add-unit K-2 knee-b north-dock --part pendant=PEN-2 --at '2026-03-02 08:00'");
  const std::string cleaned =
      Done("clean K-2 wipe-q --wet-min 3 --at '2026-03-02 09:00' --observed");
  EXPECT_THAT(cleaned, HasSubstr("K-2 now: at north-dock, soiled"));
}

TEST_F(Counter, AnAliasIsNotedShownAndRefusedASecondTime) {
  MakeDepot();
  MakeReadyUnit();
  EXPECT_THAT(Done("note-alias K-1 'CPM 12' --kind old-tag --at '2026-03-02 12:00'"),
              HasSubstr("alias noted of K-1: old tag CPM 12"));
  Done("note-alias K-1 7 --kind board-number --at '2026-03-02 12:05'");
  EXPECT_THAT(Done("show K-1"), ContainsRegex("aliases +board number 7, old tag CPM 12\n"));
  EXPECT_THAT(Done("history K-1"), HasSubstr("alias noted of K-1: board number 7"));
  const std::string again = "note-alias K-1 7 --kind board-number --at '2026-03-02 13:00'";
  const Outcome refused = Ferrule(again);
  EXPECT_EQ(refused.exit, 1);
  EXPECT_THAT(refused.err, HasSubstr("the alias 7 (board number) of K-1 is noted already: "
                                     "2026-03-02 12:05 by tech-ada  [alias-already-noted]"));
  EXPECT_THAT(Done(again + " --observed"), HasSubstr("opened 1 question:"));
  EXPECT_THAT(Done("questions K-1"), HasSubstr("units/K-1  alias-already-noted\n"));
}

TEST_F(Counter, AnAliasNeedsItsKind) {
  MakeDepot();
  MakeReadyUnit();
  const Outcome refused = Ferrule("note-alias K-1 7");
  EXPECT_EQ(refused.exit, 2);
  EXPECT_THAT(refused.err, HasSubstr("kind: is missing"));
}

TEST_F(Counter, AUnitThatNobodyKnowsIsNotFound) {
  MakeDepot();
  for (const char* line : {"show K-9", "why K-9", "history K-9", "move K-9 north-dock",
                           "hand-over K-9 R-9", "receive K-9 north-dock", "show orders/R-9"}) {
    const Outcome unknown = Ferrule(line);
    EXPECT_EQ(unknown.exit, 3) << line << "\n" << unknown.err;
    EXPECT_THAT(unknown.err, HasSubstr("-9")) << line;
  }
}

TEST_F(Counter, TypedTimesNeedABranchWhenBranchesKeepDifferentTimes) {
  MakeDepot();
  environment().erase("FERRULE_BRANCH");
  const Outcome unclear = Ferrule("add-unit K-3 knee-b south-dock --at '2026-03-02 08:00'");
  EXPECT_EQ(unclear.exit, 2);
  EXPECT_THAT(unclear.err, HasSubstr("--branch"));
  Done("add-unit K-3 knee-b south-dock --branch south --at '2026-03-02 08:00'");
  EXPECT_THAT(Done("feed --format json"), HasSubstr("\"happenedTime\": \"2026-03-02T14:00:00Z\""));
  EXPECT_THAT(Done("show K-3"), HasSubstr("2026-03-02 08:00 by tech-ada"));
}

}  // namespace
}  // namespace ferrule::testing
