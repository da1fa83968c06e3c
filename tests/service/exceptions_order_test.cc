// What goes wrong with orders and operations in the trade, exceptions 1 to 15, each told to a real
// service over a real channel from beginning to end.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/service/story.h"

namespace ferrule::testing {
namespace {

using ::testing::Contains;
using ::testing::ElementsAre;
using ::testing::HasSubstr;
using ::testing::IsEmpty;
using ::testing::Not;

class Exceptions : public ::testing::Test {
 protected:
  Story story_;
};

// Hold and need move; the promise stands. Which later promises break is the promise's answer.
TEST_F(Exceptions, E01SurgeryMovedLaterBeforeSetOut) {
  story_.ReadyKnee("K-1");
  story_.TakeOrder("R-1");
  story_.Tell("2026-05-03 09:00", "unit_held_for_order { unit: 'K-1' order: 'R-1' firm: true }");
  story_.Tell("2026-05-10 09:00",
              "order_changed { order: 'R-1' sender_version: 2 details { "
              "surgery_date { year: 2026 month: 5 day: 17 } "
              "needed_date { year: 2026 month: 5 day: 19 } } }");
  const v1::OrderState order = story_.Order("R-1");
  EXPECT_EQ(order.status(), v1::ORDER_STATUS_HELD);
  EXPECT_EQ(order.unit(), "K-1");
  EXPECT_EQ(DayText(order.details().needed_date()), "2026-05-19");
  EXPECT_EQ(EndsText(story_.Ends("R-1")), "cover_end 2026-06-07");  // 17 May and 21 days
  EXPECT_TRUE(story_.AssessUnit("K-1", "R-1").ready());
}

// The unit sits in the home; the clock of the cover has not begun, and idle days are told apart.
TEST_F(Exceptions, E02SurgeryMovedLaterAfterSetOut) {
  story_.ReadyKnee("K-1");
  story_.TakeOrder("R-1");
  story_.HandOver("2026-05-12 12:00", "K-1", "R-1");
  story_.Tell("2026-05-13 09:00",
              "order_changed { order: 'R-1' sender_version: 2 details { "
              "surgery_date { year: 2026 month: 5 day: 20 } "
              "discharge_date { year: 2026 month: 5 day: 22 } } }");
  story_.Now("2026-05-23 12:00");
  const v1::DayLedger ledger = story_.Days("R-1").ledgers(0);
  EXPECT_EQ(DayOf(ledger, "2026-05-12"), "IDLE BEFORE_SURGERY");
  EXPECT_EQ(DayOf(ledger, "2026-05-21"), "IDLE BEFORE_DISCHARGE");
  EXPECT_EQ(DayOf(ledger, "2026-05-22"), "COVERED WITHIN_COVER");
  EXPECT_EQ(ledger.idle_count(), 10);
  EXPECT_EQ(DayText(ledger.cover_through_date()), "2026-06-10");
  EXPECT_EQ(DayText(ledger.service_date()), "2026-05-22");
}

// Whether a ready unit makes it, and that the board shows who waits.
TEST_F(Exceptions, E03SurgeryMovedEarlier) {
  story_.ReadyKnee("K-1");
  story_.TakeOrder("R-1");
  story_.Tell("2026-05-06 09:00",
              "order_changed { order: 'R-1' sender_version: 2 details { "
              "surgery_date { year: 2026 month: 5 day: 6 } "
              "needed_date { year: 2026 month: 5 day: 7 } } }");
  const v1::BoardRow knees = story_.Board().rows(0);
  EXPECT_EQ(knees.waiting_count(), 1);
  EXPECT_EQ(knees.ready_count(), 1);
  EXPECT_TRUE(story_.AssessUnit("K-1", "R-1").ready());
  EXPECT_TRUE(story_.Missing("R-1").enough_to_go_out());
}

// The unit is free at once and no soft goods are used; the order stays, as cancelled.
TEST_F(Exceptions, E04CancelledBeforeSetOut) {
  story_.ReadyKnee("K-1");
  story_.TakeOrder("R-1");
  story_.Tell("2026-05-03 09:00", "unit_held_for_order { unit: 'K-1' order: 'R-1' firm: true }");
  story_.Tell(
      "2026-05-10 09:00",
      std::vector<std::string>{"order_hold_released { unit: 'K-1' order: 'R-1' }",
                               "order_cancelled { order: 'R-1' reason: 'operation called off' }"});
  EXPECT_EQ(story_.Order("R-1").status(), v1::ORDER_STATUS_CANCELLED);
  EXPECT_EQ(story_.Order("R-1").cancel_reason(), "operation called off");
  EXPECT_EQ(story_.Unit("K-1").commitment(), v1::COMMITMENT_FREE);
  EXPECT_TRUE(story_.AssessUnit("K-1").ready());
  EXPECT_THAT(story_.Refused("2026-05-11 09:00", Story::HandedOver("K-1", "R-1")),
              Contains("ORDER_CANCELLED"));
  EXPECT_THAT(MissingText(story_.Missing("R-1"), false),
              Contains("an order in force, from the referrer"));
}

// A pick-up is due, nothing is billed, and the unit comes back soiled although never used.
TEST_F(Exceptions, E05CancelledAfterSetOut) {
  story_.ReadyKnee("K-1");
  story_.TakeOrder("R-1");
  story_.HandOver("2026-05-13 12:00", "K-1", "R-1");
  EXPECT_THAT(story_.Refused("2026-05-14 08:00", "order_cancelled { order: 'R-1' }"),
              ElementsAre("ORDER_ON_RENT"));
  story_.Observe("2026-05-14 09:00", "order_cancelled { order: 'R-1' reason: 'fever' }");
  story_.Now("2026-05-18 12:00");
  const v1::ReportDueResponse due = story_.Due();
  ASSERT_EQ(due.rows_size(), 1);
  EXPECT_EQ(DayText(due.rows(0).due_date()), "2026-05-14");
  EXPECT_EQ(due.rows(0).basis(), v1::DUE_BASIS_PRESCRIPTION_END);
  EXPECT_EQ(due.rows(0).overdue_days(), 4);
  story_.PickUp("2026-05-18 13:00", "K-1", "R-1");
  EXPECT_EQ(story_.Unit("K-1").hygiene(), v1::HYGIENE_SOILED);
  EXPECT_EQ(story_.Days("R-1").ledgers(0).covered_count(), 0);
  EXPECT_EQ(story_.Days("R-1").ledgers(0).amount_minor(), 0);
  EXPECT_TRUE(story_.Claims().claims().empty());
  EXPECT_EQ(story_.Order("R-1").cancel_reason(), "fever");
}

// A new order that names the old one; its authorisation is asked for anew.
TEST_F(Exceptions, E06CancelledThenRebooked) {
  story_.TakeOrder("R-1", "payer: 'strict'");
  story_.Tell("2026-05-03 09:00",
              "authorisation_noted { order: 'R-1' number: 'PA-1' "
              "from_date { year: 2026 month: 5 day: 14 } "
              "through_date { year: 2026 month: 6 day: 14 } }");
  story_.Tell("2026-05-10 09:00", "order_cancelled { order: 'R-1' }");
  story_.Tell("2026-10-22 09:00",
              "order_taken { order: 'R-2' details { patient: 'P-1' prescriber: 'D-1' "
              "branch: 'north' device_class: 'knee' side: SIDE_LEFT procedure: 'knee replacement' "
              "needed_date { year: 2026 month: 11 day: 1 } length_of_need_days: 21 "
              "motion { extension_deg: 0 flexion_deg: 90 } payer: 'strict' "
              "linked_order: 'R-1' order_link: ORDER_LINK_REBOOKED } }");
  ASSERT_EQ(story_.Ends("R-2").linked_size(), 1);
  EXPECT_EQ(story_.Ends("R-2").linked(0).order(), "R-1");
  ASSERT_EQ(story_.Ends("R-1").linked_size(), 1);
  EXPECT_EQ(story_.Ends("R-1").linked(0).order(), "R-2");
  EXPECT_EQ(story_.Ends("R-1").linked(0).link(), v1::ORDER_LINK_REBOOKED);
  EXPECT_TRUE(story_.Missing("R-2").enough_to_go_out());
  EXPECT_THAT(MissingText(story_.Missing("R-2"), true),
              Contains("authorisation with its number, from the payer"));
  EXPECT_THAT(story_.Refused("2026-10-23 09:00",
                             "order_taken { order: 'R-3' details { linked_order: 'R-404' } }"),
              ElementsAre("ORDER_UNKNOWN"));
}

// The sender's versions decide, not the order of arrival.
TEST_F(Exceptions, E07ReinstatedAfterCancelOutOfOrder) {
  for (const bool in_order : {true, false}) {
    const std::string order = in_order ? "R-1" : "R-2";
    story_.TakeOrder(order);
    const std::string cancel =
        "order_cancelled { order: '" + order + "' sender_version: 2 reason: 'no date' }";
    const std::string reinstate = "order_reinstated { order: '" + order + "' sender_version: 3 }";
    story_.Observe("2026-05-10 09:00", in_order ? cancel : reinstate);
    story_.Observe("2026-05-10 09:05", in_order ? reinstate : cancel);
    EXPECT_EQ(story_.Order(order).status(), v1::ORDER_STATUS_OPEN) << order;
    EXPECT_FALSE(story_.Order(order).has_cancelled()) << order;
    EXPECT_EQ(story_.Order(order).sender_version(), 3) << order;
  }
  EXPECT_EQ(story_.QuestionCount("orders/R-1"), 0);
  EXPECT_EQ(story_.QuestionCount("orders/R-2"), 2);  // nothing to reinstate, then an older version
}

// The service date is the real discharge, and a note why it slipped is asked for.
TEST_F(Exceptions, E08DischargeDelayed) {
  story_.ReadyKnee("K-1");
  story_.TakeOrder("R-1");
  story_.HandOver("2026-05-14 12:00", "K-1", "R-1");
  story_.Tell("2026-05-15 10:00", "use_noted { order: 'R-1' change: USE_CHANGE_STARTED }");
  story_.Tell("2026-05-19 11:00", "patient_stay_noted { order: 'R-1' stay: STAY_HOME }");
  story_.Now("2026-05-25 12:00");
  EXPECT_EQ(DayText(story_.Days("R-1").ledgers(0).service_date()), "2026-05-19");
  EXPECT_THAT(
      MissingText(story_.Missing("R-1"), true),
      ElementsAre("a note why the discharge was not on the planned day, from the facility"));
  const v1::PatientStay stay = story_.Order("R-1").stays(0);
  story_.Tell("2026-05-26 09:00",
              "reversal { fact { entry_id: '" + stay.noted().fact().entry_id() +
                  "' index: 0 } subjects: 'orders/R-1' because: 'the note was left out' }");
  story_.TellLate("2026-05-19 11:00", "2026-05-26 09:05",
                  "patient_stay_noted { order: 'R-1' stay: STAY_HOME because: 'wound watched' }");
  EXPECT_TRUE(story_.Missing("R-1").enough_to_bill());
  EXPECT_EQ(DayText(story_.Days("R-1").ledgers(0).service_date()), "2026-05-19");
}

// Kept in over night: the stop slides by a day, and nobody is written down as not at home.
TEST_F(Exceptions, E09SameDayDischargePlannedButKept) {
  story_.ReadyKnee("K-1");
  story_.TakeOrder("R-1",
                   "discharge_date { year: 2026 month: 5 day: 14 } "
                   "needed_date { year: 2026 month: 5 day: 14 }");
  story_.HandOver("2026-05-13 12:00", "K-1", "R-1");
  story_.Tell("2026-05-15 10:00",
              "patient_stay_noted { order: 'R-1' stay: STAY_HOME because: 'kept over night' }");
  story_.Now("2026-05-16 12:00");
  const v1::DayLedger ledger = story_.Days("R-1").ledgers(0);
  EXPECT_EQ(DayOf(ledger, "2026-05-14"), "IDLE BEFORE_DISCHARGE");
  EXPECT_EQ(DayText(ledger.service_date()), "2026-05-15");
  EXPECT_EQ(story_.Order("R-1").failed_pickup_count(), 0);
  EXPECT_EQ(story_.QuestionCount("orders/R-1"), 0);
}

// Not billable as use at home until the patient is home.
TEST_F(Exceptions, E10DischargedToAFacility) {
  story_.ReadyKnee("K-1");
  story_.TakeOrder("R-1");
  story_.HandOver("2026-05-16 12:00", "K-1", "R-1");
  story_.Tell("2026-05-16 15:00", "patient_stay_noted { order: 'R-1' stay: STAY_FACILITY }");
  story_.Now("2026-05-20 12:00");
  const v1::DayLedger ledger = story_.Days("R-1").ledgers(0);
  EXPECT_EQ(ledger.covered_count(), 0);
  EXPECT_EQ(ledger.away_count(), 5);
  EXPECT_EQ(DayOf(ledger, "2026-05-17"), "AWAY IN_FACILITY");
  EXPECT_THAT(MissingText(story_.Missing("R-1"), true),
              Contains("day of the discharge to the home, as it was, from the facility"));
  story_.Tell("2026-05-25 11:00", "patient_stay_noted { order: 'R-1' stay: STAY_HOME }");
  story_.Now("2026-05-26 12:00");
  EXPECT_EQ(DayText(story_.Days("R-1").ledgers(0).service_date()), "2026-05-25");
}

// Hospital days are left out, the unit stays, and the due date does not move.
TEST_F(Exceptions, E11ReadmittedDuringTheRental) {
  story_.ReadyKnee("K-1");
  story_.TakeOrder("R-1");
  story_.UsualRental();
  const std::string before = EndsText(story_.Ends("R-1"));
  story_.Tell("2026-05-20 08:00", "patient_stay_noted { order: 'R-1' stay: STAY_HOSPITAL }");
  story_.Tell("2026-05-23 15:00", "patient_stay_noted { order: 'R-1' stay: STAY_HOME }");
  story_.Now("2026-05-25 12:00");
  const v1::DayLedger ledger = story_.Days("R-1").ledgers(0);
  EXPECT_EQ(DayOf(ledger, "2026-05-19"), "COVERED WITHIN_COVER");
  EXPECT_EQ(DayOf(ledger, "2026-05-20"), "AWAY IN_HOSPITAL");
  EXPECT_EQ(DayOf(ledger, "2026-05-23"), "COVERED WITHIN_COVER");
  EXPECT_EQ(ledger.away_count(), 3);
  EXPECT_EQ(story_.Unit("K-1").custody(), v1::CUSTODY_HOME);
  EXPECT_EQ(EndsText(story_.Ends("R-1")), before);
  EXPECT_THAT(before, HasSubstr("prescription_end 2026-06-05, due; cover_end 2026-06-04"));
}

// Two units, two sides, two lines, one visit; when one unit may not go, neither goes.
TEST_F(Exceptions, E12BilateralOnTheSameDay) {
  story_.ReadyKnee("K-1");
  story_.ReadyKnee("K-2");
  story_.TakeOrder("R-1");
  story_.TakeOrder("R-2",
                   "side: SIDE_RIGHT linked_order: 'R-1' order_link: ORDER_LINK_SECOND_SIDE");
  story_.Tell("2026-05-15 08:00",
              "hold_placed { unit: 'K-2' kind: HOLD_KIND_OTHER reason: 'noise' }");
  const std::vector<std::string> visit = {Story::HandedOver("K-1", "R-1"),
                                          Story::HandedOver("K-2", "R-2")};
  EXPECT_THAT(story_.Refused("2026-05-16 12:00", visit), ElementsAre("ON_HOLD"));
  EXPECT_EQ(story_.Order("R-1").status(), v1::ORDER_STATUS_OPEN);
  story_.Tell("2026-05-16 12:10",
              "hold_lifted { unit: 'K-2' kind: HOLD_KIND_OTHER outcome: 'strap was loose' }");
  for (const char* order : {"R-1", "R-2"}) {
    story_.Tell("2026-05-16 12:20",
                std::string("use_noted { order: '") + order + "' change: USE_CHANGE_STARTED }");
    story_.Tell("2026-05-16 12:21",
                std::string("patient_stay_noted { order: '") + order + "' stay: STAY_HOME }");
  }
  story_.Tell("2026-05-16 12:30", visit);
  story_.PickUp("2026-06-04 12:00", "K-1", "R-1");
  story_.PickUp("2026-06-04 12:05", "K-2", "R-2");
  const v1::ReportClaimsResponse claims = story_.Claims();
  ASSERT_EQ(claims.claims_size(), 2);
  EXPECT_EQ(claims.claims(0).modifiers(), "RR LT");
  EXPECT_EQ(claims.claims(1).modifiers(), "RR RT");
  EXPECT_EQ(claims.claims(0).unit_count(), 20);
}

// The same unit stays: a new order, a new side, a new clock, without cleaning and without delivery.
TEST_F(Exceptions, E13StagedSecondSideWhileTheFirstIsOut) {
  story_.ReadyKnee("K-1");
  story_.TakeOrder("R-1");
  story_.UsualRental();
  story_.Tell("2026-06-01 09:00",
              "order_taken { order: 'R-2' details { patient: 'P-1' prescriber: 'D-1' "
              "branch: 'north' device_class: 'knee' side: SIDE_RIGHT procedure: 'knee replacement' "
              "surgery_date { year: 2026 month: 6 day: 8 } length_of_need_days: 21 "
              "motion { extension_deg: 0 flexion_deg: 60 } payer: 'federal' "
              "linked_order: 'R-1' order_link: ORDER_LINK_SECOND_SIDE } }");
  const std::string carried =
      "carried_over { unit: 'K-1' from_order: 'R-1' to_order: 'R-2' patient: 'P-1' "
      "unit_model: 'knee-a' unit_side: SIDE_RIGHT signed_by: 'patient' motion { flexion_deg: 40 } "
      "}";
  std::string other_patient = carried;
  other_patient.replace(other_patient.find("'P-1'"), 5, "'P-9'");
  EXPECT_THAT(story_.Refused("2026-06-10 10:00", other_patient),
              ElementsAre("OTHER_PATIENT", "OTHER_PATIENT"));
  story_.Tell("2026-06-10 11:00", "patient_stay_noted { order: 'R-2' stay: STAY_HOME }");
  story_.Tell("2026-06-10 12:00", carried);
  story_.Now("2026-06-12 12:00");
  EXPECT_EQ(story_.Order("R-1").status(), v1::ORDER_STATUS_CLOSED);
  EXPECT_EQ(story_.Order("R-2").status(), v1::ORDER_STATUS_ON_RENT);
  EXPECT_EQ(story_.Order("R-2").motion_set().flexion_deg(), 40);
  EXPECT_EQ(story_.Unit("K-1").order(), "R-2");
  EXPECT_EQ(story_.Unit("K-1").side(), v1::SIDE_RIGHT);
  EXPECT_EQ(story_.Unit("K-1").custody(), v1::CUSTODY_HOME);
  EXPECT_EQ(DayText(story_.Days("R-1").ledgers(0).cover_through_date()), "2026-06-04");
  EXPECT_EQ(DayText(story_.Days("R-2").ledgers(0).cover_through_date()), "2026-06-29");
  EXPECT_EQ(DayText(story_.Days("R-2").ledgers(0).service_date()), "2026-06-10");
}

// A new rental beside the old one; the clocks do not mix.
TEST_F(Exceptions, E14SecondSideAfterReturn) {
  story_.ReadyKnee("K-1");
  story_.ReadyKnee("K-2");
  story_.TakeOrder("R-1");
  story_.UsualRental();
  story_.PickUp("2026-06-05 12:00", "K-1", "R-1");
  const int first = story_.Days("R-1").ledgers(0).covered_count();
  story_.Tell("2026-07-01 09:00",
              "order_taken { order: 'R-2' details { patient: 'P-1' prescriber: 'D-1' "
              "branch: 'north' device_class: 'knee' side: SIDE_RIGHT procedure: 'knee replacement' "
              "surgery_date { year: 2026 month: 7 day: 6 } length_of_need_days: 21 "
              "motion { extension_deg: 0 flexion_deg: 90 } payer: 'federal' "
              "linked_order: 'R-1' order_link: ORDER_LINK_SECOND_SIDE } }");
  story_.Tell("2026-07-08 11:00", "patient_stay_noted { order: 'R-2' stay: STAY_HOME }");
  story_.HandOver("2026-07-08 12:00", "K-2", "R-2");
  story_.Now("2026-07-10 12:00");
  EXPECT_EQ(story_.Days("R-1").ledgers(0).covered_count(), first);
  EXPECT_EQ(story_.Days("R-2").ledgers(0).covered_count(), 3);
  const v1::LinkedOrder linked = story_.Ends("R-2").linked(0);
  EXPECT_EQ(linked.side(), v1::SIDE_LEFT);
  EXPECT_EQ(DayText(linked.from_date()), "2026-05-16");
  EXPECT_EQ(DayText(linked.through_date()), "2026-06-05");
}

// The order stops until somebody is named who confirmed; another change asks again.
TEST_F(Exceptions, E15SideContradictsTheProcedureOrThePatient) {
  story_.ReadyKnee("K-1");
  story_.TakeOrder("R-1", "procedure: 'right knee replacement' patient_side: SIDE_RIGHT");
  EXPECT_THAT(
      story_.Refused("2026-05-03 09:00", "unit_held_for_order { unit: 'K-1' order: 'R-1' }"),
      ElementsAre("ORDER_CONTRADICTS"));
  EXPECT_THAT(story_.Refused("2026-05-16 12:00", Story::HandedOver("K-1", "R-1")),
              ElementsAre("ORDER_CONTRADICTS"));
  EXPECT_THAT(MissingText(story_.Missing("R-1"), false),
              ElementsAre("a confirmation of the side: the order says left, but the patient says "
                          "right, the procedure's words name right, from the prescriber"));
  story_.Tell("2026-05-16 12:10",
              "details_confirmed { order: 'R-1' kind: DETAIL_KIND_SIDE confirmed_by: 'D-1' "
              "how: 'rang the office: left it is' }");
  EXPECT_TRUE(story_.Missing("R-1").enough_to_go_out());
  EXPECT_EQ(story_.Order("R-1").confirmations(0).confirmed_by(), "D-1");
  story_.Tell("2026-05-16 12:15",
              "order_changed { order: 'R-1' details { procedure_code: 'shoulder-repair' } }");
  EXPECT_THAT(story_.Refused("2026-05-16 12:20", Story::HandedOver("K-1", "R-1")),
              ElementsAre("ORDER_CONTRADICTS"));
  story_.Tell("2026-05-16 12:25",
              "order_changed { order: 'R-1' details { procedure_code: '27447' } }");
  story_.HandOver("2026-05-16 12:30", "K-1", "R-1");
  EXPECT_EQ(story_.Order("R-1").status(), v1::ORDER_STATUS_ON_RENT);
}

}  // namespace
}  // namespace ferrule::testing
