#include "cli/line.h"

#include <set>

#include "cli/catalog.h"
#include "gmock/gmock.h"
#include "gtest/gtest.h"

namespace ferrule::cli {
namespace {

using ::testing::ElementsAre;
using ::testing::HasSubstr;

std::string ErrorOf(std::vector<std::string> words) {
  const auto line = ParseLine(std::move(words));
  EXPECT_FALSE(line.ok());
  EXPECT_EQ(line.status().code(), absl::StatusCode::kInvalidArgument);
  return std::string(line.status().message());
}

TEST(Line, TakesPositionalsAndFlagsInAnyOrder) {
  const auto line = ParseLine({"move", "--from", "north-dock", "K-1", "--observed", "north-bay"});
  ASSERT_TRUE(line.ok()) << line.status();
  EXPECT_EQ(line->command().name, "move");
  EXPECT_EQ(line->Arg("UNIT"), "K-1");
  EXPECT_EQ(line->Arg("PLACE"), "north-bay");
  EXPECT_EQ(line->Get("--from"), "north-dock");
  EXPECT_TRUE(line->Has("--observed"));
  EXPECT_FALSE(line->Has("--check"));
}

TEST(Line, TakesSharedFlagsAheadOfTheVerb) {
  const auto line = ParseLine({"--depot", "a.ferrule", "--format=json", "show", "K-1"});
  ASSERT_TRUE(line.ok()) << line.status();
  EXPECT_EQ(line->command().name, "show");
  EXPECT_EQ(line->Get("--depot"), "a.ferrule");
  EXPECT_EQ(line->Get("--format"), "json");
}

TEST(Line, TakesTwoWordCommands) {
  const auto line = ParseLine({"settings", "apply", "depot.textproto"});
  ASSERT_TRUE(line.ok()) << line.status();
  EXPECT_EQ(line->command().name, "settings apply");
  EXPECT_EQ(line->Arg("FILE"), "depot.textproto");
}

TEST(Line, TakesNegativeNumbersAsValues) {
  const auto line = ParseLine({"take-order", "R-1", "--extension", "-5"});
  ASSERT_TRUE(line.ok()) << line.status();
  EXPECT_EQ(line->Get("--extension"), "-5");
}

TEST(Line, TakesManyReadings) {
  const auto line = ParseLine({"inspect", "K-1", "a=1", "b=2", "--tester", "T", "c=3"});
  ASSERT_TRUE(line.ok()) << line.status();
  EXPECT_THAT(line->Args("ITEM=VALUE"), ElementsAre("a=1", "b=2", "c=3"));
}

TEST(Line, TakesAnythingBehindTwoHyphens) {
  const auto line = ParseLine({"hold", "K-1", "other", "--", "--odd"});
  ASSERT_TRUE(line.ok()) << line.status();
  EXPECT_EQ(line->Arg("REASON"), "--odd");
}

TEST(Line, NamesTheNearestVerb) {
  EXPECT_THAT(ErrorOf({"mvoe", "K-1", "north-bay"}), HasSubstr("did you mean move?"));
  EXPECT_THAT(ErrorOf({"settings"}),
              HasSubstr("settings apply, settings check, settings holidays, settings show"));
}

TEST(Line, NamesTheNearestFlag) {
  EXPECT_THAT(ErrorOf({"move", "K-1", "north-bay", "--form", "x"}), HasSubstr("--from"));
  EXPECT_THAT(ErrorOf({"units", "--formt", "csv"}), HasSubstr("did you mean --format?"));
}

TEST(Line, SaysWhatIsMissingOrTooMuch) {
  EXPECT_THAT(ErrorOf({"move", "K-1"}), HasSubstr("needs PLACE, where it is now"));
  EXPECT_THAT(ErrorOf({"move", "K-1", "a", "b"}), HasSubstr("'b' is one word too many"));
  EXPECT_THAT(ErrorOf({"move", "K-1", "a", "--from"}), HasSubstr("--from needs a value"));
  EXPECT_THAT(ErrorOf({"move", "K-1", "a", "--from", "--observed"}),
              HasSubstr("--from needs a value"));
  EXPECT_THAT(ErrorOf({"move", "K-1", "a", "--observed=yes"}), HasSubstr("takes no value"));
  EXPECT_THAT(ErrorOf({"move", "K-1", "a", "--from", "x", "--from", "y"}),
              HasSubstr("given twice"));
  EXPECT_THAT(ErrorOf({"units", "--format", "xml"}), HasSubstr("none of text, json, csv"));
}

// What people type must be short and mean one thing only.
TEST(CommandTree, NamesAreUniqueAndEveryCommandSaysWhatItDoes) {
  std::set<std::string_view> names;
  for (const Command& command : AllCommands()) {
    EXPECT_TRUE(names.insert(command.name).second) << command.name;
    EXPECT_FALSE(command.summary.empty()) << command.name;
    EXPECT_FALSE(command.example.empty()) << command.name;
    EXPECT_NE(command.run, nullptr) << command.name;
    EXPECT_LE(command.name.size(), 18u) << command.name;
    for (const Flag* flag : FlagsOf(command)) {
      EXPECT_EQ(flag->name.substr(0, 2), "--") << command.name;
      EXPECT_FALSE(flag->help.empty()) << command.name << " " << flag->name;
    }
  }
}

TEST(CommandTree, EveryExampleIsALineThatParses) {
  for (const Command& command : AllCommands()) {
    std::vector<std::string> words;
    std::string word;
    bool quoted = false;
    for (const char c : std::string(command.example) + " ") {
      if (c == '\'') {
        quoted = !quoted;
      } else if (c == ' ' && !quoted) {
        if (!word.empty()) words.push_back(word);
        word.clear();
      } else {
        word += c;
      }
    }
    // "source <(ferrule ...)" and "ferrule man | man -l -" go through a shell.
    if (command.kind == Kind::kLocal || words.front() != "ferrule") continue;
    words.erase(words.begin());
    const auto line = ParseLine(words);
    ASSERT_TRUE(line.ok()) << command.example << "\n" << line.status();
    EXPECT_EQ(line->command().name, command.name);
  }
}

}  // namespace
}  // namespace ferrule::cli
