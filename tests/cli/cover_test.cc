// Days, ends, claims and corrections as typed at a counter. The published cases with their sources
// are in tests/core/cover/published_test.cc; here the same figures come out of the program.
#include <algorithm>

#include "gmock/gmock.h"
#include "tests/cli/program.h"
#include "tests/core/time/published_calendar.h"

namespace ferrule::testing {
namespace {

using ::testing::ContainsRegex;
using ::testing::HasSubstr;
using ::testing::Not;

class Cover : public ProgramTest {
 protected:
  Cover() {
    Done("init");
    Done(std::string("settings apply ") + FERRULE_SETTINGS +
         " --from 2009-01-01 --at '2009-01-01'");
    Done("add-unit K-1 knee-a north-dock --at '2009-05-01 08:00'");
  }
  // The contractor's example: surgery 2009-06-01, applied 06-02, home 06-05, used to 06-29.
  void PublishedExample() {
    Done(
        "take-order R-1 --class knee --side left --branch north --days 28 --patient P-7 "
        "--prescriber D-5 --procedure 'total knee' --procedure-code 27447 --surgery 2009-06-01 "
        "--discharge 2009-06-05 --signed 2009-05-28 --extension 0 --flexion 90 --payer federal "
        "--surgery-time '2009-06-01 09:00' --at '2009-05-28 09:00'");
    Done("use R-1 started --at '2009-06-02 16:00'");
    Done("stay R-1 home --at '2009-06-05 11:00'");
    Done(
        "hand-over K-1 R-1 --kit pad-set=L5 --signed-by patient --observed "
        "--at '2009-06-05 12:00'");
    Done("use R-1 stopped --at '2009-06-29 20:00'");
    Done("pick-up K-1 north-van-dirty --at '2009-06-29 21:00'");
  }
};

TEST_F(Cover, PublishedExampleByTheThreeReadings) {
  PublishedExample();
  const std::string days = Done("days R-1");
  EXPECT_THAT(days, HasSubstr("By reading surgery-is-day-0: 25 days: 18 covered, 7 in use and not "
                              "covered, 0 away, 0 not used\n  covered through 2009-06-22\n"));
  EXPECT_THAT(days, HasSubstr("By reading surgery-is-day-1: 25 days: 17 covered, 8 in use"));
  EXPECT_THAT(days, HasSubstr("By reading discharge-is-day-1: 25 days: 21 covered, 4 in use"));
  EXPECT_THAT(days, HasSubstr("The readings differ on 4 days:\n  2009-06-22: surgery-is-day-0 "
                              "covered, surgery-is-day-1 not covered, discharge-is-day-1 covered"));
  EXPECT_THAT(days, HasSubstr("The payer decides"));
  const std::string csv = Done("days R-1 --format csv");
  EXPECT_THAT(csv, HasSubstr("date,state,reason,payer,units,custody_s,length_s,"
                             "state_by_surgery-is-day-1,state_by_discharge-is-day-1\r\n"));
  EXPECT_THAT(csv, HasSubstr("2009-06-22,covered,within cover,federal,K-1,86400,86400,not covered,"
                             "covered\r\n"));
  EXPECT_THAT(Done("days R-1 --format json"), ContainsRegex("\"coveredCount\": *18"));
}

// "within 2 days" and "within 48 hours" are two readings: applied 50 hours after the operation.
TEST_F(Cover, StartWindowByDaysAndByHours) {
  Done(
      "take-order R-1 --class knee --side left --branch north --days 28 --patient P-7 "
      "--prescriber D-5 --procedure 'total knee' --surgery 2025-05-05 --surgery-time "
      "'2025-05-05 14:00' --discharge 2025-05-07 --extension 0 --flexion 90 --payer federal "
      "--at '2025-05-01 09:00'");
  Done("use R-1 started --at '2025-05-07 16:00'");
  Done("hand-over K-1 R-1 --kit pad-set=L5 --signed-by patient --observed --at '2025-05-07 15:00'");
  const std::string days = Done("days R-1 --through 2025-05-20");
  EXPECT_THAT(days, HasSubstr("By reading surgery-is-day-0: 14 days: 14 covered"));
  EXPECT_THAT(days, HasSubstr("By reading surgery-is-day-1: 14 days: 0 covered"));
}

TEST_F(Cover, ClaimsAreAFileAndTheRefusedOnesNameWhatIsMissing) {
  PublishedExample();
  Done("add-unit K-2 knee-a north-dock --at '2009-05-01 08:00'");
  Done(
      "take-order R-2 --class knee --side right --branch north --days 21 --patient P-8 "
      "--prescriber D-5 --procedure 'total knee, \"second\" side' --surgery 2009-06-01 "
      "--extension 0 --flexion 90 --payer federal --at '2009-05-28 09:00'");
  Done(
      "hand-over K-2 R-2 --kit pad-set=L5 --signed-by patient --observed "
      "--at '2009-06-05 12:00'");
  Done("pick-up K-2 north-van-dirty --at '2009-06-20 21:00'");
  const Outcome claims = Ferrule("claims --format csv");
  EXPECT_EQ(claims.exit, 0);
  EXPECT_THAT(claims.out, HasSubstr("branch,order,patient,payer,device_class,side,billing_code,"));
  EXPECT_THAT(
      claims.out,
      HasSubstr("north,R-1,P-7,federal,knee,left,E0935,RR LT,2009-06-05,2009-06-29,25,18,"
                "450.00,total knee,2009-06-01,2009-06-02,2009-06-05,,surgery-is-day-0,0\r\n"));
  EXPECT_THAT(claims.out, Not(HasSubstr("R-2")));
  EXPECT_THAT(claims.err, HasSubstr("1 rental cannot be claimed"));
  const std::string refused = Done("claims --refused --format csv");
  EXPECT_THAT(refused, HasSubstr("north,R-2,federal,\"day on which the device was first used, from "
                                 "the rep or the facility; "));
  Done("change-order R-2 --signed 2009-05-28 --at '2009-06-21 09:00'");
  Done("use R-2 started --at '2009-06-02 09:00'");
  Done("stay R-2 home --at '2009-06-05 09:00'");
  EXPECT_THAT(Done("claims --format csv"), HasSubstr("\"total knee, \"\"second\"\" side\""));
}

TEST_F(Cover, EndsAreToldApart) {
  PublishedExample();
  Done("authorise R-1 PA-7 2009-06-01 2009-06-25 --units 21 --at '2009-06-05 14:00'");
  const std::string ends = Done("ends R-1");
  EXPECT_THAT(ends, ContainsRegex("prescription end +2009-07-02"));
  EXPECT_THAT(ends, ContainsRegex("authorisation end +2009-06-25"));
  EXPECT_THAT(ends, ContainsRegex("cover end +2009-06-22 +due date"));
  EXPECT_THAT(ends, HasSubstr("original: 2009-06-05 through 2009-07-02\n"));
  Done("stop R-1 2009-06-20 --signed 2009-06-19 --at '2009-06-19 09:00'");
  Done("extend R-1 2009-06-28 --from 2009-06-24 --at '2009-06-23 09:00'");
  const std::string cut = Done("ends R-1");
  EXPECT_THAT(cut, HasSubstr("original: 2009-06-05 through 2009-06-20, cut short by a stop\n"));
  EXPECT_THAT(cut, HasSubstr("extension: 2009-06-24 through 2009-06-28\n"));
  EXPECT_THAT(cut, HasSubstr("hole, prescribed by no paper: 2009-06-21 through 2009-06-23\n"));
  EXPECT_THAT(Done("days R-1"), ContainsRegex("2009-06-21 +2009-06-23 +3 +not covered +hole"));
}

TEST_F(Cover, MissingSaysWhatAndWhoSuppliesIt) {
  Done(
      "take-order R-1 --class knee --branch north --patient P-7 --procedure 'right knee' "
      "--side left --at '2009-05-28 09:00'");
  const std::string missing = Done("lacks R-1");
  EXPECT_THAT(missing, HasSubstr("R-1 is not enough to go out and not enough to bill; missing:\n"));
  EXPECT_THAT(missing, ContainsRegex("length of need +the prescriber +yes +no"));
  EXPECT_THAT(missing, ContainsRegex("payer +intake +no +yes"));
  EXPECT_THAT(missing, HasSubstr("a confirmation of the side: the order says left, but the "
                                 "procedure's words name right"));
  EXPECT_EQ(Ferrule("reserve K-1 R-1 --at '2009-05-28 10:00'").exit, 1);
  Done("confirm R-1 side --by D-5 --how 'rang the office' --at '2009-05-28 11:00'");
  EXPECT_THAT(Done("lacks R-1"), Not(HasSubstr("confirmation")));
  EXPECT_THAT(Done("show R-1"), HasSubstr("by D-5"));
  EXPECT_EQ(Ferrule("confirm R-1 side --at '2009-05-28 11:00'").exit, 2);
}

TEST_F(Cover, CorrectionsAfterABillLeaveWhatWasReported) {
  PublishedExample();
  Done("bill R-1 C-77 2009-06-05 2009-06-29 --units 25 --amount 450.00 --at '2009-07-01 09:00'");
  EXPECT_EQ(Done("corrections R-1"), "nothing that was billed has changed\n");
  EXPECT_EQ(Ferrule("bill R-1 C-78 2009-06-29 2009-06-30 --at '2009-07-01 09:00'").exit, 1);
  Done("stay R-1 hospital --at '2009-06-10 08:00'");
  Done("stay R-1 home --at '2009-06-12 15:00'");
  const std::string corrections = Done("corrections");
  EXPECT_THAT(corrections,
              HasSubstr("R-1, claim C-77, 2009-06-05 through 2009-06-29: covered 18 as "
                        "billed, 16 now, difference -50.00\n"));
  EXPECT_THAT(corrections, HasSubstr("2009-06-10"));
  EXPECT_THAT(corrections, HasSubstr("patient's stay noted of order R-1: hospital"));
  EXPECT_THAT(Done("corrections --format csv"),
              HasSubstr("R-1,C-77,2009-06-10,covered,within cover,away,in hospital,"));
}

// A month is no number of days; three weeks are 21 (ISO 8601, forms from memory).
TEST_F(Cover, WeekDatesAndDurationsAreTyped) {
  Done("take-order R-1 --class knee --branch north --days P3W --at '2009-05-28 09:00'");
  EXPECT_THAT(Done("show R-1"), ContainsRegex("days of use +21\n"));
  int minute = 10;  // later each time: of two facts of one instant either may come first
  for (const auto& [day, week] : kWeekDates) {
    Done(std::string("change-order R-1 --surgery ") + week +
         " --at '2009-05-28 09:" + std::to_string(minute++) + "'");
    EXPECT_THAT(Done("show R-1"), ContainsRegex(std::string("surgery +") + day + "\n"));
  }
  const Outcome month = Ferrule("change-order R-1 --days P1M --at '2009-05-28 10:00'");
  EXPECT_EQ(month.exit, 2);
  EXPECT_THAT(month.err, HasSubstr("no fixed number of days"));
  EXPECT_EQ(Ferrule("change-order R-1 --surgery 2025-W53-1 --at '2009-05-28 10:00'").exit, 2);
}

TEST_F(Cover, HolidaysArePrintedForASettingsFile) {
  const auto line = [](const std::string& day) {
    return "holidays { date { year: " + day.substr(0, 4) +
           " month: " + std::to_string(std::stoi(day.substr(5, 2))) +
           " day: " + std::to_string(std::stoi(day.substr(8, 2))) + " }";
  };
  for (const DaysOffOfYear& year : kPublishedDaysOff) {
    const std::string text = Done("settings holidays " + std::to_string(year.year));
    for (const char* day : year.days) EXPECT_THAT(text, HasSubstr(line(day)));
    EXPECT_EQ(static_cast<size_t>(std::count(text.begin(), text.end(), '{')), 2 * year.days.size());
  }
  for (const DaysOffOfYear& year : kHardDaysOff) {
    const std::string text = Done("settings holidays " + std::to_string(year.year));
    for (const char* day : year.days) EXPECT_THAT(text, HasSubstr(line(day)));
  }
  WriteFile(Path("s.textproto"), ReadFile(FERRULE_SETTINGS) + Done("settings holidays 2027"));
  EXPECT_THAT(Done("settings check " + Path("s.textproto")), HasSubstr("valid"));
  EXPECT_EQ(Ferrule("settings holidays 1999").exit, 2);
}

TEST_F(Cover, UnknownOrderAndWordsAreNamed) {
  EXPECT_EQ(Ferrule("days R-404").exit, 3);
  const Outcome wrong = Ferrule("stay R-1 beach --at '2009-06-10 08:00'");
  EXPECT_EQ(wrong.exit, 2);
  EXPECT_THAT(wrong.err, HasSubstr("home"));
  EXPECT_THAT(Ferrule("days").err, HasSubstr("ORDER"));
}

}  // namespace
}  // namespace ferrule::testing
