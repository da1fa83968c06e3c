// The synthetic depot, made by the program itself.
#include <chrono>
#include <thread>

#include "gmock/gmock.h"
#include "nlohmann/json.hpp"
#include "tests/cli/program.h"

namespace ferrule::testing {
namespace {

using ::testing::ContainsRegex;
using ::testing::HasSubstr;
using ::testing::Not;

class Demo : public ProgramTest {
 protected:
  // Sequence and digest of a new synthetic depot of a few thousand facts.
  std::string Head(const std::string& file, const std::string& seed) {
    const std::string made =
        Done("demo " + Path(file) + " --units 40 --facts 3000 --format json --seed " + seed);
    const auto info = nlohmann::json::parse(made);
    return info.at("headSequence").get<std::string>() + " " +
           info.at("headDigest").get<std::string>();
  }
};

TEST_F(Demo, NothingThatItMakesIsRefusedAndTheRecordsVerify) {
  const std::string made = Done("demo " + depot() + " --units 40 --facts 3000");
  EXPECT_THAT(made, HasSubstr(" opened, 0 refused\n"));
  EXPECT_THAT(made, ContainsRegex("head [0-9]+ [0-9a-f]{64}\n"));
  const Outcome verified = RunProgram(FERRULED_BIN, {"verify", "--depot", depot()}, environment());
  EXPECT_EQ(verified.exit, 0) << verified.err;
  EXPECT_THAT(verified.out, ContainsRegex("^ok: [0-9]+ entries, 3[0-9]{3} facts"));
}

TEST_F(Demo, TheSameSeedGivesTheSameDepot) {
  const std::string first = Head("first.ferrule", "7");
  EXPECT_EQ(first.substr(first.find(' ') + 1).size(), 44U) << "a digest of 32 bytes in base64";
  // Not at the same time of day: the clock must not matter.
  std::this_thread::sleep_for(std::chrono::milliseconds(20));
  EXPECT_EQ(Head("again.ferrule", "7"), first);
  EXPECT_NE(Head("other.ferrule", "8"), first);
}

// Its branches keep different times.
TEST_F(Demo, AWordThatIsNoTimeIsSaidToBeNoneBeforeItIsAskedWhoseClockIsMeant) {
  Done("demo " + depot() + " --units 40 --facts 3000");
  environment().erase("FERRULE_BRANCH");
  const Outcome no_time = Ferrule("board --known-at yesterdy");
  EXPECT_EQ(no_time.exit, 2);
  EXPECT_THAT(no_time.err, HasSubstr("'yesterdy' is no time"));
  EXPECT_THAT(Ferrule("board --known-at 14:05").err,
              HasSubstr("the branches keep different times"));
}

TEST_F(Demo, ItEndsByTheDayAskedFor) {
  const std::string made =
      Done("demo " + depot() + " --units 20 --years 1 --through 2026-11-27 --seed 2");
  EXPECT_THAT(made, ContainsRegex("It stands at 2026-11-2[0-7]T"));
}

TEST_F(Demo, ItSaysThatItIsSynthetic) {
  Head("synthetic.ferrule", "1");
  EXPECT_THAT(Done("info --depot " + Path("synthetic.ferrule")), ContainsRegex("data +synthetic"));
  MakeDepot();
  EXPECT_THAT(Done("info"), Not(HasSubstr("synthetic")));
}

TEST_F(Demo, AFileThatIsThereIsNeverTouched) {
  MakeDepot();
  WriteFile(Path("list.csv"), "unit,model\n");
  for (const std::string& file : {depot(), Path("list.csv"), Path("")}) {
    const std::string before = ReadFile(file);
    const Outcome refused = Ferrule("demo " + file + " --units 20 --facts 100");
    EXPECT_EQ(refused.exit, 2) << file;
    EXPECT_EQ(refused.out, "") << file;
    EXPECT_THAT(refused.err, HasSubstr("is there already; name a new file")) << file;
    EXPECT_EQ(ReadFile(file), before) << file;
  }
  EXPECT_THAT(Done("info"), HasSubstr("entries  1"));
}

TEST_F(Demo, NumbersOutOfBoundsAreNamed) {
  for (const char* flag : {"--units 5", "--years 0", "--facts none", "--seed -1",
                           "--through 2026-13-01", "--through tomorrow"}) {
    const Outcome refused = Ferrule("demo " + Path("new.ferrule") + " " + flag);
    EXPECT_EQ(refused.exit, 2) << flag;
    EXPECT_THAT(refused.err, HasSubstr(std::string(flag, 7))) << flag;
    EXPECT_EQ(ReadFile(Path("new.ferrule")), "") << flag;
  }
}

}  // namespace
}  // namespace ferrule::testing
