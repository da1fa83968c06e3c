#include "core/finding/sentence.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "core/time/civil.h"

namespace ferrule::finding {
namespace {

using ::testing::ElementsAre;

v1::Finding Sample() {
  v1::Finding finding;
  finding.set_subject("units/K-0417");
  time::SetMicros(1'778'664'000'000'000, finding.mutable_time());  // 2026-05-13 09:20 UTC
  v1::FindingValue* place = finding.add_values();
  place->set_key("place");
  place->set_value("north-dock");
  finding.add_values()->set_key("empty");
  v1::Stamp* newer = finding.add_evidence();
  time::SetMicros(1'778'664'000'000'000, newer->mutable_time());
  newer->set_actor("tech-ada");
  v1::Stamp* older = finding.add_evidence();
  time::SetMicros(1'778'569'800'000'000, older->mutable_time());  // 2026-05-12 07:10 UTC
  return finding;
}

struct Case {
  const char* sentence;
  const char* filled;
};

class Sentences : public ::testing::TestWithParam<Case> {};

TEST_P(Sentences, AreFilledWithWhatIsKnown) {
  const absl::TimeZone zone = time::Zone("Europe/Berlin").value();
  EXPECT_EQ(Fill(GetParam().sentence, Sample(), zone), GetParam().filled);
}

constexpr Case kCases[] = {
    {"", ""},
    {"plain", "plain"},
    {"{unit} at {place}", "K-0417 at north-dock"},
    {"{subject}", "K-0417"},
    {"{time}", "2026-05-13 11:20"},
    {"{newer.when} by {newer.who}", "2026-05-13 11:20 by tech-ada"},
    {"{older.when}", "2026-05-12 09:10"},
    // Not known: an actor that is not stated, a subject of another kind, a value without text.
    {"{older.who}", "(not stated)"},
    {"{order}", "(not stated)"},
    {"{empty}", "(not stated)"},
    // Brackets leave out what is not known as a whole.
    {"it[ is at {place}]", "it is at north-dock"},
    {"it[ is at {place} for {order}]", "it"},
    {"it[ is at {place}[ for {order}]]", "it is at north-dock"},
    {"it[ is for {order}[ at {place}]]", "it"},
    {"by [{older.who}|{newer.who}|somebody]", "by tech-ada"},
    {"by [{older.who}|somebody]", "by somebody"},
    {"by [{newer.who}|somebody]", "by tech-ada"},
    {"[{older.who}|{order}]", ""},
    // Malformed sentences lose nothing but the mark.
    {"a]b", "ab"},
    {"a[b", "ab"},
    {"a{place", "anorth-dock"},
};
INSTANTIATE_TEST_SUITE_P(All, Sentences, ::testing::ValuesIn(kCases));

TEST(Sentence, CallsSubjectsByWhatTheyAre) {
  struct Called {
    const char* subject;
    const char* words;
  };
  constexpr Called kSubjects[] = {
      {"units/K-1", "K-1 K-1 (not stated)"},
      {"orders/R-1", "order R-1 (not stated) R-1"},
      {"parts/P-1", "part P-1 (not stated) (not stated)"},
      {"lots/L-1", "lot L-1 (not stated) (not stated)"},
      {"settings/depot", "the settings (not stated) (not stated)"},
      {"forecasts/north", "the forecasts of north (not stated) (not stated)"},
      {"nonsense", "(not stated) (not stated) (not stated)"},
  };
  for (const Called& c : kSubjects) {
    v1::Finding finding;
    finding.set_subject(c.subject);
    EXPECT_EQ(Fill("{subject} {unit} {order}", finding, absl::UTCTimeZone()), c.words);
  }
}

TEST(Sentence, PrefersTheValueGivenToItsOwnSubject) {
  v1::Finding finding = Sample();
  v1::FindingValue* unit = finding.add_values();
  unit->set_key("unit");
  unit->set_value("K-9");
  EXPECT_EQ(Fill("{unit}", finding, absl::UTCTimeZone()), "K-9");
}

TEST(Sentence, ShowsValuesAsTheyAreWithoutReadingThemAgain) {
  v1::Finding finding = Sample();
  finding.mutable_values(0)->set_value("[{unit}|x]");
  EXPECT_EQ(Fill("at {place}", finding, absl::UTCTimeZone()), "at [{unit}|x]");
}

TEST(Sentence, NamesItsKeysOnce) {
  EXPECT_THAT(KeysIn("{unit}[ at {place}[ by {newer.who}]] {unit} {open"),
              ElementsAre("unit", "place", "newer.who"));
}

}  // namespace
}  // namespace ferrule::finding
