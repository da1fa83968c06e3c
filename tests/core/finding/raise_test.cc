#include "core/finding/raise.h"

#include <gtest/gtest.h>

#include <memory>

#include "google/protobuf/text_format.h"
#include "google/protobuf/util/message_differencer.h"

namespace ferrule::finding {
namespace {

class Raising : public ::testing::Test {
 protected:
  Raising() {
    entry_.set_entry_id("e-1");
    entry_.set_actor("tech-ada");
    entry_.add_facts();
    entry_.add_facts();
    state_.set_name("units/K-1");
    view_ = {&entry_, 1, 5'000'000, 9'000'000, 3};
  }

  void SetAside(v1::Reason rule) {
    v1::Override* o = entry_.mutable_facts(1)->add_overrides();
    o->set_rule(rule);
    o->set_authority("lead-eve");
    o->set_because("seen it");
  }

  static void ExpectSame(const google::protobuf::Message& message, const char* text) {
    std::unique_ptr<google::protobuf::Message> expected(message.New());
    ASSERT_TRUE(google::protobuf::TextFormat::ParseFromString(text, expected.get()));
    std::string difference;
    google::protobuf::util::MessageDifferencer differ;
    differ.ReportDifferencesToString(&difference);
    EXPECT_TRUE(differ.Compare(*expected, message)) << difference;
  }

  v1::Entry entry_;
  v1::SubjectState state_;
  fact::FactView view_;
};

TEST_F(Raising, OpensAQuestionWithFactTimeValuesAndEvidence) {
  v1::Stamp known;
  known.set_actor("tech-bo");
  known.mutable_time()->set_seconds(2);
  const v1::Stamp unset;
  Raiser raiser(view_, &state_);
  raiser.Raise(v1::REASON_NOT_AT_THAT_PLACE, {{"from", "north-dock"}, {"found", "north-bench"}},
               {&unset, nullptr, &known});
  EXPECT_EQ(raiser.count(), 1);
  ExpectSame(state_,
             "name: 'units/K-1' questions { reason: REASON_NOT_AT_THAT_PLACE subject: 'units/K-1' "
             "fact { entry_id: 'e-1' index: 1 } time { seconds: 5 } "
             "evidence { time { seconds: 2 } actor: 'tech-bo' } "
             "values { key: 'from' value: 'north-dock' } "
             "values { key: 'found' value: 'north-bench' } }");
}

TEST_F(Raising, ReportsARuleSetAsideByNameAsUsed) {
  SetAside(v1::REASON_NOT_PICKED_UP);
  Raiser raiser(view_, &state_);
  raiser.Raise(v1::REASON_NOT_PICKED_UP);
  EXPECT_EQ(raiser.count(), 0);
  ExpectSame(state_,
             "name: 'units/K-1' overrides { finding { reason: REASON_NOT_PICKED_UP subject: "
             "'units/K-1' fact { entry_id: 'e-1' index: 1 } time { seconds: 5 } } "
             "authority: 'lead-eve' because: 'seen it' }");
}

TEST_F(Raising, DoesNotSetAsideWhatNobodyMay) {
  SetAside(v1::REASON_INSPECTION_FAILED);
  Raiser raiser(view_, &state_);
  raiser.Raise(v1::REASON_INSPECTION_FAILED);
  EXPECT_EQ(raiser.count(), 1);
  EXPECT_EQ(state_.questions_size(), 1);
  EXPECT_EQ(state_.overrides_size(), 0);
}

TEST_F(Raising, DoesNotSetAsideOtherRulesOrOtherFactsRules) {
  SetAside(v1::REASON_NOT_PICKED_UP);
  Raiser raiser(view_, &state_);
  raiser.Raise(v1::REASON_KIT_MISSING);
  view_.index = 0;
  Raiser other(view_, &state_);
  other.Raise(v1::REASON_NOT_PICKED_UP);
  EXPECT_EQ(raiser.count(), 1);
  EXPECT_EQ(other.count(), 1);
  EXPECT_EQ(state_.overrides_size(), 0);
}

TEST_F(Raising, GivesAFindingMadeElsewhereThisFactAndKeepsItsSubject) {
  v1::Finding finding;
  finding.set_reason(v1::REASON_NOT_CLEANED);
  finding.set_subject("units/K-2");
  Raiser raiser(view_, &state_);
  raiser.Raise(finding);
  ExpectSame(state_.questions(0),
             "reason: REASON_NOT_CLEANED subject: 'units/K-2' fact { entry_id: 'e-1' index: 1 } "
             "time { seconds: 5 }");
}

TEST_F(Raising, StampsSayWhenWhoAndWhichFact) {
  v1::Stamp stamp;
  SetStamp(view_, &stamp);
  ExpectSame(stamp, "time { seconds: 5 } actor: 'tech-ada' fact { entry_id: 'e-1' index: 1 }");
}

}  // namespace
}  // namespace ferrule::finding
