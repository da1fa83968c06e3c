// What the bench's part of the settings must keep.
#include "core/depot/bench_check.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "google/protobuf/text_format.h"

namespace ferrule::depot {
namespace {

constexpr char kGood[] = R"(version: '1'
  models { id: 'a' cleaning_steps: CLEANING_STEP_WASHING cleaning_steps: CLEANING_STEP_DRYING }
  electrical_profiles { id: 'p' version: '1' source: 'made up'
    limits { quantity: 'earth' max: 0.3 } limits { quantity: 'insulation' min: 2 max: 9 } }
  checklists { id: 'c' version: '1' electrical_profile: 'p' items { id: 'e' electrical: 'earth' } }
  treatments { id: 'heat' against: CONTAMINANT_INSECTS min_temperature_c: 50 min_dwell_s: 60 }
  repair_causes { id: 'wear' }
  bench { times { step: BENCH_STEP_CLEAN minutes: 20 } repeat_days: 30 false_alarm_share: 0.05
    spares { position: 'pendant' lead_time_days: 14 enough_probability: 0.95 } })";

std::string FieldsWrongIn(const std::string& text) {
  v1::Settings settings;
  EXPECT_TRUE(google::protobuf::TextFormat::ParseFromString(text, &settings)) << text;
  std::vector<SettingsError> errors;
  CheckBench(settings, &errors);
  std::string fields;
  for (const SettingsError& e : errors) {
    EXPECT_FALSE(e.message.empty());
    fields += (fields.empty() ? "" : " ") + e.field;
  }
  return fields;
}

TEST(BenchSettings, OfTheSampleAreValid) { EXPECT_EQ(FieldsWrongIn(kGood), ""); }

struct Case {
  const char* from;
  const char* to;
  const char* wrong;
};

class BenchChange : public ::testing::TestWithParam<Case> {};

TEST_P(BenchChange, MakesTheseFieldsWrong) {
  std::string text = kGood;
  const std::string from = GetParam().from;
  ASSERT_NE(text.find(from), std::string::npos) << from;
  EXPECT_EQ(FieldsWrongIn(text.replace(text.find(from), from.size(), GetParam().to)),
            GetParam().wrong);
}

constexpr Case kCases[] = {
    {"CLEANING_STEP_WASHING", "CLEANING_STEP_UNSPECIFIED", "models[0].cleaning_steps[0]"},
    {"CLEANING_STEP_WASHING", "CLEANING_STEP_DRYING", "models[0].cleaning_steps[1]"},
    {"id: 'a'", "id: 'a' replacement_cost_minor: -1", "models[0].replacement_cost_minor"},
    {"source: 'made up'", "", "electrical_profiles[0].source"},
    {"id: 'p' version: '1'", "id: 'p'", "electrical_profiles[0].version"},
    {"max: 0.3", "", "electrical_profiles[0].limits[0]"},
    {"max: 0.3", "max: nan", "electrical_profiles[0].limits[0]"},
    {"max: 9", "max: 1", "electrical_profiles[0].limits[1].max"},
    {"quantity: 'insulation'", "quantity: ''", "electrical_profiles[0].limits[1].quantity"},
    {"electrical_profile: 'p'", "electrical_profile: 'q'",
     "checklists[0].electrical_profile checklists[0].items[0].electrical"},
    {"electrical: 'earth'", "electrical: 'water'", "checklists[0].items[0].electrical"},
    {"electrical: 'earth'", "electrical: 'earth' max: 1", "checklists[0].items[0].electrical"},
    {"against: CONTAMINANT_INSECTS", "", "treatments[0].against"},
    {"min_temperature_c: 50", "min_temperature_c: 5000", "treatments[0].min_temperature_c"},
    {"min_dwell_s: 60", "min_dwell_s: -1", "treatments[0].min_dwell_s"},
    {"repair_causes { id: 'wear' }", "repair_causes { id: '' }", "repair_causes[0].id"},
    {"repair_causes {", "repair_causes { id: 'wear' } repair_causes {", "repair_causes[1].id"},
    {"step: BENCH_STEP_CLEAN", "", "bench.times[0].step"},
    {"minutes: 20", "minutes: 0", "bench.times[0].minutes"},
    {"times {", "times { step: BENCH_STEP_CLEAN minutes: 1 } times {", "bench.times[1].step"},
    {"repeat_days: 30", "repeat_days: -1", "bench.repeat_days"},
    {"false_alarm_share: 0.05", "false_alarm_share: 1", "bench.false_alarm_share"},
    {"lead_time_days: 14", "lead_time_days: 0", "bench.spares[0].lead_time_days"},
    {"enough_probability: 0.95", "enough_probability: 1", "bench.spares[0].enough_probability"},
    {"position: 'pendant'", "position: ''", "bench.spares[0].position"},
};
INSTANTIATE_TEST_SUITE_P(OfTheSample, BenchChange, ::testing::ValuesIn(kCases));

}  // namespace
}  // namespace ferrule::depot
