// Looking ahead as typed by a manager, and the pages that come out.
#include "gmock/gmock.h"
#include "nlohmann/json.hpp"
#include "tests/cli/program.h"

namespace ferrule::testing {
namespace {

using ::testing::AllOf;
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
        "--surgery 2026-03-09 --at '2026-03-02 11:00'");
  }
};

TEST_F(Plan, AKeptForecastIsInTheDiary) {
  EXPECT_THAT(Done("note-forecast --days 14"), HasSubstr("forecast noted of north"));
  EXPECT_THAT(Done("diary"), HasSubstr("Forecasts kept from"));
  EXPECT_THAT(Done("show forecasts/north"), HasSubstr("Kept forecasts of north"));
}

}  // namespace
}  // namespace ferrule::testing
