#include "core/depot/settings_source.h"

#include <gtest/gtest.h>

#include "tests/core/depot/sample_settings.h"

namespace ferrule::depot {
namespace {

struct Case {
  const char* path;
  int line;
};

TEST(SettingsSource, KnowsTheLineOfEveryField) {
  const SettingsSource source(ferrule::testing::kSettingsText);
  constexpr Case kCases[] = {
      {"version", 2},
      {"currency", 3},
      {"branches[0].time_zone", 6},
      {"branches[0].places[1].kind", 8},
      {"branches[1]", 10},
      {"branches[1].places[0].display_name", 16},
      {"device_classes[0].kit_items[1]", 23},
      {"models[0].parts[0].position", 29},
      {"models[0].motion.max_deg", 34},
      {"checklists[0].items[1].max", 50},
      {"due_policy.else_earliest[1]", 60},
  };
  for (const Case& c : kCases) EXPECT_EQ(source.LineOf(c.path), c.line) << c.path;
}

TEST(SettingsSource, GivesTheBlockAroundAFieldThatIsNotThere) {
  const SettingsSource source(ferrule::testing::kSettingsText);
  EXPECT_EQ(source.LineOf("branches[1].display_name"), 10);
  EXPECT_EQ(source.LineOf("branches[1].places[0].nothing.more"), 13);
  EXPECT_EQ(source.LineOf("branches[7].id"), 0);
  EXPECT_EQ(source.LineOf(""), 0);
}

TEST(SettingsSource, ReadsListsAndEveryWayToWriteABlock) {
  const SettingsSource source(
      "device_classes: <\n"
      "  id: 'a'\n"
      "  kit_items: ['x',\n"
      "              'y']\n"
      "  kit_items: 'z'\n"
      ">\n"
      "branches: [{ id: 'n' },\n"
      "  { id:\n"
      "    'w' }]\n"
      "due_policy { first_known: [DUE_BASIS_COVER_END,\n"
      "  DUE_BASIS_AGREED_PICKUP] }\n");
  constexpr Case kCases[] = {
      {"device_classes[0].id", 2},
      {"device_classes[0].kit_items[0]", 3},
      {"device_classes[0].kit_items[1]", 4},
      {"device_classes[0].kit_items[2]", 5},
      {"branches[0].id", 7},
      {"branches[1]", 8},
      {"branches[1].id", 8},
      {"due_policy.first_known[1]", 11},
  };
  for (const Case& c : kCases) EXPECT_EQ(source.LineOf(c.path), c.line) << c.path;
}

TEST(SettingsSource, FindsTheStatementAtAPosition) {
  const std::string text = "version: 'a'\n\tbranches {\tid: 'n' }\nversio: 3\n";
  const SettingsSource source(text);
  EXPECT_EQ(source.At(0, 9, "")->path, "version");
  const Statement* id = source.At(1, 24, "");  // after two tabs of width 8
  ASSERT_NE(id, nullptr);
  EXPECT_EQ(id->path, "branches[0].id");
  EXPECT_EQ(text.substr(id->begin, id->end - id->begin), "id: 'n'");
  const Statement* unknown = source.At(2, 0, "");
  EXPECT_EQ(unknown->path, "versio");
  EXPECT_EQ(unknown->field, nullptr);
  EXPECT_NE(unknown->within, nullptr);
}

TEST(SettingsSource, StepsBackToTheWordThatAComplaintQuotes) {
  const SettingsSource source("branches { places { kind: KIND_X\n id: 'p' } }");
  EXPECT_EQ(source.At(1, 1, "Unknown value \"KIND_X\"")->path, "branches[0].places[0].kind");
  EXPECT_EQ(source.At(1, 1, "Something else")->path, "branches[0].places[0].id");
}

TEST(SettingsSource, GoesOnWhateverIsWrong) {
  for (const char* text :
       {"", "}", "]]]", "{{{{", "branches {", "branches [", "id:", ": : :", "\"open",
        "models { id: }", "models: [ { id: 'a' ", "\xff\xfe", "a: -", "# only a comment"}) {
    const SettingsSource source(text);
    EXPECT_GE(source.LineOf("models[0].id"), 0) << text;
    for (int column = 0; column < 12; ++column) source.At(0, column, "\"a\"");
  }
}

}  // namespace
}  // namespace ferrule::depot
