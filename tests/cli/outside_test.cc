// Settings files and other things from outside that can be wrong.
#include <sstream>

#include "gmock/gmock.h"
#include "tests/cli/program.h"

namespace ferrule::testing {
namespace {

using ::testing::HasSubstr;

using SettingsFile = ProgramTest;

// The example with one line replaced.
std::string WithLine(int number, const std::string& replacement) {
  std::stringstream in(ReadFile(FERRULE_SETTINGS));
  std::string out;
  int at = 0;
  for (std::string line; std::getline(in, line);) {
    out += (++at == number ? replacement : line) + "\n";
  }
  return out;
}

TEST_F(SettingsFile, AnErrorIsNamedByItsLine) {
  Done("init");
  WriteFile(Path("wrong.textproto"), WithLine(40, "  sidded: true"));
  for (const char* verb : {"check", "apply"}) {
    const Outcome outcome =
        Ferrule(std::string("settings ") + verb + " " + Path("wrong.textproto"));
    EXPECT_EQ(outcome.exit, 2) << outcome.err;
    EXPECT_THAT(outcome.err, HasSubstr("wrong.textproto:40:"));
    EXPECT_THAT(outcome.err, HasSubstr("sidded"));
  }
  EXPECT_THAT(Done("info"), HasSubstr("entries  0"));
}

TEST_F(SettingsFile, AReferenceToNothingIsNamed) {
  std::string text = ReadFile(FERRULE_SETTINGS);
  const std::string right = "checklist: \"class2-check\"";
  text.replace(text.find(right), right.size(), "checklist: \"class9-check\"");
  WriteFile(Path("wrong.textproto"), text);
  const Outcome outcome = Ferrule("settings check " + Path("wrong.textproto"));
  EXPECT_EQ(outcome.exit, 2);
  EXPECT_THAT(outcome.err, HasSubstr("class9-check"));
}

TEST_F(SettingsFile, TheExampleIsValidAndComesBackAsItWent) {
  EXPECT_THAT(Done(std::string("settings check ") + FERRULE_SETTINGS),
              HasSubstr("valid: version 2026-01 with 2 branches, 2 classes, 3 models"));
  MakeDepot();
  WriteFile(Path("again.textproto"), Done("settings show"));
  EXPECT_THAT(Done("settings check " + Path("again.textproto")),
              HasSubstr("valid: version 2026-01"));
}

TEST_F(SettingsFile, OldVersionsStayReadable) {
  MakeDepot();
  std::string text = ReadFile(FERRULE_SETTINGS);
  text.replace(text.find("2026-01"), 7, "2026-02");
  WriteFile(Path("next.textproto"), text);
  Done("settings apply " + Path("next.textproto") + " --from 2026-02-01 --at '2026-01-20 09:00'");
  EXPECT_THAT(Done("settings show --at 2026-01-15"), HasSubstr("version: \"2026-01\""));
  EXPECT_THAT(Done("settings show"), HasSubstr("version: \"2026-02\""));
  EXPECT_THAT(Done("settings show --version 2026-01"), HasSubstr("version: \"2026-01\""));
  const Outcome none = Ferrule("settings show --version 2031-01");
  EXPECT_EQ(none.exit, 3);
}

TEST_F(SettingsFile, AFileThatIsNotThereIsNamed) {
  const Outcome outcome = Ferrule("settings check " + Path("none.textproto"));
  EXPECT_EQ(outcome.exit, 2);
  EXPECT_THAT(outcome.err, HasSubstr("none.textproto"));
  WriteFile(Path("binary"), std::string("\0\x01\x02", 3));
  EXPECT_EQ(Ferrule("settings check " + Path("binary")).exit, 2);
  EXPECT_EQ(Ferrule("settings check " + Path("")).exit, 2);
}

using OtherInput = ProgramTest;

TEST_F(OtherInput, FutureTimesAndUnknownPlacesAreRefused) {
  MakeDepot();
  const Outcome future = Ferrule("add-unit K-1 knee-a north-dock --at '2126-01-01 08:00'");
  EXPECT_EQ(future.exit, 1);
  EXPECT_THAT(future.err, HasSubstr("[time-in-future]"));
  const Outcome place = Ferrule("add-unit K-1 knee-a nirth-dock --at '2026-03-02 08:00'");
  EXPECT_EQ(place.exit, 3);
  EXPECT_THAT(place.err, HasSubstr("nirth-dock"));
}

TEST_F(OtherInput, LongAndStrangeWordsDoNoHarm) {
  MakeDepot();
  for (const std::string& word :
       {std::string(100'000, 'x'), std::string("\xff\xfe"), std::string("K\x1b[2J"),
        std::string("../../etc"), std::string("'; DROP TABLE entries; --")}) {
    const Outcome outcome = RunProgram(FERRULE_BIN, {"move", word, "north-dock"}, environment());
    EXPECT_GT(outcome.exit, 0);
    EXPECT_LT(outcome.exit, 5);
    EXPECT_EQ(outcome.err.find('\x1b'), std::string::npos);
  }
  EXPECT_THAT(Done("info"), HasSubstr("entries  1"));
}

TEST_F(OtherInput, AFullDiskForTheAnswerIsNoSuccess) {
  MakeDepot();
  const Outcome outcome =
      RunProgram("/bin/sh", {"-c", "exec \"$0\" info > /dev/full", FERRULE_BIN}, environment());
  EXPECT_EQ(outcome.exit, 4);
  EXPECT_THAT(outcome.err, HasSubstr("could not be written out"));
}

}  // namespace
}  // namespace ferrule::testing
