#include "core/order/measures.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "google/protobuf/text_format.h"
#include "tests/support/folded_depot.h"

namespace ferrule::order {
namespace {

using ::testing::ElementsAre;
using ::testing::IsEmpty;

v1::PatientMeasures Measures(const std::string& text) {
  v1::PatientMeasures measures;
  if (!google::protobuf::TextFormat::ParseFromString(text, &measures)) {
    throw std::invalid_argument(text);
  }
  return measures;
}

depot::Rules Bands() {
  v1::Settings settings;
  google::protobuf::TextFormat::ParseFromString(
      "measure_bands { kind: MEASURE_KIND_LEG min_mm: 600 max_mm: 1200 } "
      "measure_bands { kind: MEASURE_KIND_WEIGHT min_g: 35000 max_g: 200000 }",
      &settings);
  return depot::Rules(settings);
}

TEST(Measures, AreConvertedExactly) {
  v1::Length inches;
  inches.set_hundredths(3250);
  inches.set_measured_in(v1::LENGTH_UNIT_INCH);
  EXPECT_EQ(ToMillimetres(inches), 826);  // 32.5 x 25.4 = 825.5
  EXPECT_EQ(Words(inches), "32.5 in");
  v1::Weight pounds;
  pounds.set_hundredths(18000);
  pounds.set_measured_in(v1::WEIGHT_UNIT_POUND);
  EXPECT_EQ(ToGrams(pounds), 81647);  // 180 x 453.59237 = 81,646.6
  EXPECT_EQ(Words(pounds), "180 lb");
  EXPECT_EQ(CentimetreWords(826), "82.6 cm");
  EXPECT_EQ(KilogramWords(81647), "81.6 kg");
}

TEST(Measures, GiveTheLegAsMeasuredOrAsTheSumOfItsParts) {
  EXPECT_EQ(LegMillimetres(Measures("leg { hundredths: 8000 measured_in: LENGTH_UNIT_CM } "
                                    "thigh { hundredths: 4000 measured_in: LENGTH_UNIT_CM } "
                                    "shank { hundredths: 4200 measured_in: LENGTH_UNIT_CM }")),
            800);
  EXPECT_EQ(LegMillimetres(Measures("thigh { hundredths: 4000 measured_in: LENGTH_UNIT_CM } "
                                    "shank { hundredths: 4200 measured_in: LENGTH_UNIT_CM }")),
            820);
  EXPECT_EQ(LegMillimetres(Measures("thigh { hundredths: 4000 measured_in: LENGTH_UNIT_CM }")),
            std::nullopt);
}

TEST(Measures, ALegOf32CentimetresIsAskedAboutAsInches) {
  const std::vector<v1::Finding> asked = QuestionableMeasures(
      Measures("leg { hundredths: 3200 measured_in: LENGTH_UNIT_CM }"), Bands());
  ASSERT_EQ(asked.size(), 1u);
  EXPECT_EQ(asked[0].reason(), v1::REASON_MEASURE_IMPLAUSIBLE);
  EXPECT_EQ(testing::ValueOf(asked[0], "found"), "32 cm");
  EXPECT_EQ(testing::ValueOf(asked[0], "limit"), "60 cm to 120 cm");
  EXPECT_EQ(testing::ValueOf(asked[0], "expected"), "32 in");
}

TEST(Measures, AWeightInPoundsTakenForKilogramsIsAskedAbout) {
  const std::vector<v1::Finding> asked = QuestionableMeasures(
      Measures("weight { hundredths: 25000 measured_in: WEIGHT_UNIT_KG }"), Bands());
  ASSERT_EQ(asked.size(), 1u);
  EXPECT_EQ(testing::ValueOf(asked[0], "expected"), "250 lb");
}

TEST(Measures, NoSuggestionIsMadeWhenTheOtherUnitFitsNoBetter) {
  const std::vector<v1::Finding> asked = QuestionableMeasures(
      Measures("leg { hundredths: 500 measured_in: LENGTH_UNIT_CM }"), Bands());
  ASSERT_EQ(asked.size(), 1u);
  EXPECT_EQ(testing::ValueOf(asked[0], "expected"), "");
}

TEST(Measures, InsideTheirBandOrWithoutOneAreBelieved) {
  EXPECT_THAT(
      QuestionableMeasures(Measures("leg { hundredths: 6000 measured_in: LENGTH_UNIT_CM } "
                                    "girth { hundredths: 1 measured_in: LENGTH_UNIT_CM } "
                                    "weight { hundredths: 3500 measured_in: WEIGHT_UNIT_KG }"),
                           Bands()),
      IsEmpty());
}

TEST(Measures, AreListedInTheOrderOfTheirKinds) {
  std::vector<std::string> items;
  for (const Measure& m :
       MeasuresTaken(Measures("weight { hundredths: 8000 measured_in: WEIGHT_UNIT_KG } "
                              "shank { hundredths: 4000 measured_in: LENGTH_UNIT_CM }"))) {
    items.push_back(std::string(MeasureWords(m.kind)) + " " + m.words);
  }
  EXPECT_THAT(items, ElementsAre("shank 40 cm", "weight 80 kg"));
}

}  // namespace
}  // namespace ferrule::order
