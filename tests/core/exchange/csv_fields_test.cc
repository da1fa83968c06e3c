#include "core/exchange/csv_fields.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "core/time/civil.h"

namespace ferrule::exchange {
namespace {

using ::testing::IsEmpty;
using ::testing::SizeIs;

v1::Settings SmallSettings() {
  v1::Settings settings;
  v1::Branch& branch = *settings.add_branches();
  branch.set_id("north");
  branch.set_time_zone("UTC");
  branch.add_places()->set_id("dock");
  settings.add_models()->set_id("knee-a");
  v1::Checklist& list = *settings.add_checklists();
  list.set_id("knee-check");
  list.set_version("3");
  list.add_items()->set_id("earth");
  return settings;
}

class CsvRows : public ::testing::Test {
 protected:
  RowFact Read(v1::ImportKind kind, const CsvValues& values) {
    return ReadRow(kind, values, {&mapping_, &rules_, absl::UTCTimeZone(), 1'800'000'000'000'000});
  }
  v1::CsvMapping mapping_;
  depot::Rules rules_{SmallSettings()};
};

TEST_F(CsvRows, OfEveryKindBecomeFacts) {
  const RowFact unit = Read(v1::IMPORT_KIND_UNITS, {{"unit", "K-1"},
                                                    {"model", "knee-a"},
                                                    {"place", "dock"},
                                                    {"side", "left"},
                                                    {"meter_h", "12.4"},
                                                    {"cost", "2500.50"}});
  EXPECT_THAT(unit.troubles, IsEmpty());
  EXPECT_EQ(unit.fact.unit_received().meter_s(), 44640);
  EXPECT_EQ(unit.fact.unit_received().cost_minor(), 250050);
  const RowFact reading = Read(v1::IMPORT_KIND_READINGS,
                               {{"unit", "K-1"}, {"time", "2026-03-01 08:00"}, {"meter_h", "1"}});
  EXPECT_EQ(reading.fact.meter_read().reading_s(), 3600);
  const RowFact result = Read(v1::IMPORT_KIND_TEST_RESULTS, {{"unit", "K-1"},
                                                             {"time", "2026-03-01T08:00:00Z"},
                                                             {"checklist", "knee-check"},
                                                             {"item", "earth"},
                                                             {"value", "0.2"}});
  EXPECT_EQ(result.fact.inspection_done().checklist_version(), "3");
  EXPECT_EQ(result.fact.inspection_done().readings(0).value(), 0.2);
  const RowFact stock = Read(v1::IMPORT_KIND_OPENING_STOCK, {{"item", "pad-set"},
                                                             {"lot", "L-1"},
                                                             {"place", "dock"},
                                                             {"pieces", "40"},
                                                             {"expiry_date", "2027-01-31"}});
  EXPECT_THAT(stock.troubles, IsEmpty());
  EXPECT_EQ(stock.fact.stock_received().piece_count(), 40);
}

TEST_F(CsvRows, NameTheFieldThatIsWrong) {
  const auto wrong = [&](v1::ImportKind kind, const CsvValues& values) {
    const RowFact row = Read(kind, values);
    return row.troubles.empty() ? "" : row.troubles[0].where();
  };
  const auto units = [&](const char* field, const char* value) {
    CsvValues values = {{"unit", "K-1"}, {"model", "knee-a"}, {"place", "dock"}};
    for (auto& [name, text] : values) {
      if (name == field) {
        text = value;
        return wrong(v1::IMPORT_KIND_UNITS, values);
      }
    }
    values.emplace_back(field, value);
    return wrong(v1::IMPORT_KIND_UNITS, values);
  };
  EXPECT_EQ(units("model", "none"), "model");
  EXPECT_EQ(units("place", "nowhere"), "place");
  EXPECT_EQ(units("unit", "no blank"), "unit");
  EXPECT_EQ(units("side", "up"), "side");
  EXPECT_EQ(units("purpose", "sale"), "purpose");
  EXPECT_EQ(units("meter_h", "-1"), "meter_h");
  EXPECT_EQ(units("time", "2100-01-01"), "time");
  EXPECT_EQ(units("time", "soon"), "time");
  EXPECT_EQ(wrong(v1::IMPORT_KIND_READINGS, {{"unit", "K-1"}}), "time");
  EXPECT_EQ(
      wrong(v1::IMPORT_KIND_OPENING_STOCK, {{"item", "pad"}, {"place", "dock"}, {"pieces", "1.5"}}),
      "pieces");
}

TEST(CsvLayouts, FindTheColumnsOfAMapping) {
  v1::CsvMapping mapping;
  for (const auto& [column, field] :
       {std::pair("Tag", "unit"), std::pair("When", "time"), std::pair("Hours", "meter_h")}) {
    v1::CsvColumn& c = *mapping.add_columns();
    c.set_column(column);
    c.set_field(field);
  }
  const CsvLayout layout =
      LayOut(v1::IMPORT_KIND_READINGS, mapping, {"Hours", "Remark", "Tag", "When"});
  EXPECT_THAT(layout.troubles, IsEmpty());
  std::vector<v1::Trouble> troubles;
  const CsvValues values = ValuesOf(layout, {"1.5", "x", " K-1 ", ""}, &troubles);
  EXPECT_EQ(ValueOf(values, "unit"), "K-1");
  EXPECT_EQ(ValueOf(values, "meter_h"), "1.5");
  EXPECT_EQ(ValueOf(values, "time"), "");
  ValuesOf(layout, {"1.5"}, &troubles);
  EXPECT_THAT(troubles, SizeIs(1));
  EXPECT_THAT(LayOut(v1::IMPORT_KIND_READINGS, mapping, {"Tag"}).troubles, SizeIs(2));
}

TEST(CsvDays, AreReadInTheMappingsForm) {
  google::type::Date day;
  EXPECT_TRUE(ParseCsvDay("03/02/2026", "MM/DD/YYYY", &day));
  EXPECT_EQ(time::FormatDay(time::ToDay(day)), "2026-03-02");
  EXPECT_TRUE(ParseCsvDay("2026-03-02", "", &day));
  EXPECT_FALSE(ParseCsvDay("02/30/2026", "MM/DD/YYYY", &day));
  EXPECT_FALSE(ParseCsvDay("2026-3-2", "", &day));
  EXPECT_FALSE(ParseCsvDay("20260302", "", &day));
}

}  // namespace
}  // namespace ferrule::exchange
