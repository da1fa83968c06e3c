// Tests core/board/agenda_report.cc.
#include "service/papers_methods.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <memory>
#include <string>

#include "ferrule/v1/papers_service.grpc.pb.h"
#include "tests/service/story.h"

namespace ferrule::testing {
namespace {

using ::testing::ElementsAre;
using ::testing::HasSubstr;
using ::testing::IsEmpty;

// A knee in a home since 16 May 2026, due on 4 June by its cover.
class PapersMethods : public ::testing::Test {
 protected:
  PapersMethods() : papers_(v1::PapersService::NewStub(story_.depot().Channel(Transport::kTcp))) {
    story_.ReadyKnee("K-1");
    story_.TakeOrder("R-1");
    story_.UsualRental();
  }

  v1::GetAgendaResponse Agenda(const std::string& now, const std::string& branch = "north") {
    story_.Now(now);
    grpc::ClientContext context;
    v1::GetAgendaRequest request;
    request.set_branch(branch);
    v1::GetAgendaResponse response;
    const grpc::Status status = papers_->GetAgenda(&context, request, &response);
    EXPECT_TRUE(status.ok()) << status.error_message();
    return response;
  }
  grpc::Status Paper(v1::PaperKind kind, const std::string& name, v1::GetPaperResponse* response) {
    grpc::ClientContext context;
    v1::GetPaperRequest request;
    request.set_kind(kind);
    request.set_name(name);
    request.set_branch("north");
    return papers_->GetPaper(&context, request, response);
  }
  v1::AssessDeliveryResponse Delivery(const std::string& order) {
    grpc::ClientContext context;
    v1::AssessDeliveryRequest request;
    request.set_name("orders/" + order);
    v1::AssessDeliveryResponse response;
    EXPECT_TRUE(papers_->AssessDelivery(&context, request, &response).ok());
    return response;
  }

  Story story_;
  std::unique_ptr<v1::PapersService::Stub> papers_;
};

int Calls(const v1::GetAgendaResponse& agenda) {
  int calls = 0;
  for (const v1::AgendaItem& item : agenda.items()) calls += item.kind() == v1::AGENDA_KIND_CALL;
  return calls;
}

TEST_F(PapersMethods, TheFollowUpLeavesTheAgendaWhenSomebodyWasReached) {
  const v1::GetAgendaResponse before = Agenda("2026-05-17 09:00");
  ASSERT_EQ(Calls(before), 1);
  EXPECT_EQ(before.items(before.items_size() - 1).call(), v1::CALL_KIND_FOLLOW_UP);
  EXPECT_GT(before.as_of_sequence(), 0);
  story_.Tell("2026-05-17 10:00",
              "call_made { order: 'R-1' kind: CALL_KIND_FOLLOW_UP outcome: CALL_OUTCOME_REACHED }");
  EXPECT_EQ(Calls(Agenda("2026-05-17 11:00")), 0);
}

TEST_F(PapersMethods, NobodyRingsAfterADeath) {
  story_.Tell("2026-05-20 10:00", "patient_stay_noted { order: 'R-1' stay: STAY_DIED }");
  const v1::GetAgendaResponse agenda = Agenda("2026-05-21 09:00");
  EXPECT_EQ(Calls(agenda), 0);
  EXPECT_THAT(agenda.not_rung(), ElementsAre(HasSubstr("R-1: the patient has died")));
}

TEST_F(PapersMethods, ADeliveryIsProvedOnceTheTicketIsBack) {
  EXPECT_THAT(Delivery("R-1").faults(), ElementsAre(v1::DELIVERY_FAULT_NO_TICKET));
  story_.Tell(
      "2026-05-18 08:00",
      "ticket_returned { order: 'R-1' signed_date { year: 2026 month: 5 day: 16 } signed_by: "
      "'spouse' items_described: true legible: true }");
  EXPECT_TRUE(Delivery("R-1").proved());
  EXPECT_THAT(Delivery("R-1").faults(), IsEmpty());
}

TEST_F(PapersMethods, PapersOfAnOrderAndListsOfABranchAreWholePages) {
  for (const v1::PaperKind kind :
       {v1::PAPER_KIND_DELIVERY_TICKET, v1::PAPER_KIND_SET_UP_SHEET, v1::PAPER_KIND_PICKUP_TICKET,
        v1::PAPER_KIND_CALL_LIST, v1::PAPER_KIND_AGENDA}) {
    v1::GetPaperResponse paper;
    const grpc::Status status = Paper(kind, "orders/R-1", &paper);
    ASSERT_TRUE(status.ok()) << status.error_message();
    EXPECT_THAT(paper.html(), HasSubstr("<!doctype html>"));
    EXPECT_THAT(paper.html(), HasSubstr("</html>"));
    EXPECT_THAT(paper.html(), HasSubstr(paper.title()));
  }
}

TEST_F(PapersMethods, WhatIsNotThereIsSaid) {
  v1::GetPaperResponse paper;
  EXPECT_EQ(Paper(v1::PAPER_KIND_SET_UP_SHEET, "orders/R-9", &paper).error_code(),
            grpc::StatusCode::NOT_FOUND);
  EXPECT_EQ(Paper(v1::PAPER_KIND_UNSPECIFIED, "orders/R-1", &paper).error_code(),
            grpc::StatusCode::INVALID_ARGUMENT);
  grpc::ClientContext context;
  v1::GetAgendaRequest request;
  request.set_branch("nowhere");
  v1::GetAgendaResponse agenda;
  const grpc::Status status = papers_->GetAgenda(&context, request, &agenda);
  EXPECT_EQ(status.error_code(), grpc::StatusCode::NOT_FOUND);
  EXPECT_THAT(status.error_message(), HasSubstr("nowhere"));
}

}  // namespace
}  // namespace ferrule::testing
