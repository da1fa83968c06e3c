#include "core/fold/fold.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <string>

#include "tests/support/folded_depot.h"

namespace ferrule::fold {
namespace {

using ::testing::ElementsAre;
using testing::FoldedDepot;
using ::testing::IsEmpty;

const std::string kSettings(fact::kSettingsName);

std::string Put(const std::string& version, const std::string& from,
                const std::string& more = "currency: 'EUR'") {
  const int64_t s = *time::ParseInstant(from, absl::UTCTimeZone()) / 1'000'000;
  return "settings_put { settings { version: '" + version + "' " + more +
         " } from_time { seconds: " + std::to_string(s) + " } }";
}

std::vector<std::string> Versions(const v1::SubjectState& state) {
  std::vector<std::string> out;
  for (const v1::SettingsVersion& v : state.settings().versions()) {
    out.push_back(v.settings().version());
  }
  return out;
}

TEST(FoldEmpty, IsOfTheKindThatTheNameGives) {
  EXPECT_EQ(Empty("units/K-1").unit().unit(), "K-1");
  EXPECT_EQ(Empty("orders/R-1").order().order(), "R-1");
  EXPECT_EQ(Empty("parts/P-1").part().part(), "P-1");
  EXPECT_EQ(Empty("lots/L-1").lot().lot(), "L-1");
  EXPECT_TRUE(Empty(fact::kSettingsName).has_settings());
  EXPECT_EQ(Empty("vans/1").state_case(), v1::SubjectState::STATE_NOT_SET);
}

TEST(FoldOrder, IsTrueTimeThenTheReportersCountThenTheId) {
  FoldedDepot d;
  d.Receive("K-1", 0);
  d.Move("K-1", 10, "bench");
  d.last_entry().set_order_number(2);
  d.Move("K-1", 10, "bay");
  d.last_entry().set_order_number(1);
  EXPECT_EQ(d.Unit("K-1").place(), "bench");
  d.Move("K-1", 10, "quarantine");
  d.last_entry().set_order_number(2);
  EXPECT_EQ(d.Unit("K-1").place(), "quarantine") << "the greater id";
  const v1::SubjectState state = d.State("units/K-1");
  EXPECT_EQ(state.fact_count(), 4);
  EXPECT_EQ(state.last().fact().entry_id(), d.entries().back().entry_id());
  EXPECT_EQ(state.last().order_number(), 2);
}

TEST(FoldInOrder, ComesAfterEveryFactAndIsNoReversal) {
  FoldedDepot d;
  d.Receive("K-1", 10);
  const v1::SubjectState state = d.State("units/K-1");
  const auto in_order = [&](int64_t at, const std::string& text) {
    const v1::Entry entry = testing::EntryOf("x", FoldedDepot::Us(at), text);
    return InOrder({&entry, 0, FoldedDepot::Us(at), FoldedDepot::Us(at), 2}, state);
  };
  const std::string move = "unit_moved { unit: 'K-1' to_place: 'bench' }";
  EXPECT_TRUE(in_order(11, move));
  EXPECT_TRUE(in_order(10, move)) << "same time, greater id";
  EXPECT_FALSE(in_order(9, move));
  EXPECT_FALSE(in_order(11, "reversal { fact { entry_id: 'e1000' } subjects: 'units/K-1' }"));
  EXPECT_FALSE(in_order(11, "question_answered { subject: 'units/K-1' rule: REASON_NOT_CLEANED }"));
  EXPECT_FALSE(InOrder(d.FactsOf("units/K-1")[0], state)) << "the same fact again";
}

TEST(FoldInOrder, AFactThatIsAwaitedIsNot) {
  FoldedDepot d;
  d.Receive("K-1", 0);
  d.Tell(10, "reversal { fact { entry_id: 'late' } subjects: 'units/K-1' because: 'typo' }");
  const v1::SubjectState state = d.State("units/K-1");
  ASSERT_EQ(state.awaited_size(), 1);
  const v1::Entry late =
      testing::EntryOf("late", FoldedDepot::Us(20), "unit_moved { unit: 'K-1' to_place: 'bench' }");
  EXPECT_FALSE(InOrder({&late, 0, FoldedDepot::Us(20), FoldedDepot::Us(20), 3}, state));
  const v1::Entry other = testing::EntryOf("other", FoldedDepot::Us(20),
                                           "unit_moved { unit: 'K-1' to_place: 'bench' }");
  EXPECT_TRUE(InOrder({&other, 0, FoldedDepot::Us(20), FoldedDepot::Us(20), 3}, state));
}

TEST(FoldTime, AFactAheadOfTheLedgersClockIsAskedBeyondFiveMinutes) {
  FoldedDepot d;
  d.Receive("K-1", 0);
  std::vector<fact::FactView> facts = d.FactsOf("units/K-1");
  facts[0].recorded_us = facts[0].happened_us - 5 * testing::kMinuteUs;
  EXPECT_THAT(testing::Reasons(Fold("units/K-1", facts, d.book()).questions()), IsEmpty());
  facts[0].recorded_us -= 1;
  const v1::SubjectState state = Fold("units/K-1", facts, d.book());
  ASSERT_THAT(testing::Reasons(state.questions()), ElementsAre("TIME_IN_FUTURE"));
  EXPECT_EQ(testing::ValueOf(state.questions(0), "found"), "2026-03-02T08:00:00Z");
}

TEST(FoldQuestion, AnAnswerClosesEveryQuestionOfThatRuleAndFact) {
  FoldedDepot d;
  d.TakeOrder("R-1", 0);
  const std::string id =
      d.HandOver("K-1", "R-1", 60, "motion { extension_deg: -5 flexion_deg: 99 }");
  ASSERT_THAT(d.Questions("orders/R-1"),
              ElementsAre("SETTING_BEYOND_ORDER", "SETTING_BEYOND_ORDER"));
  const std::string answer = "question_answered { subject: 'orders/R-1' fact { entry_id: '" + id +
                             "' } explanation: 'new order by phone' rule: ";
  d.Tell(70, answer + "REASON_KIT_MISSING }");
  EXPECT_EQ(d.Questions("orders/R-1").size(), 2u) << "another rule";
  d.Tell(80, answer + "REASON_SETTING_BEYOND_ORDER }");
  EXPECT_THAT(d.Questions("orders/R-1"), IsEmpty());
}

TEST(FoldQuestion, AnAnswerDatedBeforeItsQuestionCounts) {
  FoldedDepot d;
  d.TakeOrder("R-1", 0);
  const std::string id = d.HandOver("K-1", "R-1", 60, "motion { flexion_deg: 99 }");
  d.Tell(50, "question_answered { subject: 'orders/R-1' fact { entry_id: '" + id +
                 "' } rule: REASON_SETTING_BEYOND_ORDER explanation: 'asked before' }");
  EXPECT_THAT(d.Questions("orders/R-1"), IsEmpty());
}

TEST(FoldQuestion, IsOpenUntilAnswered) {
  FoldedDepot d;
  d.TakeOrder("R-1", 0);
  const std::string id = d.HandOver("K-1", "R-1", 60, "motion { flexion_deg: 99 }");
  v1::QuestionAnswered answer;
  answer.mutable_fact()->set_entry_id(id);
  answer.set_rule(v1::REASON_SETTING_BEYOND_ORDER);
  EXPECT_TRUE(IsOpen(answer, d.State("orders/R-1")));
  answer.mutable_fact()->set_index(1);
  EXPECT_FALSE(IsOpen(answer, d.State("orders/R-1")));
  answer.mutable_fact()->set_index(0);
  answer.set_rule(v1::REASON_KIT_MISSING);
  EXPECT_FALSE(IsOpen(answer, d.State("orders/R-1")));
}

TEST(FoldSettings, AreKeptInTheOrderOfTheirFromTimes) {
  FoldedDepot d;
  d.Tell(0, Put("b", "2026-02-01"));
  d.Tell(1, Put("a", "2026-01-01"));
  d.Tell(2, Put("c", "2026-03-01"));
  EXPECT_THAT(Versions(d.State(kSettings)), ElementsAre("a", "b", "c"));
  d.Tell(3, Put("b2", "2026-02-01"));
  EXPECT_THAT(Versions(d.State(kSettings)), ElementsAre("a", "b2", "c"));
  const depot::SettingsBook book = BookOf(d.State(kSettings));
  const int64_t february = *time::ParseInstant("2026-02-01", absl::UTCTimeZone());
  EXPECT_EQ(book.At(february).settings().version(), "b2");
  EXPECT_EQ(book.At(february - 1).settings().version(), "a");
}

TEST(FoldSettings, AVersionThatIsNotValidIsAskedAndNeverInForce) {
  FoldedDepot d;
  d.Tell(0, Put("a", "2026-01-01"));
  d.Tell(1, Put("b", "2026-02-01", "currency: 'EUR' models { id: 'm' device_class: 'none' }"));
  const v1::SubjectState state = d.State(kSettings);
  ASSERT_THAT(testing::Reasons(state.questions()), ElementsAre("SETTINGS_INVALID"));
  EXPECT_NE(testing::ValueOf(state.questions(0), "found"), "");
  EXPECT_THAT(Versions(state), ElementsAre("a"));
}

}  // namespace
}  // namespace ferrule::fold
