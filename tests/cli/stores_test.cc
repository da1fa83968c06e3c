// Stores, stocktakes, recalls and traces, typed at a counter.
#include "gmock/gmock.h"
#include "tests/cli/program.h"

namespace ferrule::testing {
namespace {

using ::testing::ContainsRegex;
using ::testing::HasSubstr;

class StoresTyped : public ProgramTest {
 protected:
  StoresTyped() {
    MakeDepot();
    MakeReadyUnit();
  }
  void HandOut() {
    Done(
        "take-order R-1 --class knee --side left --branch north --days 21 --needed 2026-03-03 "
        "--patient P-7 --prescriber D-5 --procedure tka --surgery 2026-03-02 --signed 2026-03-01 "
        "--extension 0 --flexion 90 --at '2026-03-02 11:00'");
    Done("hand-over K-1 R-1 --kit pad-set=L5 --signed-by patient --at '2026-03-03 10:00'");
  }
};

TEST_F(StoresTyped, GoodsComeGoAndAreFoundAgain) {
  Done("stock-in pad-set north-shelf 12 --lot L5 --expiry 2027-01-31 --at '2026-03-02 08:00'");
  Done("stock-in pad-set north-shelf 5 --lot L6 --expiry 2026-12-31 --at '2026-03-02 08:00'");
  Done("stock-in walker north-shelf 3 --at '2026-03-02 08:00'");
  Done("stock-move walker north-shelf north-bench 1 --at '2026-03-02 09:00'");
  HandOut();
  EXPECT_THAT(Done("show L5"), ContainsRegex("at north-shelf +11"));
  Done("closet-use north-closet --item walker --chase 'ward 4' --at '2026-03-04 09:00'");
  EXPECT_THAT(Done("place north-closet"), ContainsRegex("walker +0 +-1 +1(.|\n)*ask ward 4"));
  EXPECT_THAT(Done("stock --item walker"), ContainsRegex("walker +north-bench +north +1"));
  EXPECT_THAT(Done("pick pad-set --pieces 6 --on 2026-06-01"), ContainsRegex("L6(.|\n)*L5"));
  EXPECT_THAT(Done("reorder"), HasSubstr("reorder point"));
  const Outcome short_of = Ferrule("stock-issue walker north-shelf 5 --at '2026-03-04 08:00'");
  EXPECT_EQ(short_of.exit, 1);
  EXPECT_THAT(short_of.err, HasSubstr("[stock-below-zero]"));
  const Outcome wrong = Ferrule("transfer-send T-1 north-shelf south-dock --goods 'pad-set=*3'");
  EXPECT_EQ(wrong.exit, 2);
  EXPECT_THAT(wrong.err, HasSubstr("pad-set=L5*10"));
}

TEST_F(StoresTyped, ATransferIsOnTheWayUntilItArrives) {
  Done("transfer-send T-1 north-shelf north-dock --unit K-1 --seal Z-5 --at '2026-03-02 12:00'");
  EXPECT_THAT(Done("transfers"), ContainsRegex("T-1.*late: look for it"));
  EXPECT_THAT(Done("why K-1"), HasSubstr("[in-transit]"));
  Done("transfer-receive T-1 north-shelf --unit K-1 --seal Z-5 --at '2026-03-02 15:00'");
  EXPECT_THAT(Done("transfers"), HasSubstr("nothing is on the way"));
  EXPECT_THAT(Done("who-had K-1"), ContainsRegex("on the way with T-1.*12:00.*15:00"));
}

TEST_F(StoresTyped, AStocktakeIsOpenedTalliedAndApproved) {
  Done("stock-in pad-set north-shelf 10 --lot L5 --at '2026-03-02 08:00'");
  Done("count-open C-7 north-shelf --cut-off '2026-03-02 12:00' --at '2026-03-02 12:00'");
  EXPECT_THAT(Done("count C-7"), HasSubstr("Still to be counted"));
  Done("count-tally C-7 north-shelf --goods pad-set=L5*8 --at '2026-03-02 12:30'");
  EXPECT_THAT(Done("count C-7"), ContainsRegex("K-1 +1 +0 +no +unexplained"));
  const Outcome early = Ferrule("count-close C-7 --approved-by lead-eve --at '2026-03-02 13:00'");
  EXPECT_EQ(early.exit, 1);
  EXPECT_THAT(early.err, HasSubstr("[count-not-recounted]"));
  Done(
      "count-tally C-7 north-shelf --unit K-1 --goods pad-set=L5*8 --round 2 "
      "--at '2026-03-02 12:50'");
  Done("count-close C-7 --approved-by lead-eve --at '2026-03-02 13:00'");
  EXPECT_THAT(Done("show L5"), ContainsRegex("counted fewer +2"));
  EXPECT_THAT(Done("counts --all"), HasSubstr("lead-eve"));
}

TEST_F(StoresTyped, ARecallIsOpenedBlockedWorkedOffAndClosed) {
  Done("unfit K-1 pendant --at '2026-03-02 10:20'");
  Done("fit K-1 pendant PEN-9 --lot B-77 --at '2026-03-02 10:30'");
  EXPECT_THAT(Done("affected --part-lot B-77"), HasSubstr("units/K-1"));
  Done(
      "recall-open N-7 'field notice 7' --part-lot B-77 --instruction 'replace the pendant' "
      "--at '2026-03-02 12:00'");
  EXPECT_THAT(Done("audit --rule recall-without-hold"), HasSubstr("units/K-1"));
  EXPECT_THAT(Done("recall-block N-7 --at '2026-03-02 12:05'"), HasSubstr("blocked 1 unit for"));
  EXPECT_THAT(Done("recall-block N-7 --at '2026-03-02 12:06'"), HasSubstr("blocked 0 units"));
  EXPECT_THAT(Done("why K-1"), HasSubstr("[on-hold]"));
  const Outcome open = Ferrule("recall-close N-7 --at '2026-03-02 13:00'");
  EXPECT_EQ(open.exit, 1);
  EXPECT_THAT(open.err, HasSubstr("[recall-items-open]"));
  Done("recall-note N-7 K-1 corrected --evidence 'pendant replaced' --at '2026-03-03 12:00'");
  EXPECT_THAT(Done("recall N-7"), HasSubstr("1 dealt with (100.00 %)"));
  Done("recall-close N-7 --at '2026-03-03 13:00'");
  EXPECT_THAT(Done("recalls"), HasSubstr("no recall is open"));
}

TEST_F(StoresTyped, TheProofOfARentalIsOnePage) {
  HandOut();
  EXPECT_THAT(Done("proof R-1"), HasSubstr("Unit K-1, order R-1: chain whole"));
  EXPECT_THAT(Done("violations"), HasSubstr("1 hand-overs, 1 with a whole chain"));
  EXPECT_THAT(Done("what-had R-1"), HasSubstr("home of order R-1"));
  EXPECT_THAT(Done("what-had north-dock"), HasSubstr("units/K-1"));
  EXPECT_THAT(Done("survey --seed 7"), HasSubstr("1 rental drawn out of 1 with seed 7"));
  Done("pick-up K-1 north-van-dirty --at '2026-03-20 10:00'");
  EXPECT_THAT(Done("exposure K-1"), HasSubstr("and still is"));
  EXPECT_THAT(Done("audit"), ContainsRegex("LOOK +left-on-van(.|\n)*units/K-1"));
  const Outcome unknown = Ferrule("audit --rule nonsense");
  EXPECT_EQ(unknown.exit, 2);
  EXPECT_THAT(unknown.err, HasSubstr("custody-overlap"));
}

}  // namespace
}  // namespace ferrule::testing
