#include "core/fact/validate.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "absl/strings/str_cat.h"
#include "absl/strings/str_join.h"
#include "core/fact/field_rules.h"
#include "google/protobuf/text_format.h"
#include "tests/core/fact/samples.h"

namespace ferrule::fact {
namespace {

using ferrule::testing::EntryWith;
using ferrule::testing::Sample;
using ferrule::testing::Samples;
using google::protobuf::FieldDescriptor;
using ::testing::ElementsAre;
using ::testing::HasSubstr;
using ::testing::IsEmpty;

std::vector<std::string> FieldsOf(const std::vector<Violation>& violations) {
  std::vector<std::string> fields;
  for (const Violation& v : violations) fields.push_back(v.field);
  return fields;
}

std::vector<std::string> Wrong(const v1::Entry& entry) { return FieldsOf(Validate(entry)); }

v1::Fact FactOf(const std::string& text) {
  v1::Fact fact;
  EXPECT_TRUE(google::protobuf::TextFormat::ParseFromString(
      "happened_time { seconds: 1772442000 } " + text, &fact))
      << text;
  return fact;
}

// The fields of that text's fact that are wrong, without "entry.facts[0].".
std::string WrongIn(const std::string& text) {
  std::vector<std::string> fields = Wrong(EntryWith(FactOf(text)));
  for (std::string& field : fields) field = field.substr(std::string("entry.facts[0].").size());
  return absl::StrJoin(fields, " ");
}

TEST(Entries, CompleteAreWellFormed) {
  for (const Sample& sample : Samples()) {
    const auto violations = Validate(EntryWith(sample.fact));
    for (const Violation& v : violations) ADD_FAILURE() << v.field << ": " << v.description;
  }
}

TEST(Entries, WithoutARequiredFieldNameIt) {
  int left_out = 0;
  for (const Sample& sample : Samples()) {
    const auto* kind = v1::Fact::descriptor()->FindFieldByName(sample.kind);
    const auto* type = kind->message_type();
    for (int i = 0; i < type->field_count(); ++i) {
      const FieldDescriptor* field = type->field(i);
      if (!RuleOf(type->name(), field->name()).required) continue;
      v1::Fact fact = sample.fact;
      auto* content = fact.GetReflection()->MutableMessage(&fact, kind);
      content->GetReflection()->ClearField(content, field);
      const std::string path = absl::StrCat("entry.facts[0].", sample.kind, ".", field->name());
      const auto violations = Validate(EntryWith(fact));
      ASSERT_THAT(FieldsOf(violations), ElementsAre(path));
      // A count that was left out reads as 0.
      EXPECT_THAT(violations[0].description,
                  ::testing::AnyOf(HasSubstr("is missing: give "), HasSubstr("is 0: give ")));
      ++left_out;
    }
  }
  EXPECT_GT(left_out, 70);
}

TEST(Entries, WithAMalformedIdNameIt) {
  for (const Sample& sample : Samples()) {
    const auto* kind = v1::Fact::descriptor()->FindFieldByName(sample.kind);
    const auto* type = kind->message_type();
    for (int i = 0; i < type->field_count(); ++i) {
      const FieldDescriptor* field = type->field(i);
      if (RuleOf(type->name(), field->name()).form != Form::kId) continue;
      v1::Fact fact = sample.fact;
      auto* content = fact.GetReflection()->MutableMessage(&fact, kind);
      std::string path = absl::StrCat("entry.facts[0].", sample.kind, ".", field->name());
      if (field->is_repeated()) {
        content->GetReflection()->SetRepeatedString(content, field, 0, "not an id");
        path += "[0]";
      } else {
        content->GetReflection()->SetString(content, field, "not an id");
      }
      EXPECT_THAT(Wrong(EntryWith(fact)), ElementsAre(path));
    }
  }
}

TEST(Entries, MustSayWhoAndWhat) {
  EXPECT_THAT(Wrong(v1::Entry()), ElementsAre("entry.entry_id", "entry.actor", "entry.facts"));
  v1::Entry entry = EntryWith(v1::Fact());
  EXPECT_THAT(Wrong(entry), ElementsAre("entry.facts[0].happened_time", "entry.facts[0].what"));
}

TEST(Entries, HaveOneToAHundredFacts) {
  v1::Entry entry = EntryWith(Samples()[1].fact);
  while (entry.facts_size() < 100) *entry.add_facts() = Samples()[1].fact;
  EXPECT_THAT(Wrong(entry), IsEmpty());
  *entry.add_facts() = Samples()[1].fact;
  EXPECT_THAT(Wrong(entry), ElementsAre("entry.facts"));
}

TEST(Entries, KeepTheirLengthsInCharactersNotBytes) {
  v1::Entry entry = EntryWith(Samples()[1].fact);
  std::string umlauts;
  for (int i = 0; i < 64; ++i) umlauts += "\xC3\xA4";
  entry.set_entry_id(umlauts);
  entry.set_actor(std::string(64, 'a'));
  entry.set_channel(std::string(32, 'c'));
  entry.mutable_facts(0)->set_note(std::string(2000, 'n'));
  EXPECT_THAT(Wrong(entry), IsEmpty());
  entry.set_entry_id(umlauts + "x");
  entry.set_actor(std::string(65, 'a'));
  entry.set_channel(std::string(33, 'c'));
  entry.mutable_facts(0)->set_note(std::string(2001, 'n'));
  EXPECT_THAT(Wrong(entry),
              ElementsAre("entry.entry_id", "entry.actor", "entry.channel", "entry.facts[0].note"));
}

TEST(Entries, HoldPlainText) {
  v1::Entry entry = EntryWith(Samples()[1].fact);
  entry.mutable_facts(0)->set_note("first line\nsecond\tline");
  EXPECT_THAT(Wrong(entry), IsEmpty());
  entry.mutable_facts(0)->set_note(std::string("a\0b", 3));
  entry.set_entry_id("one\ntwo");
  EXPECT_THAT(Wrong(entry), ElementsAre("entry.entry_id", "entry.facts[0].note"));
}

TEST(Entries, MayNotHaveAModeOfALaterRelease) {
  v1::Entry entry = EntryWith(Samples()[1].fact);
  entry.set_mode(v1::EntryMode(77));
  EXPECT_THAT(Wrong(entry), ElementsAre("entry.mode"));
}

TEST(Overrides, AreComplete) {
  const std::string moved = "unit_moved { unit: 'K-1' to_place: 'x' } ";
  EXPECT_EQ(WrongIn(moved + "overrides { rule: REASON_NOT_PICKED_UP authority: 'lead-eve' because: "
                            "'seen it' }"),
            "");
  EXPECT_EQ(WrongIn(moved + "overrides {}"),
            "overrides[0].rule overrides[0].authority overrides[0].because");
  EXPECT_EQ(WrongIn(moved + "overrides { rule: 999 authority: 'e' because: 'b' }"),
            "overrides[0].rule");
}

struct Case {
  const char* fact;
  const char* wrong;  // fields, separated by blanks; empty when it is well formed
};

class Fields : public ::testing::TestWithParam<Case> {};

TEST_P(Fields, AreWithinTheirBounds) { EXPECT_EQ(WrongIn(GetParam().fact), GetParam().wrong); }

constexpr Case kNumbers[] = {
    {"meter_read { unit: 'K' reading_s: 0 }", ""},
    {"meter_read { unit: 'K' reading_s: -1 }", "meter_read.reading_s"},
    {"meter_read { unit: 'K' reading_s: 9223372036854775807 }", "meter_read.reading_s"},
    {"meter_replaced { unit: 'K' old_last_s: -1 new_first_s: -1 }",
     "meter_replaced.old_last_s meter_replaced.new_first_s"},
    {"meter_rolled_over { unit: 'K' reading_s: 5 width_s: 0 }", "meter_rolled_over.width_s"},
    {"meter_rolled_over { unit: 'K' reading_s: 10 width_s: 10 }", "meter_rolled_over.reading_s"},
    {"unit_received { unit: 'K' model: 'm' place: 'p' cost_minor: -1 meter_s: -1 }",
     "unit_received.cost_minor unit_received.meter_s"},
    {"repair_closed { unit: 'K' labour_s: -1 cost_minor: -1 }",
     "repair_closed.labour_s repair_closed.cost_minor"},
    {"order_taken { order: 'R' details { length_of_need_days: 1 } }", ""},
    {"order_taken { order: 'R' details { length_of_need_days: 730 } }", ""},
    {"order_taken { order: 'R' details { length_of_need_days: 0 } }",
     "order_taken.details.length_of_need_days"},
    {"order_taken { order: 'R' details { length_of_need_days: 731 } }",
     "order_taken.details.length_of_need_days"},
    {"order_taken { order: 'R' sender_version: -1 }", "order_taken.sender_version"},
    {"order_changed { order: 'R' details { motion { extension_deg: -30 flexion_deg: 180 } } }", ""},
    {"order_changed { order: 'R' details { motion { extension_deg: -30.1 flexion_deg: 180.1 } } }",
     "order_changed.details.motion.extension_deg order_changed.details.motion.flexion_deg"},
    {"order_changed { order: 'R' details { motion { speed_deg_per_min: 0 pause_s: -1 daily_use_s: "
     "0 } } }",
     "order_changed.details.motion.speed_deg_per_min order_changed.details.motion.pause_s "
     "order_changed.details.motion.daily_use_s"},
    {"order_changed { order: 'R' details { motion { daily_use_s: 86400 pause_s: 0 } } }", ""},
    {"order_changed { order: 'R' details { motion { daily_use_s: 86401 } } }",
     "order_changed.details.motion.daily_use_s"},
    {"order_changed { order: 'R' details { motion { flexion_deg: nan } } }",
     "order_changed.details.motion.flexion_deg"},
    {"inspection_done { unit: 'K' checklist: 'c' checklist_version: '1' readings { item: 'i' "
     "value: inf } }",
     "inspection_done.readings[0].value"},
    {"handed_over { unit: 'K' order: 'R' unit_model: 'm' kit { item: 'i' lot: 'L' } }",
     "handed_over.kit[0].piece_count"},
    {"handed_over { unit: 'K' order: 'R' unit_model: 'm' meter_s: -1 }", "handed_over.meter_s"},
    {"reversal { fact { entry_id: 'e' index: -1 } subjects: 'units/K' because: 'b' }",
     "reversal.fact.index"},
    {"reversal { fact { entry_id: 'e' index: 100 } subjects: 'units/K' because: 'b' }",
     "reversal.fact.index"},
};
INSTANTIATE_TEST_SUITE_P(Numbers, Fields, ::testing::ValuesIn(kNumbers));

constexpr Case kOthers[] = {
    {"hold_placed { unit: 'K' kind: 99 reason: 'r' }", "hold_placed.kind"},
    {"side_configured { unit: 'K' side: 9 }", "side_configured.side"},
    {"unit_received { unit: 'K' model: 'm' place: 'p' purpose: 50 }", "unit_received.purpose"},
    {"pickup_agreed { order: 'R' pickup_date { year: 2025 month: 2 day: 29 } }",
     "pickup_agreed.pickup_date"},
    {"pickup_agreed { order: 'R' pickup_date {} }", "pickup_agreed.pickup_date"},
    {"pickup_agreed { order: 'R' pickup_date { year: 1899 month: 12 day: 31 } }",
     "pickup_agreed.pickup_date"},
    {"order_taken { order: 'R' details { patient: 'Jane Doe' } }", "order_taken.details.patient"},
    {"order_taken { order: 'R' details { surgery_date { year: 2026 month: 13 day: 1 } } }",
     "order_taken.details.surgery_date"},
    {"reversal { fact { entry_id: 'e' } subjects: 'K-1' because: 'b' }", "reversal.subjects[0]"},
    {"reversal { fact {} subjects: 'units/K' because: 'b' }", "reversal.fact.entry_id"},
    {"question_answered { subject: 'units/' fact { entry_id: 'e' } rule: REASON_ON_RENT "
     "explanation: 'x' }",
     "question_answered.subject"},
    {"unit_moved { unit: 'K' from_place: 'a b' to_place: 'x' }", "unit_moved.from_place"},
    {"precautions_noted { order: 'R' precautions: [ 1, 0, 99 ] because: 'b' }",
     "precautions_noted.precautions[1] precautions_noted.precautions[2]"},
    {"precautions_noted { order: 'R' because: 'b' }", ""},  // nothing is asked any more
    {"settings_put { settings {} from_time { seconds: 253402300800 } }", "settings_put.from_time"},
    {"settings_put { settings {} from_time { seconds: 1 nanos: -1 } }", "settings_put.from_time"},
    {"settings_put { settings {} from_time { seconds: -2208988800 } }", ""},  // 1900-01-01
    {"settings_put { settings {} from_time { seconds: -2208988801 } }", "settings_put.from_time"},
};
INSTANTIATE_TEST_SUITE_P(EnumsDaysAndNames, Fields, ::testing::ValuesIn(kOthers));

constexpr Case kTogether[] = {
    {"cleaning_finished { unit: 'K' product: 'w' wet_from_time { seconds: 5 } wet_to_time { "
     "seconds: 5 } }",
     ""},
    {"cleaning_finished { unit: 'K' product: 'w' wet_from_time { seconds: 6 } wet_to_time { "
     "seconds: 5 } }",
     "cleaning_finished.wet_to_time"},
    {"inspection_done { unit: 'K' checklist: 'c' checklist_version: '1' readings { item: 'a' } "
     "readings { item: 'b' } readings { item: 'a' } }",
     "inspection_done.readings[2].item"},
    {"unit_received { unit: 'K' model: 'm' place: 'p' parts { part: 'a' position: 'x' } parts { "
     "part: 'a' position: 'y' } parts { part: 'c' position: 'x' } }",
     "unit_received.parts[1].part unit_received.parts[2].position"},
    {"exchanged { order: 'R' unit_out: 'K' unit_in: 'K' to_place: 'p' unit_in_model: 'm' }",
     "exchanged.unit_in"},
    {"order_taken { order: 'R' details { motion { extension_deg: 50 flexion_deg: 40 } } }",
     "order_taken.details.motion.extension_deg"},
    {"handed_over { unit: 'K' order: 'R' unit_model: 'm' motion { extension_deg: 41 flexion_deg: "
     "40 } }",
     "handed_over.motion.extension_deg"},
    {"unit_held_for_order { unit: 'K' order: 'R' until_time { seconds: 1772442000 } }",
     "unit_held_for_order.until_time"},
    {"unit_held_for_order { unit: 'K' order: 'R' until_time { seconds: 1772442001 } }", ""},
    {"reversal { fact { entry_id: 'e' } subjects: 'units/K' subjects: 'units/K' because: 'b' }",
     "reversal.subjects[1]"},
    {"precautions_noted { order: 'R' precautions: [ 6, 5, 4, 3, 2, 1 ] because: 'b' }", ""},
    {"precautions_noted { order: 'R' precautions: [ 1, 2, 1 ] because: 'b' }",
     "precautions_noted.precautions[2]"},
    {"precautions_noted { order: 'R' precautions: [ 1, 2, 3, 4, 5, 6, 1 ] because: 'b' }",
     "precautions_noted.precautions"},
};
INSTANTIATE_TEST_SUITE_P(TwoFieldsOfOneFact, Fields, ::testing::ValuesIn(kTogether));

TEST(Lists, EndSomewhere) {
  v1::Fact fact = FactOf("handed_over { unit: 'K' order: 'R' unit_model: 'm' }");
  for (int i = 0; i < kMostInList; ++i) fact.mutable_handed_over()->add_papers("rights");
  EXPECT_THAT(Wrong(EntryWith(fact)), IsEmpty());
  fact.mutable_handed_over()->add_papers("rights");
  EXPECT_THAT(Wrong(EntryWith(fact)), ElementsAre("entry.facts[0].handed_over.papers"));
}

TEST(Violations, AreAllGivenAtOnceWithTheirFacts) {
  v1::Entry entry = EntryWith(FactOf("unit_moved { unit: 'K-1' to_place: 'x' }"));
  *entry.add_facts() = FactOf("unit_moved { unit: '/' }");
  *entry.add_facts() = FactOf("pickup_agreed {}");
  EXPECT_THAT(Wrong(entry),
              ElementsAre("entry.facts[1].unit_moved.unit", "entry.facts[1].unit_moved.to_place",
                          "entry.facts[2].pickup_agreed.order",
                          "entry.facts[2].pickup_agreed.pickup_date"));
}

TEST(Violations, SayWhatWouldBeRight) {
  struct Wording {
    const char* fact;
    const char* words;
  };
  constexpr Wording kCases[] = {
      {"unit_moved { unit: 'K 1' to_place: 'x' }", "for instance K-0417"},
      {"pickup_agreed { order: 'R' }", "for instance 2026-11-25"},
      {"hold_placed { unit: 'K' reason: 'r' }", "HOLD_KIND_RECALL, HOLD_KIND_INCIDENT"},
      {"precautions_noted { order: 'R' precautions: 9 because: 'b' }",
       "has the unknown value 9: give one of PRECAUTION_RING_FIRST, PRECAUTION_TWO_TOGETHER"},
      {"meter_read { unit: 'K' reading_s: -7 }", "is -7: give a number from 0 to 10000000000"},
      {"meter_rolled_over { unit: 'K' width_s: -1 }", "give a number above 0"},
      {"reversal { fact { entry_id: 'e' } subjects: 'K' because: 'b' }", "write units/K-0417"},
  };
  for (const Wording& c : kCases) {
    const auto violations = Validate(EntryWith(FactOf(c.fact)));
    ASSERT_FALSE(violations.empty()) << c.fact;
    EXPECT_THAT(violations[0].description, HasSubstr(c.words));
  }
}

}  // namespace
}  // namespace ferrule::fact
