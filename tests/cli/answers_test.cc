// The same numbers as text, JSON and CSV.
#include <map>
#include <sstream>

#include "gmock/gmock.h"
#include "nlohmann/json.hpp"
#include "tests/cli/program.h"

namespace ferrule::testing {
namespace {

using ::testing::HasSubstr;
using Json = nlohmann::json;
using Row = std::map<std::string, std::string>;

// Rows by column name. The tests' cells hold neither quotes nor line breaks.
std::vector<Row> CsvRows(const std::string& csv) {
  std::vector<std::vector<std::string>> lines;
  std::stringstream stream(csv);
  for (std::string line; std::getline(stream, line);) {
    EXPECT_TRUE(line.ends_with('\r')) << line;
    line.pop_back();
    std::vector<std::string> cells;
    std::stringstream in_line(line + ",");
    for (std::string cell; std::getline(in_line, cell, ',');) cells.push_back(cell);
    lines.push_back(cells);
  }
  std::vector<Row> rows;
  for (size_t i = 1; i < lines.size(); ++i) {
    EXPECT_EQ(lines[i].size(), lines[0].size());
    for (size_t c = 0; c < lines[0].size(); ++c) {
      if (c == 0) rows.emplace_back();
      rows.back()[lines[0][c]] = lines[i][c];
    }
  }
  return rows;
}

// "unit_count" is unitCount in JSON.
std::string CamelCase(const std::string& key) {
  std::string out;
  for (size_t i = 0; i < key.size(); ++i) {
    if (key[i] == '_' && i + 1 < key.size()) {
      out += static_cast<char>(std::toupper(static_cast<unsigned char>(key[++i])));
    } else {
      out += key[i];
    }
  }
  return out;
}

class Answers : public ProgramTest {
 protected:
  Answers() {
    MakeDepot();
    MakeReadyUnit();
    Done(
        "add-unit K-2 knee-b north-dock --serial =1+2 --part pendant=PEN-2 "
        "--at '2026-03-02 08:00'");
    Done(
        "take-order R-1 --class knee --side left --branch north --days 21 --needed 2026-03-03 "
        "--patient P-7 --prescriber D-5 --procedure tka --surgery 2026-03-02 --signed 2026-03-01 "
        "--at '2026-03-02 11:00'");
    Done("hand-over K-1 R-1 --kit pad-set=L5 --signed-by patient --at '2026-03-03 10:00'");
  }

