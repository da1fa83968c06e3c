// Help, man page and completion, each made from the command tree.
#include <sstream>

#include "gmock/gmock.h"
#include "tests/cli/program.h"

namespace ferrule::testing {
namespace {

using ::testing::HasSubstr;
using ::testing::Not;

using Manual = ProgramTest;

TEST_F(Manual, HelpListsCommandsByWhoUsesThem) {
  const std::string help = Done("--help");
  for (const char* heading : {"Warehouse", "Bench", "Intake and dispatch", "In the field",
                              "Answers", "Keeping the records"}) {
    EXPECT_THAT(help, HasSubstr(heading));
  }
  EXPECT_THAT(help, HasSubstr("Exit codes: 0 done, 1 refused by a rule, 2 wrong usage"));
  EXPECT_EQ(help, Done("help"));
}

TEST_F(Manual, HelpOfOneCommandNamesItsFlags) {
  const std::string help = Done("clean --help");
  EXPECT_THAT(help, HasSubstr("ferrule clean UNIT PRODUCT"));
  EXPECT_THAT(help, HasSubstr("--wet-min MINUTES"));
  EXPECT_THAT(help, HasSubstr("--observed"));
  EXPECT_THAT(help, HasSubstr("For instance: ferrule clean"));
  EXPECT_EQ(help, Done("help clean"));
  EXPECT_THAT(Done("help settings apply"), HasSubstr("ferrule settings apply FILE"));
}

TEST_F(Manual, EveryCommandHasHelp) {
  const std::string all = Done("help");
  int commands = 0;
  std::stringstream lines(all);
  for (std::string line; std::getline(lines, line);) {
    if (line.rfind("  ", 0) != 0) continue;
    const std::string name = line.substr(2, line.find("  ", 2) - 2);
    EXPECT_THAT(Done(name + " --help"), HasSubstr("ferrule " + name)) << name;
    ++commands;
  }
  EXPECT_GT(commands, 45);
}

TEST_F(Manual, TheManPageRendersWithoutWarnings) {
  WriteFile(Path("ferrule.1"), Done("man"));
  const Outcome roff =
      RunProgram("groff", {"-man", "-Tascii", "-P-bcou", "-ww", Path("ferrule.1")}, {});
  ASSERT_EQ(roff.exit, 0) << roff.err;
  EXPECT_EQ(roff.err, "");
  EXPECT_THAT(roff.out, HasSubstr("hand-over"));
  EXPECT_THAT(roff.out, HasSubstr("FERRULE_DEPOT"));
}

class Completion : public ProgramTest {
 protected:
  // What bash would offer for a line whose last word is being typed.
  std::string Offered(const std::string& line) {
    WriteFile(Path("completion.bash"), Done("completion bash"));
    std::string words;
    int count = 0;
    std::stringstream stream(line);
    for (std::string word; stream >> word;) {
      words += "'" + word + "' ";
      ++count;
    }
    if (line.ends_with(' ')) words += "''";
    const int at = line.ends_with(' ') ? count : count - 1;
    const Outcome bash = RunProgram(
        "bash",
        {"--norc", "-c",
         "source '" + Path("completion.bash") + "'; COMP_WORDS=(" + words +
             "); COMP_CWORD=" + std::to_string(at) + "; _ferrule; echo \"${COMPREPLY[*]}\""},
        {});
    EXPECT_EQ(bash.exit, 0) << bash.err;
    EXPECT_EQ(bash.err, "");
    return bash.out;
  }
};

TEST_F(Completion, OffersVerbs) {
  EXPECT_EQ(Offered("ferrule rec"),
            "receive recall-open recall-block recall-note recall-close recall recalls records-due "
            "records-hold records-release\n");
  EXPECT_EQ(Offered("ferrule settings "), "apply check holidays show\n");
}

TEST_F(Completion, OffersTheFlagsOfTheVerb) {
  EXPECT_EQ(Offered("ferrule clean K-1 wipe-q --wet"), "--wet-min --wet-from --wet-to\n");
  EXPECT_THAT(Offered("ferrule show K-1 --"), HasSubstr("--known-at"));
  EXPECT_THAT(Offered("ferrule show K-1 --"), Not(HasSubstr("--wet-min")));
  EXPECT_THAT(Offered("ferrule settings apply f --f"), HasSubstr("--from"));
}

TEST_F(Completion, OffersTheWordsOfAFlag) {
  EXPECT_EQ(Offered("ferrule board --format "), "text json csv\n");
  EXPECT_EQ(Offered("ferrule take-order R-1 --side l"), "left\n");
}

}  // namespace
}  // namespace ferrule::testing
