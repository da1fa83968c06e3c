#include "core/fact/subject.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <set>

#include "absl/strings/str_join.h"
#include "tests/core/fact/samples.h"

namespace ferrule::fact {
namespace {

using ::testing::ElementsAre;
using ::testing::HasSubstr;
using ::testing::IsEmpty;

TEST(Subjects, AreThoseThatTheFactIsAbout) {
  for (const ferrule::testing::Sample& sample : ferrule::testing::Samples()) {
    EXPECT_EQ(absl::StrJoin(SubjectsOf(sample.fact), " "), sample.subjects) << sample.kind;
  }
}

TEST(Subjects, AreKnownForEveryKindOfFact) {
  const auto* what = v1::Fact::descriptor()->FindOneofByName("what");
  std::set<std::string> sampled;
  for (const ferrule::testing::Sample& sample : ferrule::testing::Samples()) {
    sampled.insert(sample.kind);
    EXPECT_FALSE(SubjectsOf(sample.fact).empty()) << sample.kind;
  }
  for (int i = 0; i < what->field_count(); ++i) {
    EXPECT_EQ(sampled.count(what->field(i)->name()), 1u) << what->field(i)->name();
  }
}

TEST(Subjects, VisitedAndNamedAreTheSame) {
  for (const ferrule::testing::Sample& sample : ferrule::testing::Samples()) {
    std::vector<std::string> visited;
    ForEachSubject(sample.fact, [&](SubjectKind kind, std::string_view id) {
      visited.push_back(SubjectName(kind, id));
    });
    EXPECT_EQ(visited, SubjectsOf(sample.fact)) << sample.kind;
  }
}

TEST(Subjects, AreGivenOnceEach) {
  v1::Fact fact;
  auto* exchanged = fact.mutable_exchanged();
  exchanged->set_unit_out("K-1");
  exchanged->set_unit_in("K-1");
  exchanged->add_kit()->set_lot("L-1");
  exchanged->add_kit()->set_lot("L-2");
  exchanged->add_kit()->set_lot("L-1");
  EXPECT_THAT(SubjectsOf(fact), ElementsAre("units/K-1", "lots/L-1", "lots/L-2"));
}

TEST(Subjects, OfAReversalAreTheNamesThatItGivesOnceEach) {
  v1::Fact fact;
  auto* reversal = fact.mutable_reversal();
  for (const char* name : {"orders/R-1", "units/K-1", "orders/R-1", "units/", "K-1"}) {
    reversal->add_subjects(name);
  }
  EXPECT_THAT(SubjectsOf(fact), ElementsAre("orders/R-1", "units/K-1"));
}

TEST(Subjects, OfNothingAreNone) {
  EXPECT_THAT(SubjectsOf(v1::Fact()), IsEmpty());
  v1::Fact without_id;
  without_id.mutable_unit_moved()->set_to_place("north-dock");
  EXPECT_THAT(SubjectsOf(without_id), IsEmpty());
}

TEST(SubjectNames, GoThereAndBack) {
  struct Case {
    SubjectKind kind;
    const char* id;
    const char* name;
  };
  constexpr Case kCases[] = {
      {SubjectKind::kUnit, "K-0417", "units/K-0417"},
      {SubjectKind::kPart, "PEN.8", "parts/PEN.8"},
      {SubjectKind::kLot, "2026_03", "lots/2026_03"},
      {SubjectKind::kOrder, "R-1", "orders/R-1"},
      {SubjectKind::kSettings, "depot", "settings/depot"},
      {SubjectKind::kForecasts, "north", "forecasts/north"},
  };
  for (const Case& c : kCases) {
    EXPECT_EQ(SubjectName(c.kind, c.id), c.name);
    const auto subject = ParseSubjectName(c.name);
    ASSERT_TRUE(subject.ok()) << c.name;
    EXPECT_EQ(subject->kind, c.kind);
    EXPECT_EQ(subject->id, c.id);
  }
  EXPECT_EQ(SubjectName(SubjectKind::kSettings, "depot"), kSettingsName);
}

TEST(SubjectNames, MalformedAreRefusedWithTheRightForm) {
  for (const char* wrong : {"", "K-0417", "units/", "units", "unit/K-1", "Units/K-1", "units/K 1",
                            "units/K-1/parts", "settings/other", "/units/K-1", "units/-1"}) {
    const auto subject = ParseSubjectName(wrong);
    ASSERT_FALSE(subject.ok()) << wrong;
    EXPECT_EQ(subject.status().code(), absl::StatusCode::kInvalidArgument);
    EXPECT_THAT(std::string(subject.status().message()), HasSubstr("units/K-0417"));
  }
}

TEST(Ids, AreWhatStandsBehindTheSlash) {
  EXPECT_EQ(BareId("units/K-0417"), "K-0417");
  EXPECT_EQ(BareId("K-0417"), "K-0417");
  EXPECT_EQ(BareId("units/"), "");
}

TEST(Ids, HaveOneForm) {
  for (const std::string& right :
       {std::string("K-0417"), std::string("0"), std::string("a._-"), std::string(64, 'x')}) {
    EXPECT_TRUE(IsValidId(right)) << right;
  }
  for (const std::string& wrong :
       {std::string(), std::string("-a"), std::string(".a"), std::string("a b"), std::string("a/b"),
        std::string("\xC3\xA4"), std::string("a\n"), std::string("a\0", 2), std::string(65, 'x')}) {
    EXPECT_FALSE(IsValidId(wrong)) << wrong;
  }
}

}  // namespace
}  // namespace ferrule::fact
