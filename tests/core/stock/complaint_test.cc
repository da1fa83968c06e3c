#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <string>

#include "tests/support/folded_depot.h"

namespace ferrule::stock {
namespace {

using ::testing::ElementsAre;
using testing::FoldedDepot;
using ::testing::IsEmpty;

constexpr char kReceived[] =
    "complaint_received { complaint: 'B-1' kind: COMPLAINT_KIND_DEVICE subject: 'units/K-1' "
    "branch: "
    "'north' source: COMPLAINT_SOURCE_PATIENT harm: HARM_POSSIBLE words: 'pinched' }";
constexpr char kClosed[] =
    "complaint_closed { complaint: 'B-1' outcome: COMPLAINT_OUTCOME_UPHELD done: 'cover fitted' "
    "investigator: 'lead-eve' }";

TEST(Complaint, IsReceivedAnsweredAndClosed) {
  FoldedDepot d;
  d.Tell(0, kReceived);
  d.Tell(60, "complaint_answered { complaint: 'B-1' how: 'telephone' }");
  d.Tell(120, "complaint_answered { complaint: 'B-1' how: 'letter' }");
  d.Tell(180, kClosed);
  const v1::ComplaintState complaint = d.State("complaints/B-1").complaint();
  EXPECT_EQ(complaint.subject(), "units/K-1");
  EXPECT_EQ(complaint.answered_how(), "telephone");
  EXPECT_EQ(complaint.answer_count(), 2);
  EXPECT_EQ(complaint.outcome(), v1::COMPLAINT_OUTCOME_UPHELD);
  EXPECT_EQ(complaint.investigator(), "lead-eve");
  EXPECT_THAT(d.Questions("complaints/B-1"), IsEmpty());
}

TEST(Complaint, IsNotClosedWithoutAnAnswerUnlessWithdrawn) {
  FoldedDepot d;
  d.Tell(0, kReceived);
  d.Tell(60, kClosed);
  EXPECT_THAT(d.Questions("complaints/B-1"), ElementsAre("COMPLAINT_NOT_ANSWERED"));
  d.Tell(0,
         "complaint_received { complaint: 'B-2' kind: COMPLAINT_KIND_VISIT branch: 'north' source: "
         "COMPLAINT_SOURCE_PAYER harm: HARM_NONE words: 'w' }");
  d.Tell(60,
         "complaint_closed { complaint: 'B-2' outcome: COMPLAINT_OUTCOME_WITHDRAWN done: 'none' }");
  EXPECT_THAT(d.Questions("complaints/B-2"), IsEmpty());
}

TEST(Complaint, AsksAboutWhatDoesNotFit) {
  FoldedDepot d;
  d.Tell(0, "complaint_answered { complaint: 'B-1' }");
  EXPECT_THAT(d.Questions("complaints/B-1"), ElementsAre("COMPLAINT_UNKNOWN"));
  d.Tell(1, kReceived);
  d.Tell(2, kReceived);
  d.Tell(3, "complaint_answered { complaint: 'B-1' }");
  d.Tell(4, kClosed);
  d.Tell(5, kClosed);
  EXPECT_THAT(d.Questions("complaints/B-1"),
              ElementsAre("COMPLAINT_UNKNOWN", "COMPLAINT_NUMBER_IN_USE", "COMPLAINT_CLOSED"));
  d.Tell(6,
         "complaint_received { complaint: 'B-3' kind: COMPLAINT_KIND_VISIT branch: 'nowhere' "
         "source: COMPLAINT_SOURCE_PAYER harm: HARM_NONE words: 'w' }");
  EXPECT_THAT(d.Questions("complaints/B-3"), ElementsAre("BRANCH_UNKNOWN"));
}

}  // namespace
}  // namespace ferrule::stock
