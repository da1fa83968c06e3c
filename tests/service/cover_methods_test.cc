// Tests core/board/corrections.cc, core/board/cover_reports.cc.
#include "service/cover_methods.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/service/story.h"

namespace ferrule::testing {
namespace {

using ::testing::ElementsAre;
using ::testing::HasSubstr;

// The published example of a contractor (National Government Services, education page "Continuous
// Passive Motion Devices"), moved from 2009-06-01 to 2026-06-01, which leaves every distance as it
// is: 25 days, and 18 and 7, 17 and 8, 21 and 4 by the three readings (published_test.cc says where
// each is published).
TEST(CoverMethods, PublishedExampleThroughTheService) {
  Story story;
  story.ReadyKnee("K-1");
  story.TakeOrder("R-1",
                  "surgery_date { year: 2026 month: 6 day: 1 } "
                  "discharge_date { year: 2026 month: 6 day: 5 } length_of_need_days: 28");
  story.Tell("2026-06-02 16:00", "use_noted { order: 'R-1' change: USE_CHANGE_STARTED }");
  story.Tell("2026-06-05 11:00", "patient_stay_noted { order: 'R-1' stay: STAY_HOME }");
  story.HandOver("2026-06-05 12:00", "K-1", "R-1");
  story.Tell("2026-06-29 20:00", "use_noted { order: 'R-1' change: USE_CHANGE_STOPPED }");
  story.PickUp("2026-06-30 10:00", "K-1", "R-1");
  const v1::GetDayLedgerResponse days = story.Days("R-1");
  ASSERT_EQ(days.ledgers_size(), 3);
  const std::pair<int, int> expected[] = {{18, 7}, {17, 8}, {21, 4}};
  for (int i = 0; i < 3; ++i) {
    EXPECT_EQ(days.ledgers(i).covered_count(), expected[i].first) << i;
    EXPECT_EQ(days.ledgers(i).not_covered_count(), expected[i].second) << i;
  }
  EXPECT_EQ(days.differences_size(), 4);
  EXPECT_EQ(days.ledgers(0).idle_count(), 1);  // the day of the pick-up
  const v1::ReportClaimsResponse claims = story.Claims();
  ASSERT_EQ(claims.claims_size(), 1);
  const v1::ClaimRow& claim = claims.claims(0);
  EXPECT_EQ(claim.unit_count(), 25);
  EXPECT_EQ(claim.covered_count(), 18);
  EXPECT_EQ(claim.amount_minor(), 18 * 2500);
  EXPECT_EQ(DayText(claim.from_date()), "2026-06-05");
  EXPECT_EQ(DayText(claim.through_date()), "2026-06-29");
  EXPECT_EQ(DayText(claim.application_date()), "2026-06-02");
  EXPECT_EQ(claim.billing_code(), "E0935");
}

// Prescription, authorisation, cover and agreed pick-up end on four days; the policy says which one
// is due, and each says by how much it is over.
TEST(CoverMethods, FourEndsApart) {
  Story story;
  story.ReadyKnee("K-1");
  story.TakeOrder("R-1");
  story.UsualRental();
  story.Tell("2026-05-17 09:00",
             "authorisation_noted { order: 'R-1' number: 'PA-1' "
             "from_date { year: 2026 month: 5 day: 14 } "
             "through_date { year: 2026 month: 6 day: 2 } }");
  story.Now("2026-06-06 12:00");
  EXPECT_EQ(EndsText(story.Ends("R-1")),
            "prescription_end 2026-06-05, 1 over; authorisation_end 2026-06-02, due, 4 over; "
            "cover_end 2026-06-04, 2 over");
  story.Tell("2026-06-06 13:00",
             "pickup_agreed { order: 'R-1' pickup_date { year: 2026 month: 6 day: 8 } }");
  EXPECT_EQ(EndsText(story.Ends("R-1")),
            "agreed_pickup 2026-06-08, due; prescription_end 2026-06-05, 1 over; "
            "authorisation_end 2026-06-02, 4 over; cover_end 2026-06-04, 2 over");
}

// A correction learned after a bill changes nothing of what was reported, and shows as a difference
// with its cause.
TEST(CoverMethods, CorrectionAfterABill) {
  Story story;
  story.ReadyKnee("K-1");
  story.TakeOrder("R-1");
  story.UsualRental();
  story.Now("2026-06-01 08:00");
  story.Tell("2026-06-01 09:00",
             "days_billed { order: 'R-1' claim: 'C-1' "
             "from_date { year: 2026 month: 5 day: 16 } "
             "through_date { year: 2026 month: 5 day: 31 } unit_count: 16 amount_minor: 40000 }");
  EXPECT_THAT(story.Corrections().corrections(), ::testing::IsEmpty());
  EXPECT_THAT(story.Refused("2026-06-01 09:30",
                            "days_billed { order: 'R-1' claim: 'C-2' "
                            "from_date { year: 2026 month: 5 day: 31 } "
                            "through_date { year: 2026 month: 6 day: 1 } }"),
              ElementsAre("DAYS_BILLED_ALREADY"));
  const std::string before = story.Days("R-1", "2026-06-01 10:00").SerializeAsString();
  // Only now it is told that the patient was in the hospital for three days of May.
  story.TellLate("2026-05-20 08:00", "2026-06-10 09:00",
                 "patient_stay_noted { order: 'R-1' stay: STAY_HOSPITAL }");
  story.TellLate("2026-05-23 15:00", "2026-06-10 09:10",
                 "patient_stay_noted { order: 'R-1' stay: STAY_HOME }");
  EXPECT_EQ(story.Days("R-1", "2026-06-01 10:00").SerializeAsString(), before);
  const v1::ReportCorrectionsResponse corrections = story.Corrections("R-1");
  ASSERT_EQ(corrections.corrections_size(), 1);
  const v1::Correction& correction = corrections.corrections(0);
  EXPECT_EQ(correction.claim(), "C-1");
  EXPECT_EQ(correction.covered_then_count(), 16);
  EXPECT_EQ(correction.covered_now_count(), 13);
  EXPECT_EQ(correction.amount_difference_minor(), -3 * 2500);
  ASSERT_EQ(correction.days_size(), 3);
  EXPECT_EQ(DayText(correction.days(0).date()), "2026-05-20");
  EXPECT_EQ(correction.days(0).reason_now(), v1::DAY_REASON_IN_HOSPITAL);
  EXPECT_THAT(correction.days(0).cause_text(), HasSubstr("hospital"));
  EXPECT_EQ(correction.days(0).cause().actor(), "clerk-cy");
  // Stated anew, the correction is what stands.
  story.Tell("2026-06-11 09:00",
             "days_billed { order: 'R-1' claim: 'C-1b' correction: true "
             "from_date { year: 2026 month: 5 day: 16 } "
             "through_date { year: 2026 month: 5 day: 31 } unit_count: 13 amount_minor: 32500 }");
  EXPECT_THAT(story.Corrections("R-1").corrections(), ::testing::IsEmpty());
}

// What the month was at its close is asked for as known then.
TEST(CoverMethods, OpenDaysAtTheEndOfAMonthAsKnownAtTheClose) {
  Story story;
  story.ReadyKnee("K-1");
  story.TakeOrder("R-1");
  story.UsualRental();
  story.Now("2026-06-15 12:00");
  const v1::ReportClaimsResponse close = story.Claims("2026-05-31 23:00", true);
  ASSERT_EQ(close.claims_size(), 1);
  EXPECT_EQ(close.claims(0).unit_count(), 16);
  EXPECT_EQ(story.Claims("", true).claims(0).unit_count(), 31);
  EXPECT_EQ(story.Claims("", false).claims_size(), 0);
}

TEST(CoverMethods, RefusedClaimsNameWhatIsMissingAndWhoSuppliesIt) {
  Story story;
  story.ReadyKnee("K-1");
  story.TakeOrder("R-1");
  story.HandOver("2026-05-16 12:00", "K-1", "R-1");
  story.PickUp("2026-06-01 12:00", "K-1", "R-1");
  const v1::ReportClaimsResponse claims = story.Claims();
  EXPECT_EQ(claims.claims_size(), 0);
  ASSERT_EQ(claims.refused_size(), 1);
  ASSERT_EQ(claims.refused(0).missing_size(), 2);
  EXPECT_EQ(claims.refused(0).missing(0).item(), "day on which the device was first used");
  EXPECT_EQ(claims.refused(0).missing(1).supplier(), "the facility");
  EXPECT_THAT(story.Refused("2026-06-02 09:00",
                            "days_billed { order: 'R-1' claim: 'C-1' "
                            "from_date { year: 2026 month: 5 day: 16 } "
                            "through_date { year: 2026 month: 6 day: 1 } }"),
              ElementsAre("NOT_ENOUGH_TO_BILL"));
}

// A partial replacement is found in theatre: the biller sees it before anything is delivered.
TEST(CoverMethods, ProcedureThatThePayerDoesNotPayFor) {
  Story story;
  story.ReadyKnee("K-1");
  story.TakeOrder("R-1");
  story.UsualRental();
  story.Tell("2026-05-17 09:00",
             "order_changed { order: 'R-1' details { procedure_code: 'partial' } }");
  story.Now("2026-05-20 12:00");
  EXPECT_EQ(DayOf(story.Days("R-1").ledgers(0), "2026-05-18"), "NOT_COVERED NOT_PAID_FOR");
}

TEST(CoverMethods, WrongNamesAndDaysAreToldApart) {
  Story story;
  story.TakeOrder("R-1");
  const auto stub = v1::CoverService::NewStub(story.depot().Channel(Transport::kTcp));
  v1::GetDayLedgerRequest request;
  v1::GetDayLedgerResponse response;
  const auto ask = [&](const std::string& name) {
    request.set_name(name);
    grpc::ClientContext context;
    return stub->GetDayLedger(&context, request, &response);
  };
  EXPECT_EQ(ask("orders/R-404").error_code(), grpc::StatusCode::NOT_FOUND);
  EXPECT_EQ(ask("units/K-1").error_code(), grpc::StatusCode::INVALID_ARGUMENT);
  EXPECT_TRUE(ask("orders/R-1").ok());
  request.mutable_through_date()->set_year(2026);
  EXPECT_EQ(ask("orders/R-1").error_code(), grpc::StatusCode::INVALID_ARGUMENT);
  v1::ReportClaimsRequest claims;
  claims.set_branch("nowhere");
  v1::ReportClaimsResponse claimed;
  grpc::ClientContext context;
  EXPECT_EQ(stub->ReportClaims(&context, claims, &claimed).error_code(),
            grpc::StatusCode::NOT_FOUND);
}

}  // namespace
}  // namespace ferrule::testing
