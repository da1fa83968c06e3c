// The published cases of days and cover typed at a counter, and what the program answers.
#include "tests/core/cover/published.h"

#include <gtest/gtest.h>

#include "core/time/civil.h"
#include "google/protobuf/text_format.h"
#include "google/protobuf/util/json_util.h"
#include "tests/cli/program.h"
#include "tests/core/cover/told.h"

namespace ferrule::testing {
namespace {

class Published : public ProgramTest {
 protected:
  v1::GetDayLedgerResponse Days(const PublishedCase& published, int number) {
    const std::string name = std::to_string(number);
    environment()["FERRULE_DEPOT"] = Path(name + ".ferrule");
    Done("init");
    std::string text;
    google::protobuf::TextFormat::PrintToString(
        SettingsOf(published.rental, ReadFile(FERRULE_SETTINGS)), &text);
    WriteFile(Path(name), text);
    Done("settings apply " + Path(name) + " --from 2005-01-01 --at 2005-01-01");
    for (const ToldFact& told : FactsOf(published.rental)) {
      const Outcome told_now = Ferrule(told.command + " --at " + time::FormatUtc(told.at_us));
      EXPECT_EQ(told_now.exit, 0) << told.command << "\n" << told_now.err;
    }
    const std::string json = Done("days R-1 --through " + published.through + " --format json");
    v1::GetDayLedgerResponse days;
    EXPECT_TRUE(google::protobuf::util::JsonStringToMessage(json, &days).ok()) << json;
    return days;
  }
};

TEST_F(Published, CasesAreAnsweredAsPublished) {
  int number = 0;
  for (const PublishedCase& published : PublishedCases()) {
    ExpectPublished(published, Days(published, ++number));
  }
}

}  // namespace
}  // namespace ferrule::testing
