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
  void Take(const std::string& order, const std::string& surgery, const std::string& needed,
            const std::string& more = "") {
    Done("take-order " + order + " --class knee --side left --branch north --days 21 --surgery " +
         surgery + " --needed " + needed +
         " --patient P-7 --prescriber D-5 --procedure 'total knee' --extension 0 --flexion 90 "
         "--speed 150 --pause 5 --daily 4 --at '2026-03-02 11:00' " +
         more);
  }
};

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
