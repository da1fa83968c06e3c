// Promises, fit, limits and use, typed at a counter.
#include "gmock/gmock.h"
#include "tests/cli/program.h"

namespace ferrule::testing {
namespace {

using ::testing::HasSubstr;
using ::testing::Not;

// Days far ahead, so that the tests never meet the calendar of the machine.
class Promises : public ProgramTest {
 protected:
  Promises() {
    MakeDepot();
    MakeReadyUnit();
    Take("R-1", "2037-03-05", "2037-03-07");
  }
  // Says its odds beside the answer.
  std::string Made(const std::string& command) {
    const Outcome outcome = Ferrule("make-promise " + command);
    EXPECT_EQ(outcome.exit, 0) << outcome.err;
    EXPECT_THAT(outcome.err, HasSubstr("yes, "));
    return outcome.out;
  }
  void Take(const std::string& order, const std::string& surgery, const std::string& needed,
            const std::string& more = "") {
    Done("take-order " + order + " --class knee --side left --branch north --days 21 --surgery " +
         surgery + " --needed " + needed +
         " --patient P-7 --prescriber D-5 --procedure 'total knee' --extension 0 --flexion 90 "
         "--speed 150 --pause 5 --daily 4 --at '2026-03-02 11:00' " +
         more);
  }
};

TEST_F(Promises, AreAskedMadeAndNotMadeTwice) {
  // An order that waits comes first: whoever asks without one is told so.
  EXPECT_THAT(Done("promise knee left 2037-03-07 --branch north"), HasSubstr("no, 0 %"));
  EXPECT_THAT(Done("promise --order R-1"), HasSubstr("yes, 100 %"));
  EXPECT_THAT(Done("promise --order R-1"), HasSubstr("K-1"));
  const std::string made = Made("R-1 --firm");
  EXPECT_THAT(made, HasSubstr("unit promised K-1 to order R-1: firm, from 2037-03-07"));
  EXPECT_THAT(Done("promises"), HasSubstr("R-1    north   knee          K-1"));
  Take("R-2", "2037-03-08", "2037-03-10");
  const Outcome late = Ferrule("make-promise R-2");
  EXPECT_EQ(late.exit, 1);
  EXPECT_THAT(late.err, HasSubstr("nothing can be promised: no"));
  EXPECT_THAT(Done("promise --order R-2"), HasSubstr("R-1, 2037-03-07 to "));
  Done("wait R-2 --asked 2037-03-10 --reason 'the only one is promised'");
  EXPECT_THAT(Done("waiting"), HasSubstr("R-2"));
  Done("refuse R-2 2037-03-10 --offered 2037-04-10");
  EXPECT_THAT(Done("history R-2"),
              HasSubstr("promise refused for order R-2: asked for 2037-03-10"));
  // What was promised goes with the order.
  Done("cancel-order R-1 --reason 'called off'");
  EXPECT_THAT(Done("promises"), HasSubstr("no promise answers that"));
  EXPECT_THAT(Made("R-2"), HasSubstr("unit promised K-1 to order R-2: soft"));
  EXPECT_THAT(Done("waiting"), HasSubstr("nobody waits"));
}

TEST_F(Promises, MoveWithTheOperationAfterALook) {
  Made("R-1 --firm");
  const std::string look = Done("preview-move R-1 2037-03-08");
  EXPECT_THAT(look, HasSubstr("operation: 2037-03-05 -> 2037-03-08"));
  EXPECT_THAT(look, HasSubstr("promise from: 2037-03-07 -> 2037-03-10"));
  EXPECT_THAT(look, HasSubstr("No other promise changes."));
  EXPECT_THAT(Done("promises"), HasSubstr("2037-03-07")) << "nothing was applied";
  Done("move-surgery R-1 2037-03-08");
  EXPECT_THAT(Done("promises"), HasSubstr("2037-03-10"));
}

TEST_F(Promises, ThatWouldBreakStopTheMoveUntilSomebodyInsists) {
  Made("R-1 --firm");
  Take("R-2", "2037-04-20", "2037-04-20");
  Made("R-2 --firm");
  EXPECT_THAT(Done("preview-move R-1 2037-04-10"), HasSubstr("R-2"));
  const Outcome refused = Ferrule("move-surgery R-1 2037-04-10");
  EXPECT_EQ(refused.exit, 1);
  EXPECT_THAT(refused.err, HasSubstr("1 later promises would break"));
  Done("move-surgery R-1 2037-04-10 --even-so");
}

TEST_F(Promises, AnotherUnitThatGoesOutFreesTheOnePromised) {
  Made("R-1 --firm");
  Done("add-unit K-2 knee-a north-dock --part pendant=PEN-2 --at '2026-03-02 08:00'");
  const Outcome out = Ferrule("hand-over K-2 R-1 --kit pad-set=L5 --signed-by patient --observed");
  EXPECT_EQ(out.exit, 0) << out.err;
  EXPECT_THAT(Done("promises"), HasSubstr("no promise answers that"));
  EXPECT_THAT(Done("history K-1"), HasSubstr("K-2 went out instead"));
}

TEST_F(Promises, FitIsRankedAndExplained) {
  Done("change-order R-1 --leg 98cm --weight 310lb");
  const std::string fits = Done("fits R-1");
  EXPECT_THAT(fits, HasSubstr("no unit fits R-1"));
  EXPECT_THAT(fits, HasSubstr("K-1 (knee-a) does not fit:"));
  EXPECT_THAT(fits, HasSubstr("K-1 is not made for this weight: 310 lb, its rating is 135 kg"));
  EXPECT_THAT(fits, HasSubstr("Caution: the maker's instructions and the prescriber's order rule"));
  Done("change-order R-1 --weight 250lb");
  EXPECT_THAT(Done("fits R-1"), HasSubstr("K-1   knee-a  north   yes"));
}

TEST_F(Promises, ASlipOfTheUnitIsAskedAbout) {
  const Outcome slip = Ferrule("change-order R-1 --leg 32cm");
  EXPECT_EQ(slip.exit, 1);
  EXPECT_THAT(slip.err, HasSubstr("leg length 32 cm, believed are 60 cm to 120 cm; in another unit "
                                  "of measure it would be 32 in"));
  Done("change-order R-1 --leg 32in");
  EXPECT_EQ(Ferrule("change-order R-1 --leg 32ft").exit, 2);
  EXPECT_THAT(Ferrule("change-order R-1 --leg x").err, HasSubstr("is no measure"));
}

TEST_F(Promises, LimitsOfADayAndWhatASessionComesTo) {
  Done("change-order R-1 --progression-from surgery --start-flexion 40 --step-flexion 5");
  const std::string limits = Done("limits R-1 --on 2037-03-09");
  EXPECT_THAT(limits, HasSubstr("4 from 2037-03-05 (surgery)"));
  EXPECT_THAT(limits, HasSubstr("flexion 60 deg"));
  EXPECT_THAT(limits, HasSubstr("58 s a cycle, 62.1 cycles an hour"));
  EXPECT_THAT(limits, HasSubstr("Caution: the prescriber's order"));
  EXPECT_THAT(Done("limits R-1 --on 2037-04-01"), HasSubstr("82 s a cycle, 43.9 cycles an hour"));
  Done("change-order R-1 --step-flexion 20 --progression-from surgery --start-flexion 40");
  EXPECT_THAT(Done("limits R-1"), HasSubstr("Ask: a step of 20 deg a day is more than 15 deg"));
}

TEST_F(Promises, UseIsToldAgainstWhatIsPrescribed) {
  Done(
      "hand-over K-1 R-1 --kit pad-set=L5 --meter 100 --signed-by patient --flexion 90 "
      "--at '2026-03-03 10:00'");
  Done("report-use R-1 --meter 106 --at '2026-03-07 10:00'");
  const std::string usage = Done("usage R-1");
  EXPECT_THAT(usage, HasSubstr("6.0 h in 4 days, 1.5 h a day, 37.5 % of the 4.0 h prescribed"));
  EXPECT_THAT(usage, HasSubstr("That is low by the settings"));
  const Outcome beyond = Ferrule(
      "set-motion R-1 --flexion 100 --by patient "
      "--at '2026-03-08 10:00'");
  EXPECT_EQ(beyond.exit, 1);
  EXPECT_THAT(beyond.err, HasSubstr("get a new order from the prescriber"));
  Done("set-motion R-1 --flexion 80 --by therapist --at '2026-03-08 10:00'");
  EXPECT_EQ(Ferrule("set-motion R-1").exit, 2);
}

}  // namespace
}  // namespace ferrule::testing
