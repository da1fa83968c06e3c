// Complaints, breakdowns, precautions, records that are kept and given, competence, typed at a
// counter.
#include "gmock/gmock.h"
#include "tests/cli/program.h"

namespace ferrule::testing {
namespace {

using ::testing::ContainsRegex;
using ::testing::HasSubstr;
using ::testing::Not;

class ComplianceTyped : public ProgramTest {
 protected:
  ComplianceTyped() {
    MakeDepot();
    MakeReadyUnit();
    Done(
        "take-order R-1 --class knee --side left --branch north --days 21 --needed 2026-03-03 "
        "--patient P-7 --prescriber D-5 --procedure tka --surgery 2026-03-02 --signed 2026-03-01 "
        "--extension 0 --flexion 90 --at '2026-03-02 11:00'");
  }
};

TEST_F(ComplianceTyped, AComplaintIsTakenAnsweredAndClosed) {
  EXPECT_THAT(Done("complaint B-31 device 'hinge pinched' --branch north --from-whom patient "
                   "--harm possible --about K-1 --at '2026-03-02 12:00'"),
              HasSubstr("Caution: somebody was hurt or could have been."));
  const Outcome early = Ferrule("complaint-close B-31 upheld 'cover fitted' --at '2026-03-03'");
  EXPECT_EQ(early.exit, 1);
  EXPECT_THAT(early.err, HasSubstr("[complaint-not-answered]"));
  Done("complaint-answer B-31 --how telephone --at '2026-03-03 12:00'");
  EXPECT_THAT(Done("complaints --open"),
              ContainsRegex("B-31 .*units/K-1.*24.0 h(.|\n)*all: 1 received, 1 open, 0 without an "
                            "answer, 0 late, 1 with harm done or possible; median to the first "
                            "answer 24.0 h"));
  Done("complaint-close B-31 upheld 'cover fitted' --by-whom lead-eve --at '2026-03-04 12:00'");
  EXPECT_THAT(Done("complaints --open"),
              HasSubstr("no complaint on the records fits what was asked"));
  EXPECT_THAT(Done("show B-31"), ContainsRegex("done +cover fitted"));
  const Outcome bare = Ferrule("complaint B-32 device 'loud' --harm none --from-whom staff");
  EXPECT_EQ(bare.exit, 2);
  EXPECT_THAT(bare.err, HasSubstr("branch"));
}

TEST_F(ComplianceTyped, ABreakdownIsSettledOnTheTelephone) {
  Done("hand-over K-1 R-1 --kit pad-set=L5 --signed-by patient --at '2026-03-03 10:00'");
  EXPECT_THAT(Done("breakdown R-1 'stops after a minute' --unit K-1 --at '2026-03-05 20:00'"),
              HasSubstr("Caution"));
  EXPECT_THAT(Done("show R-1"), HasSubstr("not settled"));
  Done("works-again R-1 by-telephone --at '2026-03-05 20:30'");
  EXPECT_THAT(Done("show R-1"), HasSubstr("works again 2026-03-05 20:30"));
  const Outcome again = Ferrule("works-again R-1 by-itself --at '2026-03-05 21:00'");
  EXPECT_EQ(again.exit, 1);
  EXPECT_THAT(again.err, HasSubstr("[no-breakdown-open]"));
}

TEST_F(ComplianceTyped, PrecautionsAreToldToWhoeverGoesThereWithoutTheReason) {
  EXPECT_THAT(
      Done("precautions R-1 gloves ring-first --because 'cockroaches' --at '2026-03-02 12:00'"),
      HasSubstr("precautions for order R-1: gloves, ring first\n"));
  EXPECT_THAT(Done("show R-1"),
              ContainsRegex("precautions +ring first, gloves, 2026-03-02 12:00 by tech-ada"));
  // No unit is held yet, which papers say on the side.
  const auto seen = [this](const std::string& line) {
    const Outcome outcome = Ferrule(line);
    EXPECT_EQ(outcome.exit, 0) << line << "\n" << outcome.err;
    return outcome.out + outcome.err;
  };
  const std::string on = " --day 2026-03-03";
  EXPECT_THAT(Done("agenda" + on), ContainsRegex("delivery +R-1 .*ring first, gloves"));
  EXPECT_THAT(seen("print delivery R-1" + on), HasSubstr("Ring before you leave for the home."));
  for (const std::string line :
       {"show R-1", "show R-1 --format json", "history R-1", "feed", "agenda --day 2026-03-03",
        "agenda --day 2026-03-03 --format json", "print delivery R-1", "print set-up R-1",
        "print pick-up R-1", "print agenda --day 2026-03-03"}) {
    EXPECT_THAT(seen(line), Not(HasSubstr("cockroach"))) << line;
  }
  Done("precautions R-1 --because 'the house was cleaned' --at '2026-03-02 13:00'");
  EXPECT_THAT(Done("show R-1"), ContainsRegex("precautions +none any more, 2026-03-02 13:00"));
  EXPECT_THAT(seen("print delivery R-1" + on), Not(HasSubstr("Precautions")));
}

TEST_F(ComplianceTyped, PrecautionsMistypedAreRefusedWithWhatToType) {
  const auto refused = [this](const std::string& line, int exit) {
    const Outcome outcome = Ferrule("precautions " + line);
    EXPECT_EQ(outcome.exit, exit) << line << outcome.out;
    return outcome.err;
  };
  EXPECT_THAT(refused("R-1 glovs --because seen", 2),
              HasSubstr("WHAT: 'glovs' is none of ring-first, two-together, gloves, bag-at-door, "
                        "no-outlet, stay-outside; did you mean gloves?"));
  EXPECT_THAT(refused("R-1 gloves", 2), HasSubstr("--because TEXT"));
  EXPECT_THAT(refused("R-1 gloves gloves --because seen", 2), HasSubstr("is given twice"));
  EXPECT_THAT(refused("R-9 gloves --because seen", 3), HasSubstr("[order-unknown]"));
  EXPECT_THAT(Done("show R-1"), Not(HasSubstr("precautions")));
}

TEST_F(ComplianceTyped, RecordsAreHeldReleasedAndGiven) {
  EXPECT_THAT(Done("records-due --all"),
              HasSubstr("No rule keeps or frees: patient's particulars"));
  Done("records-hold R-1 claim-4 'the payer disputes it' --at '2026-03-03 10:00'");
  EXPECT_THAT(Done("records-due --all --kind rental-papers"),
              HasSubstr("held for claim-4: the payer disputes it"));
  Done("records-release R-1 claim-4 'it is settled' --at '2026-03-04 10:00'");
  EXPECT_THAT(Done("records-due --all"), Not(HasSubstr("held for")));
  Done("disclose R-1 'payer one' 'order and ticket' 'review 7' --at '2026-03-04 11:00'");
  EXPECT_THAT(Done("patient trail P-7 --disclosed"), HasSubstr("to payer one"));
  EXPECT_THAT(Done("patient trail patients/P-7"), HasSubstr("order taken R-1"));
  EXPECT_THAT(Done("patient trail P-8"), HasSubstr("nothing of the kind is on the records"));
}

TEST_F(ComplianceTyped, WorkWithoutACompetenceIsListed) {
  EXPECT_THAT(Done("competence --lacking"),
              ContainsRegex("inspection_done +units/K-1 +not on record"));
  EXPECT_THAT(Done("competence --lacking"),
              HasSubstr("Not on record: the access rules have nobody's competence for that kind of "
                        "work; it says nothing about who did it."));
  WriteFile(Path("access.textproto"),
            "version: 'a-1' competences { person: 'tech-bo' facts: 'inspection_done' }");
  Done("access apply " + Path("access.textproto"));
  EXPECT_THAT(Done("competence --lacking"), ContainsRegex("inspection_done +units/K-1 +no +a-1"));
  EXPECT_THAT(Done("competence --lacking"), Not(HasSubstr("ot on record")));
  const Outcome wrong = Ferrule("competence --work mending");
  EXPECT_EQ(wrong.exit, 2);
  EXPECT_THAT(wrong.err, HasSubstr("repair_closed"));
}

}  // namespace
}  // namespace ferrule::testing
