// Exceptions of the trade, 16, 22 and 29 to 32 of the depot's list: what a delivery and its papers
// make of cover and claim, and of a home that is not safe, each told to a real service over a real
// channel.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <memory>
#include <string>
#include <vector>

#include "core/fact/words.h"
#include "ferrule/v1/depot_service.grpc.pb.h"
#include "ferrule/v1/papers_service.grpc.pb.h"
#include "tests/service/story.h"

namespace ferrule::testing {
namespace {

using ::testing::Contains;
using ::testing::HasSubstr;
using ::testing::Not;

class Exceptions : public ::testing::Test {
 protected:
  Exceptions() : papers_(v1::PapersService::NewStub(story_.depot().Channel(Transport::kTcp))) {
    story_.ReadyKnee("K-1");
  }
  std::string Day(const std::string& day) {
    return DayOf(story_.Days("R-1", "", "2026-06-30").ledgers(0), day);
  }
  v1::AssessDeliveryResponse Delivery() {
    grpc::ClientContext context;
    v1::AssessDeliveryRequest request;
    request.set_name("orders/R-1");
    v1::AssessDeliveryResponse response;
    const grpc::Status status = papers_->AssessDelivery(&context, request, &response);
    EXPECT_TRUE(status.ok()) << status.error_message();
    return response;
  }
  std::string Paper(v1::PaperKind kind) {
    grpc::ClientContext context;
    v1::GetPaperRequest request;
    request.set_kind(kind);
    request.set_name("orders/R-1");
    request.set_branch("north");
    v1::GetPaperResponse response;
    const grpc::Status status = papers_->GetPaper(&context, request, &response);
    EXPECT_TRUE(status.ok()) << status.error_message();
    return response.html();
  }
  v1::GetAgendaResponse Agenda(const std::string& now) {
    story_.Now(now);
    grpc::ClientContext context;
    v1::GetAgendaRequest request;
    request.set_branch("north");
    v1::GetAgendaResponse response;
    const grpc::Status status = papers_->GetAgenda(&context, request, &response);
    EXPECT_TRUE(status.ok()) << status.error_message();
    return response;
  }
  // The lines that ferrule history prints.
  std::vector<std::string> HistoryOf(const std::string& name) {
    grpc::ClientContext context;
    v1::ListHistoryRequest request;
    request.set_name(name);
    v1::ListHistoryResponse response;
    const auto depot = v1::DepotService::NewStub(story_.depot().Channel(Transport::kTcp));
    EXPECT_TRUE(depot->ListHistory(&context, request, &response).ok());
    std::vector<std::string> lines;
    for (const v1::HistoryRow& row : response.rows()) lines.push_back(row.text());
    return lines;
  }
  // All that a crew is given to read: each paper, the agenda, the order.
  std::vector<std::string> WhatACrewReads(const std::string& now) {
    std::vector<std::string> all = {Agenda(now).DebugString(), story_.Order("R-1").DebugString()};
    for (int kind = v1::PaperKind_MIN + 1; kind <= v1::PaperKind_MAX; ++kind) {
      all.push_back(Paper(static_cast<v1::PaperKind>(kind)));
    }
    return all;
  }
  void TicketBack(const std::string& at, int signed_day, const std::string& by) {
    story_.Tell(at, "ticket_returned { order: 'R-1' signed_date { year: 2026 month: 5 day: " +
                        std::to_string(signed_day) + " } " + by +
                        " items_described: true legible: true document: 'scan-1' }");
  }

