#include "core/fold/reversals.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <string>

#include "tests/support/folded_depot.h"

namespace ferrule::fold {
namespace {

using ::testing::ElementsAre;
using testing::FoldedDepot;
using ::testing::IsEmpty;

std::string Reverse(const std::string& id, const std::string& subjects = "subjects: 'units/K-1'") {
  return "reversal { fact { entry_id: '" + id + "' } " + subjects + " because: 'mistyped' }";
}

// What the folds make of a unit, without what is counted.
std::string Content(const FoldedDepot& d) { return d.Unit("K-1").SerializeAsString(); }

TEST(Reversal, LeavesTheUnitAsIfTheFactHadNotHappened) {
  FoldedDepot d;
  d.ReadyKnee();
  const std::string before = Content(d);
  const std::string id = d.Tell(20, "repair_opened { unit: 'K-1' complaint: 'stops' }");
  EXPECT_NE(Content(d), before);
  d.Tell(30, Reverse(id));
  EXPECT_EQ(Content(d), before);
  const v1::SubjectState state = d.State("units/K-1");
  EXPECT_THAT(testing::Reasons(state.questions()), IsEmpty());
  EXPECT_EQ(state.awaited_size(), 0);
}

TEST(Reversal, DatedBeforeItsFactCountsAllTheSame) {
  FoldedDepot d;
  d.ReadyKnee();
  const std::string before = Content(d);
  const std::string id = d.Tell(20, "repair_opened { unit: 'K-1' complaint: 'stops' }");
  d.Tell(15, Reverse(id));
  EXPECT_EQ(Content(d), before);
  EXPECT_THAT(d.Questions("units/K-1"), IsEmpty());
}

TEST(Reversal, TakesItsFactsQuestionsWithIt) {
  FoldedDepot d;
  d.ReadyKnee();
  const std::string id = d.Tell(20, "unit_moved { unit: 'K-1' to_place: 'nowhere' }");
  EXPECT_THAT(d.Questions("units/K-1"), ElementsAre("PLACE_UNKNOWN"));
  d.Tell(30, Reverse(id));
  EXPECT_THAT(d.Questions("units/K-1"), IsEmpty());
}

TEST(Reversal, BringsToLightWhatItsFactHadSettled) {
  FoldedDepot d;
  d.Receive("K-1", 0);
  d.Clean("K-1", 6);
  const std::string erased = d.Tell(7, "memory_erased { unit: 'K-1' method: 'menu' }");
  d.Inspect("K-1", 8);
  d.Move("K-1", 9, "shelf");
  d.HandOver("K-1", "R-1", 20);
  EXPECT_THAT(d.Questions("units/K-1"), IsEmpty());
  d.Tell(30, Reverse(erased));
  EXPECT_THAT(d.Questions("units/K-1"), ElementsAre("MEMORY_NOT_ERASED"));
}

TEST(Reversal, OfAnUnknownFactIsAskedUntilTheFactArrives) {
  FoldedDepot d;
  d.ReadyKnee();
  const std::string before = Content(d);
  d.Tell(30, Reverse("e1006"));
  v1::SubjectState state = d.State("units/K-1");
  ASSERT_THAT(testing::Reasons(state.questions()), ElementsAre("REVERSED_FACT_UNKNOWN"));
  EXPECT_EQ(testing::ValueOf(state.questions(0), "item"), "e1006#0");
  ASSERT_EQ(state.awaited_size(), 1);
  EXPECT_EQ(state.awaited(0).entry_id(), "e1006");
  ASSERT_EQ(d.Tell(20, "repair_opened { unit: 'K-1' complaint: 'stops' }"), "e1006");
  state = d.State("units/K-1");
  EXPECT_THAT(testing::Reasons(state.questions()), IsEmpty());
  EXPECT_EQ(state.awaited_size(), 0);
  EXPECT_EQ(Content(d), before);
}

TEST(Reversal, OfTwoTheFirstCountsAndTheSecondIsAsked) {
  FoldedDepot d;
  d.ReadyKnee();
  const std::string id = d.Tell(20, "repair_opened { unit: 'K-1' complaint: 'stops' }");
  d.Tell(40, Reverse(id));
  d.Tell(30, Reverse(id));
  const v1::SubjectState state = d.State("units/K-1");
  ASSERT_THAT(testing::Reasons(state.questions()), ElementsAre("ALREADY_REVERSED"));
  EXPECT_EQ(time::ToMicros(state.questions(0).time()), FoldedDepot::Us(40));
  EXPECT_EQ(time::ToMicros(state.questions(0).evidence(0).time()), FoldedDepot::Us(30));
}

TEST(Reversal, CannotBeReversed) {
  FoldedDepot d;
  d.ReadyKnee();
  const std::string before = Content(d);
  const std::string id = d.Tell(20, "repair_opened { unit: 'K-1' complaint: 'stops' }");
  const std::string reversal = d.Tell(30, Reverse(id));
  d.Tell(40, Reverse(reversal));
  EXPECT_THAT(d.Questions("units/K-1"), ElementsAre("REVERSAL_OF_REVERSAL"));
  EXPECT_EQ(Content(d), before) << "the first reversal stands";
}

TEST(Reversal, NamesExactlyTheSubjectsOfItsFact) {
  FoldedDepot d;
  d.ReadyKnee();
  d.TakeOrder("R-1", 0);
  const std::string id = d.Tell(20, "unit_held_for_order { unit: 'K-1' order: 'R-1' }");
  d.Tell(30, Reverse(id));
  const v1::SubjectState state = d.State("units/K-1");
  ASSERT_THAT(testing::Reasons(state.questions()), ElementsAre("REVERSAL_SUBJECTS_DIFFER"));
  EXPECT_THAT(
      testing::ValueOf(state.questions(0), "expected"),
      ::testing::AllOf(::testing::HasSubstr("units/K-1"), ::testing::HasSubstr("orders/R-1")));

  FoldedDepot whole;
  whole.ReadyKnee();
  whole.TakeOrder("R-1", 0);
  const std::string held = whole.Tell(20, "unit_held_for_order { unit: 'K-1' order: 'R-1' }");
  whole.Tell(30, Reverse(held, "subjects: 'orders/R-1' subjects: 'units/K-1'"));
  EXPECT_THAT(whole.Questions("units/K-1"), IsEmpty());
  EXPECT_THAT(whole.Questions("orders/R-1"), IsEmpty());
  EXPECT_EQ(whole.Order("R-1").status(), v1::ORDER_STATUS_OPEN);
}

TEST(Reversal, OfAnAnswerOpensTheQuestionAgain) {
  FoldedDepot d;
  d.ReadyKnee();
  const std::string moved = d.Tell(20, "unit_moved { unit: 'K-1' to_place: 'nowhere' }");
  const std::string answer =
      d.Tell(30, "question_answered { subject: 'units/K-1' fact { entry_id: '" + moved +
                     "' } rule: REASON_PLACE_UNKNOWN explanation: 'new shelf' }");
  EXPECT_THAT(d.Questions("units/K-1"), IsEmpty());
  d.Tell(40, Reverse(answer));
  EXPECT_THAT(d.Questions("units/K-1"), ElementsAre("PLACE_UNKNOWN"));
}

TEST(Answer, ToAFactThatIsNotKnownIsAskedUntilItArrives) {
  FoldedDepot d;
  d.ReadyKnee();
  d.Tell(30,
         "question_answered { subject: 'units/K-1' fact { entry_id: 'e1006' } "
         "rule: REASON_PLACE_UNKNOWN explanation: 'new shelf' }");
  v1::SubjectState state = d.State("units/K-1");
  ASSERT_THAT(testing::Reasons(state.questions()), ElementsAre("QUESTION_NOT_OPEN"));
  EXPECT_EQ(testing::ValueOf(state.questions(0), "item"), "e1006#0");
  EXPECT_EQ(state.awaited_size(), 1);
  ASSERT_EQ(d.Tell(40, "unit_moved { unit: 'K-1' to_place: 'nowhere' }"), "e1006");
  state = d.State("units/K-1");
  EXPECT_THAT(testing::Reasons(state.questions()), IsEmpty());
  EXPECT_EQ(state.awaited_size(), 0);
}

}  // namespace
}  // namespace ferrule::fold
