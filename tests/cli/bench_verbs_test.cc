// The bench's verbs and answers, each typed once.
#include "gmock/gmock.h"
#include "tests/cli/program.h"

namespace ferrule::testing {
namespace {

using ::testing::ContainsRegex;
using ::testing::HasSubstr;

class BenchVerbs : public ProgramTest {
 protected:
  BenchVerbs() {
    MakeDepot();
    MakeReadyUnit();
  }
  void Rent() {
    Done(
        "take-order R-1 --class knee --side left --branch north --days 21 --needed 2026-03-03 "
        "--patient P-7 --prescriber D-5 --procedure tka --surgery 2026-03-02 --extension 0 "
        "--flexion 90 --at '2026-03-02 11:00'");
    Done(
        "hand-over K-1 R-1 --kit pad-set=L5 --accessory pendant --signed-by patient "
        "--at '2026-03-03 10:00'");
  }
  std::string Refused(const std::string& line) {
    const Outcome outcome = Ferrule(line);
    EXPECT_EQ(outcome.exit, 1) << line << "\n" << outcome.out;
    return outcome.err;
  }
};

TEST_F(BenchVerbs, StepsContactAndTheWayBackToClean) {
  Done("contact K-1 --beside K-9 --evidence 'cover open' --at '2026-03-02 11:00'");
  EXPECT_THAT(Done("why K-1 --at '2026-03-02 11:05'"), HasSubstr("[soiled-by-contact]"));
  EXPECT_THAT(Refused("clean-step K-1 disinfection --at '2026-03-02 11:10'"),
              HasSubstr("[cleaning-step-out-of-order]"));
  Done("clean-step K-1 washing --at '2026-03-02 11:10'");
  Done("clean K-1 wipe-q --wet-min 12 --extra smoke --at '2026-03-02 12:00'");
  EXPECT_THAT(Done("why K-1 --at '2026-03-02 12:05'"), HasSubstr("ready to go"));
  EXPECT_THAT(Done("cleanings K-1"), ContainsRegex("wipe-q +720 +600 .*smoke +yes"));
  EXPECT_EQ(Ferrule("contact K-1").exit, 2);
}

TEST_F(BenchVerbs, InsectsAreTreatedBeforeTheHoldIsLifted) {
  Done("hold K-1 infestation 'seen in the case' --at '2026-03-02 12:00'");
  const std::string lift = "lift K-1 infestation 'found clear' --inspected-by tech-bo --at ";
  EXPECT_THAT(Refused(lift + "'2026-03-09 12:00'"), HasSubstr("time alone releases nothing"));
  Done("treat K-1 heat --minutes 90 --celsius 50 --at '2026-03-10 12:00'");
  Done(lift + "'2026-03-10 12:30'");
  EXPECT_EQ(Ferrule("treat K-1 heat --at '2026-03-10 12:00'").exit, 2) << "no minutes";
}

TEST_F(BenchVerbs, AReturnIsComparedReceivedAndWhatIsMissingIsListed) {
  Rent();
  Done("pick-up K-1 north-van-dirty --accessory pendant --at '2026-03-10 10:00'");
  const std::string compared =
      Done("compare K-1 north-dock --no-accessories --serial X-9 --at '2026-03-10 12:00'");
  EXPECT_THAT(compared, HasSubstr("Went out 2026-03-03 10:00 by tech-ada with order R-1: pendant"));
  EXPECT_THAT(compared, HasSubstr("[accessory-not-back]"));
  Done("receive K-1 north-dock --no-accessories --observed --at '2026-03-10 12:00'");
  EXPECT_THAT(Done("missing-parts K-1"), ContainsRegex("pendant +pickup and dock +R-1"));
  EXPECT_THAT(Done("strays"), HasSubstr("nothing came in"));
  EXPECT_EQ(Ferrule("compare K-1 north-dock --no-accessories --accessory pendant").exit, 2);
}

TEST_F(BenchVerbs, AFailureIsExplainedWithItsRepairAndTrend) {
  Done(
      "inspect K-1 visual=yes stop=yes earth-ohm=0.4 insulation-mohm=20 leakage-ua=85 "
      "--at '2026-03-02 11:00'");
  Done("repair-open K-1 'earth too high' --meter 100.2 --at '2026-03-02 12:00'");
  Done(
      "repair-close K-1 --cause cord --work 'new cord' --labour 0.5 --cost 45 --remove "
      "pendant=PEN-1 --fit pendant=PEN-2 --meter 100.3 --at '2026-03-02 13:00'");
  Done(
      "inspect K-1 visual=yes stop=yes earth-ohm=0.5 insulation-mohm=20 leakage-ua=85 "
      "--at '2026-03-10 11:00'");
  const std::string why = Done("why-failed K-1");
  EXPECT_THAT(why, HasSubstr("earth-ohm 0.5, at most 0.3 ohm"));
  EXPECT_THAT(why, HasSubstr("8 days earlier: a repeat; repaired between"));
  EXPECT_THAT(why, HasSubstr("PEN-2"));
  EXPECT_THAT(Done("trend K-1"), HasSubstr("0.12 0.4 0.5"));
  EXPECT_THAT(Done("drift"), HasSubstr("no reading drifts"));
  EXPECT_THAT(Done("retire K-1 --repair-cost 480"), ContainsRegex("proposal +repair"));
  EXPECT_THAT(Done("failing --all"), ContainsRegex("K-1 +knee-a +1"));
  EXPECT_THAT(Done("reliability --model knee-a"), ContainsRegex("knee-a +1 "));
  EXPECT_THAT(Done("spares pendant"), ContainsRegex("pendant +1 "));
  EXPECT_EQ(Ferrule("trend K-9").exit, 3);
}

TEST_F(BenchVerbs, ATesterInDoubtTakesItsPassesBack) {
  Done("calibrated T-3 2026-12-01 --certificate C-1 --at '2026-03-01 08:00'");
  EXPECT_THAT(Done("doubt-tester T-3 'found low' --from '2026-03-02 00:00' --to '2026-03-03 00:00' "
                   "--at '2026-03-04 09:00'"),
              HasSubstr("Taken back: 1 pass"));
  EXPECT_THAT(Done("why K-1 --at '2026-03-04 10:00'"), HasSubstr("[tester-in-doubt]"));
  EXPECT_THAT(Done("doubts --tester T-3"), ContainsRegex("4 +K-1 +tester doubted"));
  EXPECT_THAT(Done("show T-3"), HasSubstr("through 2026-12-01"));
}

TEST_F(BenchVerbs, ServiceIsListedAndPutOffByName) {
  EXPECT_THAT(Done("service-due"), HasSubstr("Of 1 unit under a plan"));
  Done("defer-service K-1 2027-04-01 'maker asked' --by lead-eve --at '2026-03-04 09:00'");
  EXPECT_EQ(Ferrule("defer-service K-1 2027-04-01 'no name'").exit, 2);
}

TEST_F(BenchVerbs, TheBenchListAndTheRunHours) {
  Done("add-unit K-2 knee-b north-dock --part pendant=PEN-7 --at '2026-03-02 08:00'");
  const std::string bench = Done("bench --branch north");
  EXPECT_THAT(bench, ContainsRegex("K-2 +knee +north-dock +clean +"));
  Done("read-meter K-1 110.5 --at '2026-03-04 08:00'");
  EXPECT_THAT(Done("run-hours K-1"), HasSubstr("True run hours: 10.5"));
  EXPECT_EQ(Ferrule("bench --known-at yesterday").exit, 2) << "not silently ignored";
  EXPECT_THAT(Done("bench --format csv"), HasSubstr("unit,device_class,place,next"));
}

}  // namespace
}  // namespace ferrule::testing