  Story story_;
  std::unique_ptr<v1::PapersService::Stub> papers_;
};

// Partial instead of total: the payer pays no day of it, and intake sees it before the delivery.
TEST_F(Exceptions, E16ProcedureChangedInTheatre) {
  story_.TakeOrder("R-1", "procedure_code: '27447'");
  story_.Tell("2026-05-14 15:00",
              "order_changed { order: 'R-1' details { procedure: 'partial knee replacement' "
              "procedure_code: 'partial' } }");
  story_.UsualRental();
  EXPECT_EQ(Day("2026-05-20"), "NOT_COVERED NOT_PAID_FOR");
  story_.PickUp("2026-05-30 12:00", "K-1", "R-1");
  EXPECT_EQ(story_.Days("R-1").ledgers(0).covered_count(), 0);
}

// From the boundary on another payer answers: two claims that meet there.
TEST_F(Exceptions, E22PayerChangesDuringTheRental) {
  story_.TakeOrder("R-1");
  story_.UsualRental();
  story_.Tell("2026-05-26 09:00",
              "order_changed { order: 'R-1' details { payer: 'private' "
              "payer_from_date { year: 2026 month: 5 day: 25 } } }");
  story_.PickUp("2026-05-30 12:00", "K-1", "R-1");
  const v1::ReportClaimsResponse claims = story_.Claims();
  ASSERT_EQ(claims.claims_size(), 2);
  EXPECT_EQ(claims.claims(0).payer(), "federal");
  EXPECT_EQ(DayText(claims.claims(0).through_date()), "2026-05-24");
  EXPECT_EQ(claims.claims(1).payer(), "private");
  EXPECT_EQ(DayText(claims.claims(1).from_date()), "2026-05-25");
}

TEST_F(Exceptions, E29ATicketSignedByTheDepotsOwnProvesNothing) {
  story_.TakeOrder("R-1");
  story_.UsualRental();
  TicketBack("2026-05-17 09:00", 16, "signed_by: 'rep' signer_is_of_depot: true");
  EXPECT_FALSE(Delivery().proved());
  EXPECT_THAT(Delivery().faults(), Contains(v1::DELIVERY_FAULT_SIGNED_BY_DEPOT));
  // Cured by another ticket, signed by one who may.
  TicketBack("2026-05-18 09:00", 16, "signed_by: 'spouse'");
  EXPECT_TRUE(Delivery().proved()) << Delivery().ShortDebugString();
}

TEST_F(Exceptions, E30TheDayOnTheTicketRulesAndBothAreShown) {
  story_.TakeOrder("R-1");
  story_.UsualRental();  // handed over on 16 May by the records
  TicketBack("2026-05-18 09:00", 17, "signed_by: 'spouse'");
  const v1::AssessDeliveryResponse delivery = Delivery();
  EXPECT_THAT(delivery.faults(), Contains(v1::DELIVERY_FAULT_OTHER_DATE));
  EXPECT_EQ(DayText(delivery.handed_over_date()), "2026-05-16");
  EXPECT_EQ(DayText(delivery.signed_date()), "2026-05-17");
  EXPECT_EQ(DayText(delivery.service_date()), "2026-05-17");
}

// What was taught and what is left is on the order until a second visit.
TEST_F(Exceptions, E31TeachingThatWasNotPossibleStaysOpen) {
  story_.TakeOrder("R-1");
  story_.UsualRental();
  story_.Tell("2026-05-16 12:30",
              "set_up_done { order: 'R-1' unit: 'K-1' tried_cycle_count: 2 skin: 'intact' "
              "teaching_left: 'no common language; helper comes tomorrow' guide: 'G-1' "
              "guide_version: '2' guide_language: 'es' }");
  ASSERT_EQ(story_.Order("R-1").set_ups_size(), 1);
  EXPECT_FALSE(story_.Order("R-1").set_ups(0).set_up().taught_back());
  EXPECT_THAT(story_.Order("R-1").set_ups(0).set_up().teaching_left(),
              HasSubstr("no common language"));
  story_.Tell("2026-05-17 10:00",
              "set_up_done { order: 'R-1' unit: 'K-1' taught_back: true guide: 'G-1' "
              "guide_version: '2' guide_language: 'es' }");
  EXPECT_TRUE(story_.Order("R-1").set_ups(1).set_up().taught_back());
}

// "PICKUP: ring first, gloves" for each item of the agenda.
std::vector<std::string> ItemsOf(const v1::GetAgendaResponse& agenda) {
  std::vector<std::string> out;
  for (const v1::AgendaItem& item : agenda.items()) {
    out.push_back(v1::AgendaKind_Name(item.kind()).substr(12) + ": " +
                  fact::PrecautionList(item.precautions()));
  }
  return out;
}

constexpr char kBlock[] = "Precautions for whoever goes there";

// Nothing is left; whoever brings it the next time knows what to mind, until it is mended.
TEST_F(Exceptions, E32AnUnsafeOutletIsMindedUntilItIsMended) {
  story_.TakeOrder("R-1");
  for (const v1::PaperKind kind : {v1::PAPER_KIND_DELIVERY_TICKET, v1::PAPER_KIND_SET_UP_SHEET,
                                   v1::PAPER_KIND_PICKUP_TICKET}) {
    EXPECT_THAT(Paper(kind), Not(HasSubstr(kBlock)));
  }
  story_.Tell("2026-05-15 17:00",
              "precautions_noted { order: 'R-1' precautions: [PRECAUTION_NO_OUTLET, "
              "PRECAUTION_RING_FIRST] because: 'sparks at the bedside' }");
  EXPECT_THAT(ItemsOf(Agenda("2026-05-16 07:00")), Contains("DELIVERY: ring first, no outlet"));
  for (const v1::PaperKind kind : {v1::PAPER_KIND_DELIVERY_TICKET, v1::PAPER_KIND_SET_UP_SHEET}) {
    EXPECT_THAT(Paper(kind), HasSubstr(kBlock));
    EXPECT_THAT(Paper(kind), HasSubstr("Plug nothing in there"));
  }
  for (const std::string& read : WhatACrewReads("2026-05-16 07:30")) {
    EXPECT_THAT(read, Not(HasSubstr("sparks")));
  }
  story_.Tell("2026-05-16 08:00",
              "precautions_noted { order: 'R-1' because: 'an electrician mended the outlet' }");
  EXPECT_THAT(ItemsOf(Agenda("2026-05-16 09:00")), Contains("DELIVERY: "));
  for (const std::string& read : WhatACrewReads("2026-05-16 09:30")) {
    EXPECT_THAT(read, Not(HasSubstr(kBlock)));
    EXPECT_THAT(read, Not(HasSubstr("electrician")));
  }
}

// Left with precautions: the pick-up crew is told what to do at whatever step it goes there, and
// nothing more; the reason stays in the ledger.
TEST_F(Exceptions, E32InsectsSeenAtTheDeliveryAreForThePickUpCrewToMind) {
  story_.TakeOrder("R-1");
  story_.UsualRental();
  story_.Tell("2026-05-16 12:30",
              "precautions_noted { order: 'R-1' precautions: [PRECAUTION_GLOVES, "
              "PRECAUTION_BAG_AT_DOOR] because: 'cockroaches behind the stove' }");
  const std::string asked = "gloves, bag at the door";
  EXPECT_THAT(ItemsOf(Agenda("2026-06-08 08:00")), Contains("DUE: " + asked));
  // A call goes to nobody's home.
  EXPECT_THAT(ItemsOf(Agenda("2026-06-08 08:00")), Contains("CALL: "));
  story_.Tell("2026-06-08 09:00",
              "pickup_agreed { order: 'R-1' pickup_date { year: 2026 month: 6 day: 9 } }");
  EXPECT_THAT(ItemsOf(Agenda("2026-06-09 08:00")), Contains("PICKUP: " + asked));
  EXPECT_THAT(Paper(v1::PAPER_KIND_PICKUP_TICKET), HasSubstr(kBlock));
  EXPECT_THAT(Paper(v1::PAPER_KIND_PICKUP_TICKET), HasSubstr("into a closed bag at the door"));
  EXPECT_THAT(Paper(v1::PAPER_KIND_AGENDA), HasSubstr("<td>" + asked + "</td>"));
  story_.Tell("2026-06-09 10:00", "pickup_failed { order: 'R-1' outcome: 'nobody home' }");
  EXPECT_THAT(ItemsOf(Agenda("2026-06-10 08:00")), Contains("LADDER: " + asked));
  for (const std::string& read : WhatACrewReads("2026-06-10 08:30")) {
    EXPECT_THAT(read, Not(HasSubstr("cockroaches")));
  }
  EXPECT_THAT(HistoryOf("orders/R-1"), Contains("precautions for order R-1: " + asked));
}

}  // namespace
}  // namespace ferrule::testing
