// Tests core/fact/words.cc, core/fact/enum_words.cc, core/fact/stores_words.cc,
// core/fact/records_words.cc, core/fact/counted.h.
#include "core/fact/words.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <set>

#include "core/fact/counted.h"
#include "tests/core/fact/samples.h"

namespace ferrule::fact {
namespace {

using ::testing::HasSubstr;
using ::testing::Not;

TEST(FactWords, ReadAsAtTheCounter) {
  for (const ferrule::testing::Sample& sample : ferrule::testing::Samples()) {
    EXPECT_EQ(KindWords(sample.fact), sample.kind_words);
    EXPECT_EQ(Describe(sample.fact), sample.words);
  }
}

TEST(FactWords, AgreeWithTheNumberOfWhatIsCounted) {
  EXPECT_EQ(Counted(0, "entry", "entries"), "0 entries");
  EXPECT_EQ(Counted(1, "row was", "rows were"), "1 row was");
  EXPECT_EQ(Counted(2, "row was", "rows were"), "2 rows were");
}

TEST(FactWords, DifferFromKindToKind) {
  std::set<std::string_view> kinds;
  for (const ferrule::testing::Sample& sample : ferrule::testing::Samples()) {
    EXPECT_TRUE(kinds.insert(KindWords(sample.fact)).second) << sample.kind_words;
  }
}

TEST(FactWords, OfAFactWithEmptyContentAreItsKind) {
  for (const ferrule::testing::Sample& sample : ferrule::testing::Samples()) {
    v1::Fact bare = sample.fact;
    const auto* field = v1::Fact::descriptor()->FindFieldByName(sample.kind);
    bare.GetReflection()->MutableMessage(&bare, field)->Clear();
    EXPECT_EQ(Describe(bare).substr(0, sample.kind_words.size()), sample.kind_words);
  }
  EXPECT_EQ(Describe(v1::Fact()), "nothing stated");
}

TEST(FactWords, StayOnOneLineAndShort) {
  v1::Fact fact;
  fact.mutable_repair_opened()->set_unit("K-1");
  fact.mutable_repair_opened()->set_complaint(std::string(119, 'x') + "\xC3\xA4\r\ny");
  const std::string text = Describe(fact);
  EXPECT_EQ(text, "repair opened on K-1: " + std::string(119, 'x') + "...");
  fact.mutable_repair_opened()->set_complaint("a\nb\tc");
  EXPECT_EQ(Describe(fact), "repair opened on K-1: a b c");
}

TEST(FactWords, NeverNameThePatient) {
  for (const ferrule::testing::Sample& sample : ferrule::testing::Samples()) {
    EXPECT_THAT(Describe(sample.fact), Not(HasSubstr("P-77"))) << sample.kind;
  }
}

// Whoever goes to the home may read a history.
TEST(FactWords, TellWhatPrecautionsAreAskedAndNeverWhy) {
  v1::Fact fact;
  fact.mutable_precautions_noted()->set_order("R-1");
  fact.mutable_precautions_noted()->set_because("the house was cleaned");
  EXPECT_EQ(Describe(fact), "precautions for order R-1: none any more");
  fact.mutable_precautions_noted()->add_precautions(v1::PRECAUTION_RING_FIRST);
  EXPECT_EQ(Describe(fact), "precautions for order R-1: ring first");
}

TEST(FactWords, SayWhenAMeterCouldNotBeRead) {
  v1::Fact fact;
  fact.mutable_meter_replaced()->set_unit("K-1");
  EXPECT_EQ(Describe(fact), "meter replaced on K-1: old one not readable, new one at 0.0 h");
}

TEST(EnumWords, AreThereForEveryValueAndForNewerOnes) {
  std::vector<std::string_view> words;
  for (int i = v1::Side_MIN; i <= v1::Side_MAX; ++i) words.push_back(SideWords(v1::Side(i)));
  EXPECT_THAT(words, ::testing::ElementsAre("not stated", "left", "right", "either"));
  words.clear();
  for (int i = v1::HoldKind_MIN; i <= v1::HoldKind_MAX; ++i) {
    words.push_back(HoldKindWords(v1::HoldKind(i)));
  }
  EXPECT_THAT(words, ::testing::ElementsAre("not stated", "recall", "incident", "infestation",
                                            "contamination", "tester doubt", "owner", "other"));
  words.clear();
  for (int i = v1::Purpose_MIN; i <= v1::Purpose_MAX; ++i) {
    words.push_back(PurposeWords(v1::Purpose(i)));
  }
  EXPECT_THAT(
      words, ::testing::ElementsAre("rental", "rental", "demonstration", "loaner", "cross-rented"));
  words.clear();
  for (int i = v1::AliasKind_MIN; i <= v1::AliasKind_MAX; ++i) {
    words.push_back(AliasKindWords(v1::AliasKind(i)));
  }
  EXPECT_THAT(words, ::testing::ElementsAre("not stated", "old tag", "board number"));
  words.clear();
  for (int i = v1::MessageKind_MIN; i <= v1::MessageKind_MAX; ++i) {
    words.push_back(MessageKindWords(v1::MessageKind(i)));
  }
  EXPECT_THAT(words, ::testing::ElementsAre("not stated", "HL7 v2", "FHIR R4", "CSV"));
  EXPECT_EQ(MessageKindWords(v1::MessageKind(99)), "other");
  words.clear();
  for (int i = v1::ProgressionAnchor_MIN; i <= v1::ProgressionAnchor_MAX; ++i) {
    words.push_back(ProgressionAnchorWords(v1::ProgressionAnchor(i)));
  }
  EXPECT_THAT(words, ::testing::ElementsAre("not stated", "operation", "discharge", "hand-over",
                                            "a day of the order"));
  words.clear();
  for (int i = v1::MotionChanger_MIN; i <= v1::MotionChanger_MAX; ++i) {
    words.push_back(MotionChangerWords(v1::MotionChanger(i)));
  }
  EXPECT_THAT(words, ::testing::ElementsAre("not stated", "rep", "therapist", "patient", "other"));
  words.clear();
  for (int i = v1::UsageSource_MIN; i <= v1::UsageSource_MAX; ++i) {
    words.push_back(UsageSourceWords(v1::UsageSource(i)));
  }
  EXPECT_THAT(words, ::testing::ElementsAre("not stated", "read on the meter",
                                            "out of the device's memory", "told"));
  words.clear();
  for (int i = v1::RefusalKind_MIN; i <= v1::RefusalKind_MAX; ++i) {
    words.push_back(RefusalKindWords(v1::RefusalKind(i)));
  }
  EXPECT_THAT(words, ::testing::ElementsAre("not stated", "no unit in time", "none fits",
                                            "no delivery in time", "other"));
  words.clear();
  for (int i = v1::CleaningStep_MIN; i <= v1::CleaningStep_MAX; ++i) {
    words.push_back(CleaningStepWords(v1::CleaningStep(i)));
  }
  EXPECT_THAT(words, ::testing::ElementsAre("not stated", "preparation", "washing", "disinfection",
                                            "drying"));
  EXPECT_EQ(CleaningStepWords(v1::CleaningStep(99)), "other");
  EXPECT_EQ(AliasKindWords(v1::AliasKind(99)), "other");
  words.clear();
  for (int i = v1::OrderLink_MIN; i <= v1::OrderLink_MAX; ++i) {
    words.push_back(OrderLinkWords(v1::OrderLink(i)));
  }
  EXPECT_THAT(words,
              ::testing::ElementsAre("belongs to", "other side of", "in place of", "further to"));
  words.clear();
  for (int i = v1::DetailKind_MIN; i <= v1::DetailKind_MAX; ++i) {
    words.push_back(DetailKindWords(v1::DetailKind(i)));
  }
  EXPECT_THAT(words, ::testing::ElementsAre("not stated", "side", "procedure", "joint"));
  words.clear();
  for (int i = v1::Stay_MIN; i <= v1::Stay_MAX; ++i) words.push_back(StayWords(v1::Stay(i)));
  EXPECT_THAT(words, ::testing::ElementsAre("not stated", "home", "hospital", "facility", "died"));
  words.clear();
  for (int i = v1::UseChange_MIN; i <= v1::UseChange_MAX; ++i) {
    words.push_back(UseChangeWords(v1::UseChange(i)));
  }
  EXPECT_THAT(words, ::testing::ElementsAre("not stated", "started", "stopped"));
  EXPECT_EQ(StayWords(v1::Stay(99)), "other");
  words.clear();
  for (int i = v1::RecallOutcome_MIN; i <= v1::RecallOutcome_MAX; ++i) {
    words.push_back(RecallOutcomeWords(v1::RecallOutcome(i)));
  }
  EXPECT_THAT(words, ::testing::ElementsAre("not stated", "contacted", "corrected", "sent back",
                                            "destroyed", "not covered", "unaccounted"));
  EXPECT_EQ(RecallOutcomeWords(v1::RecallOutcome(99)), "other");
  words.clear();
  for (int i = v1::CountExplanation_MIN; i <= v1::CountExplanation_MAX; ++i) {
    words.push_back(CountExplanationWords(v1::CountExplanation(i)));
  }
  EXPECT_THAT(words, ::testing::ElementsAre("not stated", "unexplained", "moved", "scanned later",
                                            "swap", "other place", "misread", "late paper"));
  EXPECT_EQ(CountExplanationWords(v1::CountExplanation(99)), "other");
  words.clear();
  for (int i = v1::CallKind_MIN; i <= v1::CallKind_MAX; ++i) {
    words.push_back(CallKindWords(v1::CallKind(i)));
  }
  EXPECT_THAT(words, ::testing::ElementsAre("not stated", "follow-up after the set-up",
                                            "before the due day", "cover ends",
                                            "day of the operation", "another pick-up", "other"));
  words.clear();
  for (int i = v1::CallOutcome_MIN; i <= v1::CallOutcome_MAX; ++i) {
    words.push_back(CallOutcomeWords(v1::CallOutcome(i)));
  }
  EXPECT_THAT(words, ::testing::ElementsAre("not stated", "reached", "not reached",
                                            "asked to be rung later"));
  words.clear();
  for (int i = v1::Precaution_MIN; i <= v1::Precaution_MAX; ++i) {
    words.push_back(PrecautionWords(v1::Precaution(i)));
  }
  EXPECT_THAT(words, ::testing::ElementsAre("not stated", "ring first", "two together", "gloves",
                                            "bag at the door", "no outlet", "stay outside"));
  EXPECT_EQ(PrecautionWords(v1::Precaution(99)), "other");
  google::protobuf::RepeatedField<int> asked;
  EXPECT_EQ(PrecautionList(asked), "");
  asked.Add(v1::PRECAUTION_RING_FIRST);
  asked.Add(v1::PRECAUTION_GLOVES);
  EXPECT_EQ(PrecautionList(asked), "ring first, gloves");
  EXPECT_EQ(SideWords(v1::Side(99)), "other");
  EXPECT_EQ(PurposeWords(v1::Purpose(99)), "other");
}

TEST(EnumWords, OfComplaintsAndRecordsAreThere) {
  std::vector<std::string_view> words;
  for (int i = v1::ComplaintKind_MIN; i <= v1::ComplaintKind_MAX; ++i) {
    words.push_back(ComplaintKindWords(v1::ComplaintKind(i)));
  }
  EXPECT_THAT(words, ::testing::ElementsAre("not stated", "device", "cleanliness", "visit",
                                            "teaching", "conduct", "billing", "privacy", "other"));
  EXPECT_EQ(ComplaintKindWords(v1::ComplaintKind(99)), "other");
  words.clear();
  for (int i = v1::ComplaintSource_MIN; i <= v1::ComplaintSource_MAX; ++i) {
    words.push_back(ComplaintSourceWords(v1::ComplaintSource(i)));
  }
  EXPECT_THAT(words, ::testing::ElementsAre("not stated", "patient", "referrer", "payer",
                                            "hospital", "staff", "other"));
  EXPECT_EQ(ComplaintSourceWords(v1::ComplaintSource(99)), "other");
  words.clear();
  for (int i = v1::Harm_MIN; i <= v1::Harm_MAX; ++i) {
    words.push_back(HarmWords(v1::Harm(i)));
  }
  EXPECT_THAT(words, ::testing::ElementsAre("not stated", "nobody hurt", "could have hurt somebody",
                                            "somebody hurt"));
  EXPECT_EQ(HarmWords(v1::Harm(99)), "other");
  words.clear();
  for (int i = v1::ComplaintOutcome_MIN; i <= v1::ComplaintOutcome_MAX; ++i) {
    words.push_back(ComplaintOutcomeWords(v1::ComplaintOutcome(i)));
  }
  EXPECT_THAT(words, ::testing::ElementsAre("not stated", "upheld", "partly upheld", "not upheld",
                                            "withdrawn"));
  EXPECT_EQ(ComplaintOutcomeWords(v1::ComplaintOutcome(99)), "other");
  words.clear();
  for (int i = v1::BreakdownCure_MIN; i <= v1::BreakdownCure_MAX; ++i) {
    words.push_back(BreakdownCureWords(v1::BreakdownCure(i)));
  }
  EXPECT_THAT(words, ::testing::ElementsAre("not stated", "by telephone", "in the home",
                                            "by itself", "not needed any more"));
  EXPECT_EQ(BreakdownCureWords(v1::BreakdownCure(99)), "other");
  words.clear();
  for (int i = v1::RecordKind_MIN; i <= v1::RecordKind_MAX; ++i) {
    words.push_back(RecordKindWords(v1::RecordKind(i)));
  }
  EXPECT_THAT(words, ::testing::ElementsAre("not stated", "patient's particulars", "message",
                                            "papers of a rental", "papers of a complaint"));
  EXPECT_EQ(RecordKindWords(v1::RecordKind(99)), "other");
  words.clear();
  for (int i = v1::RetentionAnchor_MIN; i <= v1::RetentionAnchor_MAX; ++i) {
    words.push_back(RetentionAnchorWords(v1::RetentionAnchor(i)));
  }
  EXPECT_THAT(words,
              ::testing::ElementsAre("not stated", "day received", "hand-over", "end of the rental",
                                     "last day billed", "closing of the complaint"));
  EXPECT_EQ(RetentionAnchorWords(v1::RetentionAnchor(99)), "other");
}

TEST(HoursWords, ShowTenthsAsMetersDo) {
  EXPECT_EQ(HoursWords(0), "0.0 h");
  EXPECT_EQ(HoursWords(359), "0.0 h");
  EXPECT_EQ(HoursWords(360), "0.1 h");
  EXPECT_EQ(HoursWords(35'954'640), "9987.4 h");
  EXPECT_EQ(HoursWords(-720), "-0.2 h");
}

}  // namespace
}  // namespace ferrule::fact
