// Looking ahead as typed by a manager, and the pages that come out.
#include "gmock/gmock.h"
#include "nlohmann/json.hpp"
#include "tests/cli/program.h"

namespace ferrule::testing {
namespace {

using ::testing::AllOf;
using ::testing::ContainsRegex;
using ::testing::HasSubstr;
using ::testing::Not;
using Json = nlohmann::json;

class Plan : public ProgramTest {
 protected:
  Plan() {
    MakeDepot();
    MakeReadyUnit();
    Done(
        "take-order R-1 --class knee --side left --days 21 --prescriber D-7 "
        "--surgery tomorrow");
  }
};

TEST_F(Plan, OneUnitAndOneOrderGiveAStatedPooledForecast) {
  EXPECT_THAT(Done("forecast"),
              AllOf(HasSubstr("north knee: 1 unit, "), HasSubstr("1 order waiting"),
                    HasSubstr("pooled"), HasSubstr("odds, not a promise"), Not(HasSubstr("nan"))));
  const Json json = Json::parse(Done("forecast --format json"));
  ASSERT_EQ(json["forecasts"].size(), 1u);
  EXPECT_EQ(json["forecasts"][0]["days"].size(), 56u);
  EXPECT_THAT(Done("forecast --days 7 --format csv"), HasSubstr("branch,device_class,date,mean,"));
  EXPECT_THAT(Done("forecast --explain"),
              AllOf(HasSubstr("orders/R-1"), HasSubstr("by tech-ada"), HasSubstr("Why: ")));
}

TEST_F(Plan, EveryAnswerComesFromTheSmallestDepot) {
  EXPECT_THAT(Done("fleet-size --paths 200 --days 60"),
              AllOf(HasSubstr("goes elsewhere"), HasSubstr("one day less in the cycle")));
  EXPECT_THAT(Done("suggest-transfers"), HasSubstr("no transfer lanes"));
  EXPECT_THAT(Done("what-if north knee --units 2 --paths 200"),
              AllOf(HasSubstr("2 units more"), HasSubstr("without a unit")));
  EXPECT_THAT(Done("measures --from 2026-03-01 --through 2026-03-10"),
              AllOf(HasSubstr("time-utilisation"), HasSubstr("nothing counted")));
  EXPECT_THAT(Done("measures idle-share --from 2026-03-03 --through 2026-03-04 --explain"),
              AllOf(HasSubstr("units/K-1"), HasSubstr("how: ")));
  EXPECT_THAT(Done("diary"), HasSubstr("no forecast is kept yet"));
  EXPECT_THAT(Done("backtest --origins 2 --days 3"), HasSubstr("nothing could be scored yet"));
}

TEST_F(Plan, AKeptForecastIsInTheDiary) {
  EXPECT_THAT(Done("note-forecast --days 14"), HasSubstr("forecast noted of north"));
  EXPECT_THAT(Done("diary"), HasSubstr("Forecasts kept from"));
  EXPECT_THAT(Done("show forecasts/north"), HasSubstr("Kept forecasts of north"));
}

TEST_F(Plan, WrongWordsAreToldWhatIsRight) {
  const Outcome out = Ferrule("forecast --branch nowhere");
  EXPECT_EQ(out.exit, 3);
  EXPECT_THAT(out.err, HasSubstr("the branches are: north, south"));
  EXPECT_EQ(Ferrule("forecast --days 0.5").exit, 2);
  EXPECT_EQ(Ferrule("forecast --days 900").exit, 2);
  EXPECT_THAT(Ferrule("measures speed").err, HasSubstr("the measures are: "));
  EXPECT_THAT(Ferrule("what-if north knee").err, HasSubstr("say what changes"));
  EXPECT_THAT(Ferrule("what-if north knee --away D-7").err, HasSubstr("PRESCRIBER=FROM..THROUGH"));
  EXPECT_EQ(Ferrule("what-if north knee --units 0").exit, 2);
  EXPECT_THAT(Ferrule("forecast --html /nowhere/x.html").err, HasSubstr("cannot be written"));
}

TEST_F(Plan, PagesAreWholeAndAskForNothingOutside) {
  for (const char* command : {"forecast", "fleet-size --paths 200 --days 30", "board", "diary",
                              "measures --from 2026-03-01 --through 2026-03-10",
                              "what-if north knee --units 1 --paths 200"}) {
    const std::string file = Path("page.html");
    const Outcome out = Ferrule(std::string(command) + " --html '" + file + "'");
    EXPECT_EQ(out.exit, 0) << command << out.err;
    EXPECT_THAT(out.err, HasSubstr("page.html; open it in a browser")) << command;
    const std::string html = ReadFile(file);
    EXPECT_THAT(html, AllOf(HasSubstr("<!DOCTYPE html>"), HasSubstr("</html>"),
                            HasSubstr("prefers-color-scheme"), HasSubstr("<table>"),
                            Not(HasSubstr("<script")), Not(HasSubstr("http://")),
                            Not(HasSubstr("https://")), Not(ContainsRegex("[^a-z]nan[^a-z]"))))
        << command;
    // Every picture has a title and a description.
    size_t pictures = 0, titles = 0, descriptions = 0;
    for (size_t at = 0; (at = html.find("role=\"img\"", at)) != std::string::npos; ++at) ++pictures;
    for (size_t at = 0; (at = html.find("<title id", at)) != std::string::npos; ++at) ++titles;
    for (size_t at = 0; (at = html.find("<desc id", at)) != std::string::npos; ++at) ++descriptions;
    EXPECT_EQ(pictures, titles);
    EXPECT_EQ(pictures, descriptions);
  }
}

}  // namespace
}  // namespace ferrule::testing