  // Every number of the CSV stands in the JSON row under the same name.
  void ExpectSameNumbers(const std::string& line, const std::string& list,
                         const std::vector<std::string>& numbers) {
    const std::vector<Row> rows = CsvRows(Done(line + " --format csv"));
    const Json json = Json::parse(Done(line + " --format json"));
    const std::string text = Done(line);
    ASSERT_EQ(rows.size(), json.at(list).size()) << line;
    ASSERT_FALSE(rows.empty()) << line;
    for (size_t i = 0; i < rows.size(); ++i) {
      for (const std::string& key : numbers) {
        EXPECT_EQ(rows[i].at(key), std::to_string(json[list][i].at(CamelCase(key)).get<int>()))
            << line << " " << key;
        EXPECT_THAT(text, HasSubstr(rows[i].at(key)));
      }
    }
  }
};

TEST_F(Answers, BoardHasTheSameNumbersInEveryFormat) {
  ExpectSameNumbers("board", "rows",
                    {"unit_count", "ready_count", "held_count", "on_rent_count", "soiled_count",
                     "to_inspect_count", "in_repair_count", "blocked_count", "unaccounted_count",
                     "due_today_count", "overdue_count", "waiting_count"});
  const Json board = Json::parse(Done("board --branch north --format json"));
  EXPECT_EQ(board["rows"][0]["unitCount"], 2);
  EXPECT_EQ(board["rows"][0]["onRentCount"], 1);
  EXPECT_EQ(board["rows"][0]["soiledCount"], 1);
}

TEST_F(Answers, DueHasTheSameNumbersInEveryFormat) {
  ExpectSameNumbers("due", "rows", {"overdue_days", "failed_pickup_count"});
  const std::vector<Row> rows = CsvRows(Done("due --format csv"));
  ASSERT_EQ(rows.size(), 1u);
  // 21 days of use, the day of the hand-over being the first: 3 March to 23 March.
  EXPECT_EQ(rows[0].at("due_date"), "2026-03-23");
  EXPECT_EQ(rows[0].at("basis"), "prescription end");
}

TEST_F(Answers, UnitsAndOrdersAreTheSameInEveryFormat) {
  ExpectSameNumbers("units", "units", {"question_count"});
  const std::vector<Row> units = CsvRows(Done("units --commitment on-rent --format csv"));
  ASSERT_EQ(units.size(), 1u);
  EXPECT_EQ(units[0].at("unit"), "K-1");
  EXPECT_EQ(units[0].at("order"), "R-1");
  const std::vector<Row> orders = CsvRows(Done("orders --status on-rent --format csv"));
  ASSERT_EQ(orders.size(), 1u);
  EXPECT_EQ(orders[0].at("order"), "R-1");
  EXPECT_EQ(orders[0].at("unit"), "K-1");
}

TEST_F(Answers, HoursHaveOneDecimalForPeopleAndAreSecondsInJson) {
  Done("read-meter K-1 112.5 --at '2026-03-10 10:00'");
  EXPECT_THAT(Done("show K-1"), HasSubstr("meter hours  112.5"));
  EXPECT_THAT(Done("show K-1 --format csv"), HasSubstr("meter hours,112.5\r\n"));
  const Json json = Json::parse(Done("show K-1 --format json"));
  EXPECT_EQ(json["state"]["unit"]["meter"]["readingS"], "405000");
}

TEST_F(Answers, CellsThatLookLikeFormulasAreGuarded) {
  EXPECT_THAT(Done("show K-2 --format csv"), HasSubstr("serial,'=1+2\r\n"));
  EXPECT_EQ(Json::parse(Done("show K-2 --format json"))["state"]["unit"]["serial"], "=1+2");
}

TEST_F(Answers, ABareIdFindsUnitsOrdersPartsAndLots) {
  EXPECT_THAT(Done("show K-1"), HasSubstr("Unit K-1"));
  EXPECT_THAT(Done("show R-1"), HasSubstr("Order R-1"));
  EXPECT_THAT(Done("show PEN-1"), HasSubstr("Part PEN-1"));
  EXPECT_THAT(Done("show L5"), HasSubstr("Lot L5"));
  EXPECT_THAT(Done("show lots/L5"), HasSubstr("pieces used  1"));
}

TEST_F(Answers, AnswersCanBeAskedAsKnownThen) {
  const Outcome early = Ferrule("show K-1 --known-at 2026-01-02T00:00:00Z");
  EXPECT_EQ(early.exit, 3) << early.out;
  EXPECT_THAT(Done("show K-1 --known-at now"), HasSubstr("Unit K-1"));
}

TEST_F(Answers, ExplainNamesRecordsSettingsAndKnownTime) {
  const std::string board = Done("board --explain");
  EXPECT_THAT(board, HasSubstr("from every record up to no. 9"));
  EXPECT_THAT(board, HasSubstr("settings 2026-01 in force from 2026-01-01 00:00"));
}

TEST_F(Answers, TheFeedGivesEveryEntryOnceInOrder) {
  const Json feed = Json::parse(Done("feed --format json"));
  ASSERT_EQ(feed["entries"].size(), 9u);
  for (size_t i = 0; i < feed["entries"].size(); ++i) {
    EXPECT_EQ(feed["entries"][i]["sequence"], std::to_string(i + 1));
  }
  const Json after = Json::parse(Done("feed --after 7 --format json"));
  EXPECT_EQ(after["entries"].size(), 2u);
  const Json of_unit = Json::parse(Done("feed --of K-2 --format json"));
  EXPECT_EQ(of_unit["entries"].size(), 1u);
}

TEST_F(Answers, AListThatWasCutOffSaysSo) {
  const Outcome one = Ferrule("units --limit 1 --format csv");
  EXPECT_EQ(one.exit, 0);
  EXPECT_EQ(CsvRows(one.out).size(), 1u);
  EXPECT_THAT(one.err, HasSubstr("only the first 1 are shown"));
}

TEST_F(Answers, TheChecklistNamesItsLimitsAndTheirSource) {
  const std::string list = Done("checklist K-1");
  EXPECT_THAT(list, HasSubstr("earth-ohm"));
  EXPECT_THAT(list, HasSubstr("at most 0.3 ohm"));
  EXPECT_THAT(list, HasSubstr("the standard itself was not read"));
  EXPECT_THAT(list, HasSubstr("local codes and licensed practice rule"));
}

TEST_F(Answers, RefusalsAreDataToo) {
  const Outcome refused = Ferrule("move K-2 north-shelf --at '2026-03-02 09:00' --format json");
  EXPECT_EQ(refused.exit, 1);
  EXPECT_EQ(refused.out, "");
  const Json json = Json::parse(refused.err);
  EXPECT_EQ(json["code"], "FAILED_PRECONDITION");
  EXPECT_EQ(json["exitCode"], 1);
  EXPECT_EQ(json["refusal"]["findings"][0]["reason"], "REASON_SOILED_INTO_CLEAN_PLACE");
}

}  // namespace
}  // namespace ferrule::testing
