// The verbs that a plain turn does not need, each typed once.
#include "gmock/gmock.h"
#include "tests/cli/program.h"

namespace ferrule::testing {
namespace {

using ::testing::ContainsRegex;
using ::testing::HasSubstr;
using ::testing::Not;

class Verbs : public ProgramTest {
 protected:
  Verbs() { MakeDepot(); }

  void TakeOrder(const std::string& order) {
    Done("take-order " + order +
         " --class knee --side left --branch north --days 21 --needed 2026-03-03 --patient P-7 "
         "--prescriber D-5 --procedure tka --surgery 2026-03-02 --signed 2026-03-01 "
         "--extension 0 --flexion 90 --at '2026-03-02 11:00'");
  }
  void MakeReadyKneeB(const std::string& unit, const std::string& pendant) {
    Done("add-unit " + unit + " knee-b north-dock --part pendant=" + pendant +
         " --at '2026-03-02 08:00'");
    Done("clean " + unit + " spray-p --wet-min 4 --at '2026-03-02 09:00'");
    Done("inspect " + unit +
         " visual=yes stop=yes earth-ohm=0.3 insulation-mohm=2 "
         "leakage-ua=500 --at '2026-03-02 10:00'");
    Done("move " + unit + " north-shelf --at '2026-03-02 10:10'");
  }
};

TEST_F(Verbs, ReadingsEqualToTheirLimitsPassAndOneStepBeyondFails) {
  MakeReadyKneeB("K-2", "PEN-2");
  EXPECT_THAT(Done("why K-2 --at '2026-03-02 11:00'"), HasSubstr("K-2 is ready to go"));
  EXPECT_THAT(Done("inspect K-2 visual=yes stop=yes earth-ohm=0.301 insulation-mohm=2 "
                   "leakage-ua=500 --at '2026-03-02 11:00'"),
              HasSubstr("failed"));
  EXPECT_THAT(Done("show K-2"), HasSubstr("earth-ohm 0.301"));
}

TEST_F(Verbs, PartsAreTakenOutAndFitted) {
  MakeReadyKneeB("K-2", "PEN-2");
  EXPECT_THAT(Done("unfit K-2 pendant --at '2026-03-02 12:00'"), HasSubstr("PEN-2"));
  EXPECT_THAT(Done("show PEN-2"), ContainsRegex("in unit +none"));
  EXPECT_THAT(Done("why K-2 --at '2026-03-02 12:30'"), HasSubstr("[part-missing]"));
  Done("fit K-2 pendant PEN-9 --at '2026-03-02 13:00'");
  EXPECT_THAT(Done("show PEN-9"), ContainsRegex("in unit +K-2"));
  const Outcome none = Ferrule("unfit K-2 foot-plate");
  EXPECT_EQ(none.exit, 2);
  EXPECT_THAT(none.err, HasSubstr("--part PART"));
}

TEST_F(Verbs, MetersAreReadReplacedAndRolledOver) {
  MakeReadyUnit();
  Done("read-meter K-1 110.5 --at '2026-03-04 08:00'");
  Done("replace-meter K-1 0 --old-last 111 --at '2026-03-05 08:00'");
  Done("read-meter K-1 4.0 --at '2026-03-06 08:00'");
  const std::string shown = Done("show K-1");
  EXPECT_THAT(shown, ContainsRegex("meter hours +4.0"));
  // 100.0 to 111.0 on the old meter, 0.0 to 4.0 on the new one.
  EXPECT_THAT(shown, ContainsRegex("run hours +15.0"));
}

TEST_F(Verbs, AMeterThatPassedItsHighestFigureKeepsItsTrueHours) {
  Done("add-unit K-3 knee-b north-dock --meter 9990 --at '2026-03-02 08:00'");
  Done("roll-meter K-3 5.5 10000 --at '2026-03-10 08:00'");
  EXPECT_THAT(Done("show K-3"), ContainsRegex("run hours +15.5"));
}

TEST_F(Verbs, ASideIsSetUp) {
  Done(
      "add-unit S-1 shoulder-a north-dock --side right --part controller=C-1 "
      "--at '2026-03-02 08:00'");
  Done("set-side S-1 left --at '2026-03-02 08:30'");
  EXPECT_THAT(Done("show S-1"), ContainsRegex("side +left"));
  Done("add-unit K-2 knee-b north-dock --at '2026-03-02 08:00'");
  const Outcome refused = Ferrule("set-side K-2 left --at '2026-03-02 08:30'");
  EXPECT_EQ(refused.exit, 1);
  EXPECT_THAT(refused.err, HasSubstr("[model-has-no-sides]"));
}

TEST_F(Verbs, AnIncidentKeepsAUnitAsItWasFound) {
  MakeReadyUnit();
  Done("hold K-1 incident 'strap tore under load' --at '2026-03-02 12:00'");
  const Outcome refused = Ferrule("clean K-1 wipe-q --wet-min 12 --at '2026-03-02 13:00'");
  EXPECT_EQ(refused.exit, 1);
  EXPECT_THAT(refused.err, HasSubstr("[incident-not-to-be-cleaned]"));
  Done("lift K-1 incident 'looked into, report closed' --at '2026-03-02 14:00'");
  EXPECT_THAT(Done("start-clean K-1 --at '2026-03-02 15:00'"), HasSubstr("cleaning"));
}

TEST_F(Verbs, AUnitGetsLostFoundAndWrittenOff) {
  MakeReadyUnit();
  EXPECT_THAT(Done("missing K-1 'not on the shelf at the count' --at '2026-03-02 12:00'"),
              HasSubstr("unaccounted for, last at north-shelf"));
  EXPECT_THAT(Done("found K-1 north-dock --at '2026-03-03 12:00'"),
              HasSubstr("at north-dock, soiled"));
  const Outcome refused = Ferrule("write-off K-1 'frame bent' --at '2026-03-04 12:00'");
  EXPECT_EQ(refused.exit, 2);
  EXPECT_THAT(refused.err, HasSubstr("approved_by"));
  EXPECT_THAT(Done("write-off K-1 'frame bent' --approved-by mgr-bo --at '2026-03-04 12:00'"),
              HasSubstr("written off"));
}

TEST_F(Verbs, ServiceTakesTheModelsPlan) {
  MakeReadyUnit();
  EXPECT_THAT(Done("service K-1 --at '2026-03-02 12:00'"), HasSubstr("yearly"));
  EXPECT_THAT(Done("show K-1"), ContainsRegex("serviced +2026-03-02 12:00 by tech-ada"));
}

TEST_F(Verbs, AUnitIsExchangedInTheHomeWithinOneRental) {
  MakeReadyUnit();
  MakeReadyKneeB("K-2", "PEN-2");
  TakeOrder("R-1");
  Done("hand-over K-1 R-1 --kit pad-set=L5 --signed-by patient --at '2026-03-03 10:00'");
  EXPECT_THAT(Done("exchange R-1 K-1 K-2 north-van-dirty --reason 'pendant dead' "
                   "--at '2026-03-07 22:00'"),
              HasSubstr("K-2 now: at the home of order R-1"));
  EXPECT_THAT(Done("show K-1"), HasSubstr("at north-van-dirty, soiled"));
  const std::string order = Done("show R-1");
  EXPECT_THAT(order, HasSubstr("K-1, 2026-03-03 10:00 by tech-ada to 2026-03-07 22:00"));
  EXPECT_THAT(order, HasSubstr("K-2, 2026-03-07 22:00 by tech-ada to still out"));
}

TEST_F(Verbs, EndsOfARentalFollowExtensionAndAgreement) {
  MakeReadyUnit();
  TakeOrder("R-1");
  Done("hand-over K-1 R-1 --kit pad-set=L5 --signed-by patient --at '2026-03-03 10:00'");
  EXPECT_THAT(Done("show R-1"), HasSubstr("2026-03-23 by prescription end"));
  Done("extend R-1 2026-03-30 --signed 2026-03-20 --at '2026-03-20 10:00'");
  EXPECT_THAT(Done("show R-1"), HasSubstr("2026-03-30 by prescription end"));
  Done("agree-pickup R-1 2026-03-28 --at '2026-03-25 10:00'");
  Done("failed-pickup R-1 'nobody home' --at '2026-03-28 10:00'");
  const std::string order = Done("show R-1");
  EXPECT_THAT(order, HasSubstr("2026-03-28 by agreed pickup"));
  EXPECT_THAT(order, ContainsRegex("failed pick-ups +1"));
  EXPECT_THAT(Done("due"), HasSubstr("agreed pickup"));
}

TEST_F(Verbs, AnOrderChangesAndOnlyWhatWasTyped) {
  TakeOrder("R-1");
  Done("change-order R-1 --surgery 2026-03-09 --at '2026-03-02 12:00'");
  const std::string order = Done("show R-1");
  EXPECT_THAT(order, ContainsRegex("surgery +2026-03-09"));
  EXPECT_THAT(order, ContainsRegex("needed +2026-03-03"));
  EXPECT_THAT(order, Not(HasSubstr("cancelled")));
}

}  // namespace
}  // namespace ferrule::testing
