#include "core/order/unfit.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "google/protobuf/text_format.h"
#include "tests/support/folded_depot.h"

namespace ferrule::order {
namespace {

using ::testing::ElementsAre;
using ::testing::IsEmpty;

depot::Rules Models() {
  v1::Settings settings;
  google::protobuf::TextFormat::ParseFromString(
      "branches { id: 'north' time_zone: 'Europe/Berlin' mains_voltage_v: 230 } "
      "device_classes { id: 'knee' } "
      "models { id: 'short' device_class: 'knee' motion { min_deg: -10 max_deg: 120 "
      "  max_speed_deg_per_min: 150 min_speed_deg_per_min: 30 max_pause_s: 60 } "
      "  fit { thigh { min_mm: 300 max_mm: 450 } shank { min_mm: 350 max_mm: 500 } "
      "    leg { min_mm: 700 max_mm: 900 } girth { max_mm: 700 } max_weight_g: 110000 "
      "    mains_voltages_v: 230 doorway_mm: 650 } } "
      "models { id: 'long' device_class: 'knee' stands_in_for: 'short' }",
      &settings);
  return depot::Rules(settings);
}

v1::OrderDetails Details(const std::string& text) {
  v1::OrderDetails details;
  if (!google::protobuf::TextFormat::ParseFromString("branch: 'north' device_class: 'knee' " + text,
                                                     &details)) {
    throw std::invalid_argument(text);
  }
  return details;
}

std::vector<std::string> Why(const std::string& text, const std::string& model = "short") {
  const depot::Rules rules = Models();
  std::vector<std::string> out;
  for (const v1::Finding& f : Unfit(Details(text), "K-1", *rules.FindModel(model), rules)) {
    EXPECT_EQ(f.subject(), "units/K-1");
    out.push_back(std::string(finding::ReasonString(f.reason())) + " " +
                  testing::ValueOf(f, "item"));
  }
  return out;
}

std::string Cm(const std::string& field, int hundredths) {
  return "measures { " + field + " { hundredths: " + std::to_string(hundredths) +
         " measured_in: LENGTH_UNIT_CM } } ";
}

TEST(Unfit, NothingIsJudgedThatNobodyGave) { EXPECT_THAT(Why(""), IsEmpty()); }

TEST(Unfit, AMeasureAtABoundFits) {
  EXPECT_THAT(Why(Cm("thigh", 3000)), IsEmpty());
  EXPECT_THAT(Why(Cm("thigh", 4500)), IsEmpty());
  EXPECT_THAT(Why(Cm("girth", 7000)), IsEmpty());
}

TEST(Unfit, NamesEachMeasureOutsideTheModel) {
  EXPECT_THAT(Why(Cm("thigh", 2990)), ElementsAre("MEASURE_OUTSIDE_MODEL thigh"));
  EXPECT_THAT(Why(Cm("shank", 5010)), ElementsAre("MEASURE_OUTSIDE_MODEL shank"));
  EXPECT_THAT(Why(Cm("leg", 9500)), ElementsAre("MEASURE_OUTSIDE_MODEL leg length"));
  EXPECT_THAT(Why(Cm("girth", 7100)), ElementsAre("MEASURE_OUTSIDE_MODEL girth"));
  EXPECT_THAT(Why(Cm("doorway", 6000)), ElementsAre("MEASURE_OUTSIDE_MODEL doorway"));
}

TEST(Unfit, AddsThighAndShankWhereTheLegWasNotMeasured) {
  EXPECT_THAT(Why("measures { thigh { hundredths: 4400 measured_in: LENGTH_UNIT_CM } "
                  "shank { hundredths: 4800 measured_in: LENGTH_UNIT_CM } }"),
              ElementsAre("MEASURE_OUTSIDE_MODEL leg length"));
}

TEST(Unfit, KnowsInchesAndPounds) {
  EXPECT_THAT(Why("measures { leg { hundredths: 3200 measured_in: LENGTH_UNIT_INCH } }"),
              IsEmpty());  // 81.3 cm
  EXPECT_THAT(Why("measures { weight { hundredths: 25000 measured_in: WEIGHT_UNIT_POUND } }"),
              ElementsAre("WEIGHT_ABOVE_RATING "));  // 113.4 kg
  EXPECT_THAT(Why("measures { weight { hundredths: 24000 measured_in: WEIGHT_UNIT_POUND } }"),
              IsEmpty());  // 108.9 kg
}

TEST(Unfit, ComparesTheMainsOfThePlaceOfUse) {
  EXPECT_THAT(Why("mains_voltage_v: 120"), ElementsAre("VOLTAGE_DIFFERS "));
  EXPECT_THAT(Why("mains_voltage_v: 230"), IsEmpty());
}

TEST(Unfit, ComparesTheWholeArcOrdered) {
  EXPECT_THAT(Why("motion { flexion_deg: 130 }"), ElementsAre("ORDER_BEYOND_MODEL flexion"));
  EXPECT_THAT(Why("motion { extension_deg: -12 }"), ElementsAre("ORDER_BEYOND_MODEL extension"));
  EXPECT_THAT(Why("motion { flexion_deg: 120 extension_deg: -10 speed_deg_per_min: 150 }"),
              IsEmpty());
  EXPECT_THAT(Why("motion { flexion_deg: 90 } progression { days { day: 9 motion { flexion_deg: "
                  "125 } } }"),
              ElementsAre("ORDER_BEYOND_MODEL flexion"));
}

TEST(Unfit, ComparesSpeedAndPause) {
  EXPECT_THAT(Why("motion { speed_deg_per_min: 151 }"), ElementsAre("ORDER_BEYOND_MODEL speed"));
  EXPECT_THAT(Why("motion { speed_deg_per_min: 20 }"), ElementsAre("ORDER_BEYOND_MODEL speed"));
  EXPECT_THAT(Why("motion { pause_s: 61 }"), ElementsAre("ORDER_BEYOND_MODEL pause"));
}

TEST(Unfit, AModelMayStandInForTheOneAskedFor) {
  EXPECT_THAT(Why("model: 'short'", "long"), IsEmpty());
  EXPECT_THAT(Why("model: 'long'", "short"), ElementsAre("NOT_THE_MODEL_ASKED_FOR "));
}

TEST(Unfit, SaysWhatItCouldNotJudge) {
  EXPECT_THAT(NotJudged(Details("measures { thigh { hundredths: 4000 measured_in: "
                                "LENGTH_UNIT_CM } }"),
                        Models()),
              ElementsAre("shank", "leg length", "girth", "doorway", "weight", "extension limit",
                          "flexion limit"));
}

}  // namespace
}  // namespace ferrule::order
