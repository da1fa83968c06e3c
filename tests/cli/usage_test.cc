// Wrong words get a sentence that says what would be right, and exit code 2.
#include "gmock/gmock.h"
#include "tests/cli/program.h"

namespace ferrule::testing {
namespace {

using ::testing::HasSubstr;

class Usage : public ProgramTest {
 protected:
  Usage() { MakeDepot(); }

  void ExpectUsage(const std::string& line, const std::string& words) {
    const Outcome outcome = Ferrule(line);
    EXPECT_EQ(outcome.exit, 2) << "ferrule " << line << "\n" << outcome.err;
    EXPECT_EQ(outcome.out, "") << "ferrule " << line;
    EXPECT_THAT(outcome.err, HasSubstr(words)) << "ferrule " << line;
  }
};

TEST_F(Usage, NothingTypedPrintsTheHelpAsAnError) {
  const Outcome outcome = Ferrule("");
  EXPECT_EQ(outcome.exit, 2);
  EXPECT_THAT(outcome.err, HasSubstr("Usage: ferrule COMMAND"));
}

TEST_F(Usage, MistypedWordsGetTheNearest) {
  ExpectUsage("recieve K-1 north-dock", "did you mean receive?");
  ExpectUsage("inspct K-1", "did you mean inspect?");
  ExpectUsage("units --brnch north", "did you mean --branch?");
  ExpectUsage("set-side K-1 lft", "did you mean left?");
  ExpectUsage("units --format jsn", "did you mean json?");
}

TEST_F(Usage, MissingAndSuperfluousWordsAreNamed) {
  ExpectUsage("move K-1", "needs PLACE");
  ExpectUsage("move K-1 north-dock now", "'now' is one word too many");
  ExpectUsage("clean K-1 wipe-q", "--wet-min MINUTES");
  ExpectUsage("clean K-1 wipe-q --wet-min 5 --wet-from 10:00", "either --wet-min");
  ExpectUsage("change-order R-1", "say what changes");
  ExpectUsage("reverse 1", "--because");
}

TEST_F(Usage, WrongDatesTimesAndNumbersAreNamed) {
  ExpectUsage("take-order R-1 --surgery 2026-02-30", "--surgery: '2026-02-30' is no day");
  ExpectUsage("take-order R-1 --days many", "--days: 'many' is no whole number");
  ExpectUsage("extend R-1 soon", "THROUGH: 'soon' is no day");
  ExpectUsage("move K-1 north-dock --at 25:00", "--at: '25:00' is no time");
  ExpectUsage("read-meter K-1 12h", "HOURS: '12h' is no number of hours");
  ExpectUsage("hand-over K-1 R-1 --kit pad-set", "--kit: 'pad-set' lacks one of its sides");
  ExpectUsage("inspect K-1 visual=maybe", "visual: 'maybe' is no number");
  ExpectUsage("show K-1 --known-at later", "'later' is no time");
  ExpectUsage("units --limit 0", "--limit");
}

TEST_F(Usage, WithoutAReporterNothingIsRecorded) {
  environment().erase("FERRULE_ACTOR");
  ExpectUsage("move K-1 north-dock", "--as NAME or set FERRULE_ACTOR");
}

TEST_F(Usage, AnOverrideNeedsItsRuleItsAuthorityAndItsReason) {
  ExpectUsage("read-meter K-1 5 --override meter-fell", "--authority NAME");
  ExpectUsage("read-meter K-1 5 --override meter-fel --authority a --because b",
              "did you mean meter-fell?");
  ExpectUsage("read-meter K-1 5 --authority a", "only together with --override");
}

TEST_F(Usage, MalformedReportsNameTheField) {
  ExpectUsage("move 'K 1' north-dock", "unit");
  ExpectUsage("move K-1 north-dock --entry-id ''", "entry_id");
}

TEST_F(Usage, WithoutADepotItSaysHowToNameOne) {
  environment().erase("FERRULE_DEPOT");
  ExpectUsage("board", "add --depot FILE or set FERRULE_DEPOT");
  ExpectUsage("board --depot a.ferrule --server localhost:1", "both a server and a depot");
}

}  // namespace
}  // namespace ferrule::testing
