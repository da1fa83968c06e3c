// What goes wrong during a rental in the trade, exceptions 38 to 47, each told to a real service
// over a real channel from beginning to end.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/service/story.h"

namespace ferrule::testing {
namespace {

using ::testing::Contains;
using ::testing::ElementsAre;
using ::testing::HasSubstr;
using ::testing::IsEmpty;

// A knee in the home since 2026-05-16, prescribed through 06-05.
class Exceptions : public ::testing::Test {
 protected:
  void Begin(const std::string& more = "") {
    story_.ReadyKnee("K-1");
    story_.TakeOrder("R-1", more);
    story_.UsualRental();
  }
  std::string Day(const std::string& day, const std::string& known_at = "") {
    return DayOf(story_.Days("R-1", known_at, "2026-06-30").ledgers(0), day);
  }
  Story story_;
};

// A new end chained to the original; the units of the authorisation are counted.
TEST_F(Exceptions, E38ExtensionBeforeDue) {
  Begin("payer: 'strict'");
  story_.Tell("2026-05-17 09:00",
              "authorisation_noted { order: 'R-1' number: 'PA-1' "
              "from_date { year: 2026 month: 5 day: 14 } "
              "through_date { year: 2026 month: 6 day: 30 } unit_count: 25 }");
  story_.Tell("2026-06-01 09:00",
              "order_extended { order: 'R-1' through_date { year: 2026 month: 6 day: 12 } "
              "signed_date { year: 2026 month: 6 day: 1 } }");
  const v1::GetRentalEndsResponse ends = story_.Ends("R-1");
  EXPECT_THAT(EndsText(ends), HasSubstr("prescription_end 2026-06-12, due"));
  ASSERT_EQ(ends.spans_size(), 2);
  EXPECT_EQ(ends.spans(1).paper(), "extension");
  EXPECT_EQ(DayText(ends.spans(1).from_date()), "2026-06-06");
  EXPECT_THAT(ends.holes(), IsEmpty());
  EXPECT_EQ(Day("2026-06-09"), "COVERED WITHIN_COVER");  // the 25th
  EXPECT_EQ(Day("2026-06-10"), "NOT_COVERED UNITS_USED_UP");
}

// The days between were overdue as it was known then and are prescribed as it is known now.
TEST_F(Exceptions, E39ExtensionAfterDue) {
  Begin("payer: 'private'");
  story_.Now("2026-06-08 12:00");
  ASSERT_EQ(story_.Due().rows_size(), 1);
  EXPECT_EQ(story_.Due().rows(0).overdue_days(), 3);
  story_.Tell("2026-06-09 09:00",
              "order_extended { order: 'R-1' from_date { year: 2026 month: 6 day: 6 } "
              "through_date { year: 2026 month: 6 day: 20 } "
              "signed_date { year: 2026 month: 6 day: 9 } }");
  EXPECT_EQ(story_.Due().rows_size(), 0);
  const v1::ReportDueResponse then = story_.Due("2026-06-08 12:00");
  ASSERT_EQ(then.rows_size(), 1);
  EXPECT_EQ(then.rows(0).overdue_days(), 3);
  EXPECT_EQ(Day("2026-06-07", "2026-06-08 12:00"), "NOT_COVERED AFTER_PRESCRIPTION");
  EXPECT_EQ(Day("2026-06-07"), "COVERED WITHIN_COVER");
  // One that begins only on its own day leaves a hole, which is seen.
  story_.Tell("2026-06-25 09:00",
              "order_extended { order: 'R-1' from_date { year: 2026 month: 6 day: 25 } "
              "through_date { year: 2026 month: 6 day: 30 } }");
  EXPECT_EQ(Day("2026-06-22"), "NOT_COVERED HOLE");
}

TEST_F(Exceptions, E40ExtensionsOverlapOrLeaveAHole) {
  Begin();
  story_.Tell("2026-06-01 09:00",
              "order_extended { order: 'R-1' from_date { year: 2026 month: 6 day: 4 } "
              "through_date { year: 2026 month: 6 day: 10 } }");
  story_.Tell("2026-06-02 09:00",
              "order_extended { order: 'R-1' from_date { year: 2026 month: 6 day: 14 } "
              "through_date { year: 2026 month: 6 day: 20 } }");
  const v1::GetRentalEndsResponse ends = story_.Ends("R-1");
  ASSERT_EQ(ends.overlaps_size(), 1);
  EXPECT_EQ(DayText(ends.overlaps(0).from_date()), "2026-06-04");
  EXPECT_EQ(DayText(ends.overlaps(0).through_date()), "2026-06-05");
  ASSERT_EQ(ends.holes_size(), 1);
  EXPECT_EQ(DayText(ends.holes(0).from_date()), "2026-06-11");
  EXPECT_EQ(DayText(ends.holes(0).through_date()), "2026-06-13");
  EXPECT_THAT(EndsText(ends), HasSubstr("prescription_end 2026-06-20"));
}

// From the boundary on another payer answers, by its own rate, and the notice is on the order.
TEST_F(Exceptions, E41PayerRefusesAndTheSurgeonWantsIt) {
  Begin();
  story_.Tell("2026-06-01 09:00",
              "order_extended { order: 'R-1' through_date { year: 2026 month: 6 day: 12 } }");
  EXPECT_EQ(Day("2026-06-08"), "NOT_COVERED AFTER_COVER");
  story_.Tell("2026-06-03 09:00",
              "order_changed { order: 'R-1' details { payer: 'private' "
              "payer_from_date { year: 2026 month: 6 day: 5 } "
              "notice_date { year: 2026 month: 6 day: 3 } } }");
  EXPECT_EQ(Day("2026-06-04"), "COVERED WITHIN_COVER");
  EXPECT_EQ(Day("2026-06-08"), "COVERED WITHIN_COVER");
  story_.PickUp("2026-06-12 12:00", "K-1", "R-1");
  const v1::ReportClaimsResponse claims = story_.Claims();
  ASSERT_EQ(claims.claims_size(), 2);
  EXPECT_EQ(claims.claims(0).payer(), "federal");
  EXPECT_EQ(DayText(claims.claims(0).through_date()), "2026-06-04");
  EXPECT_EQ(claims.claims(0).amount_minor(), 20 * 2500);
  EXPECT_EQ(claims.claims(1).payer(), "private");
  EXPECT_EQ(DayText(claims.claims(1).from_date()), "2026-06-05");
  EXPECT_EQ(claims.claims(1).amount_minor(), 8 * 4000);
  EXPECT_EQ(DayText(story_.Order("R-1").details().notice_date()), "2026-06-03");
}

// The due date moves up, and days are billed to the stop.
TEST_F(Exceptions, E42StopOrderEarly) {
  Begin();
  story_.Tell("2026-05-24 09:00",
              "order_stopped { order: 'R-1' through_date { year: 2026 month: 5 day: 25 } "
              "signed_date { year: 2026 month: 5 day: 24 } reason: 'range reached' }");
  EXPECT_THAT(EndsText(story_.Ends("R-1")), HasSubstr("prescription_end 2026-05-25, due"));
  EXPECT_TRUE(story_.Ends("R-1").spans(0).cut_by_stop());
  story_.Now("2026-05-27 12:00");
  ASSERT_EQ(story_.Due().rows_size(), 1);
  EXPECT_EQ(story_.Due().rows(0).overdue_days(), 2);
  EXPECT_EQ(Day("2026-05-25"), "COVERED WITHIN_COVER");
  EXPECT_EQ(Day("2026-05-26"), "NOT_COVERED AFTER_STOP");
  EXPECT_THAT(story_.Refused("2026-05-27 13:00",
                             "order_stopped { order: 'R-1' "
                             "through_date { year: 2026 month: 5 day: 30 } }"),
              ElementsAre("STOP_LENGTHENS"));
}

// Custody stays, the servicing branch and its local dates change, and moving is no interruption.
TEST_F(Exceptions, E43PatientMovesToAnotherTimeZone) {
  Begin("payer: 'monthly' length_of_need_days: 90");
  story_.Tell("2026-05-20 09:00", "order_changed { order: 'R-1' details { branch: 'west' } }");
  EXPECT_EQ(story_.Unit("K-1").custody(), v1::CUSTODY_HOME);
  // 22:30 in Los Angeles on 2026-06-20 is 07:30 of the next day in Berlin.
  story_.Tell("2026-06-20T22:30:00-07:00",
              "picked_up { unit: 'K-1' order: 'R-1' to_place: 'van-dirty' }");
  EXPECT_EQ(DayText(story_.Order("R-1").legs(0).from_date()), "2026-05-16");
  EXPECT_EQ(DayText(story_.Order("R-1").legs(0).to_date()), "2026-06-20");
  const v1::DayLedger ledger = story_.Days("R-1").ledgers(0);
  EXPECT_EQ(ledger.touched_count(), 36);
  ASSERT_EQ(ledger.months_size(), 2);
  EXPECT_EQ(ledger.months(1).period(), 1);
  EXPECT_EQ(DayText(ledger.months(1).from_date()), "2026-06-16");
}

// No further unit goes there; the last day of service is the day of death.
TEST_F(Exceptions, E44PatientDies) {
  Begin();
  story_.ReadyKnee("K-2");
  story_.Tell("2026-05-22 16:00", "patient_stay_noted { order: 'R-1' stay: STAY_DIED }");
  EXPECT_THAT(story_.Refused("2026-05-23 10:00", Story::HandedOver("K-2", "R-1")),
              Contains("PATIENT_DIED"));
  story_.Tell("2026-05-23 11:00",
              "pickup_agreed { order: 'R-1' pickup_date { year: 2026 month: 5 day: 26 } }");
  EXPECT_THAT(EndsText(story_.Ends("R-1")), HasSubstr("agreed_pickup 2026-05-26, due"));
  EXPECT_EQ(Day("2026-05-22"), "COVERED WITHIN_COVER");
  EXPECT_EQ(Day("2026-05-23"), "IDLE AFTER_DEATH");
  story_.PickUp("2026-05-26 12:00", "K-1", "R-1");
  EXPECT_EQ(story_.Claims().claims(0).unit_count(), 7);
}

// Each attempt is counted beside the days overdue; a unit that nobody finds is unaccounted for,
// with its last evidence, and comes back with its history.
TEST_F(Exceptions, E45Unreachable) {
  Begin();
  for (const char* at : {"2026-06-08 10:00", "2026-06-10 10:00", "2026-06-12 10:00"}) {
    story_.Tell(at, "pickup_failed { order: 'R-1' outcome: 'nobody home' }");
  }
  story_.Now("2026-06-15 12:00");
  const v1::ReportDueResponse due = story_.Due();
  ASSERT_EQ(due.rows_size(), 1);
  EXPECT_EQ(due.rows(0).failed_pickup_count(), 3);
  EXPECT_EQ(due.rows(0).overdue_days(), 10);
  story_.Tell("2026-06-20 10:00",
              "unit_missing { unit: 'K-1' evidence: 'evicted, certified letter came back' }");
  EXPECT_EQ(story_.Unit("K-1").custody(), v1::CUSTODY_UNACCOUNTED);
  EXPECT_THAT(story_.Refused("2026-06-21 10:00", Story::HandedOver("K-1", "R-1")),
              Contains("UNACCOUNTED"));
  story_.Tell("2026-07-01 10:00", "unit_found { unit: 'K-1' place: 'dock' }");
  EXPECT_EQ(story_.Unit("K-1").hygiene(), v1::HYGIENE_SOILED);
  EXPECT_EQ(story_.Unit("K-1").turn_count(), 1);
}

// Kept as it was found: no cleaning, no erasing, no release but by the hold's own outcome.
TEST_F(Exceptions, E46InjuryAlleged) {
  Begin();
  story_.Tell("2026-05-20 08:00",
              "hold_placed { unit: 'K-1' kind: HOLD_KIND_INCIDENT reason: 'burn alleged' }");
  story_.Tell("2026-05-20 12:00",
              "picked_up { unit: 'K-1' order: 'R-1' to_place: 'quarantine' meter_s: 36000 "
              "condition: 'as found' }");
  EXPECT_THAT(story_.Refused("2026-05-21 09:00", "cleaning_started { unit: 'K-1' }"),
              ElementsAre("INCIDENT_NOT_TO_BE_CLEANED"));
  EXPECT_THAT(story_.Refused("2026-05-21 09:05", "memory_erased { unit: 'K-1' }"),
              ElementsAre("INCIDENT_NOT_TO_BE_CLEANED"));
  EXPECT_FALSE(story_.AssessUnit("K-1").ready());
  EXPECT_EQ(story_.Unit("K-1").meter().reading_s(), 36000);
  story_.Tell("2026-06-10 09:00",
              "hold_lifted { unit: 'K-1' kind: HOLD_KIND_INCIDENT outcome: 'maker examined it' }");
  story_.Tell("2026-06-10 09:10", "cleaning_started { unit: 'K-1' }");
}

// Swapped at home, and the recalled unit goes nowhere else until it is corrected.
TEST_F(Exceptions, E47RecallWhileAtHome) {
  Begin();
  story_.ReadyKnee("K-2");
  story_.TakeOrder("R-2");
  story_.Tell("2026-05-20 08:00",
              "hold_placed { unit: 'K-1' kind: HOLD_KIND_RECALL reason: 'field notice 7' }");
  EXPECT_EQ(story_.Unit("K-1").custody(), v1::CUSTODY_HOME);
  story_.Tell("2026-05-21 12:00",
              "exchanged { order: 'R-1' unit_out: 'K-1' to_place: 'van-dirty' unit_in: 'K-2' "
              "unit_in_model: 'knee-a' reason: 'recall' "
              "kit { item: 'pad-set' lot: 'L-2' piece_count: 1 } }");
  EXPECT_EQ(story_.Order("R-1").unit(), "K-2");
  const v1::DayLedger ledger = story_.Days("R-1", "", "2026-05-22").ledgers(0);
  EXPECT_THAT(ledger.days(5).units(), ElementsAre("K-1", "K-2"));  // one day, one rental
  EXPECT_EQ(ledger.covered_count(), 7);
  EXPECT_THAT(story_.Refused("2026-05-22 12:00", Story::HandedOver("K-1", "R-2")),
              Contains("ON_HOLD"));
  EXPECT_THAT(story_.Refused("2026-05-22 12:05",
                             "carried_over { unit: 'K-1' from_order: 'R-1' to_order: 'R-2' "
                             "patient: 'P-1' unit_model: 'knee-a' signed_by: 'patient' }"),
              Contains("ON_HOLD"));
  story_.Tell("2026-05-25 09:00",
              "hold_lifted { unit: 'K-1' kind: HOLD_KIND_RECALL outcome: 'board replaced' }");
  EXPECT_EQ(story_.Unit("K-1").holds_size(), 0);
}

}  // namespace
}  // namespace ferrule::testing
