// Depot files: made, shared between processes, and refused when they are none.
#include <sqlite3.h>

#include <algorithm>
#include <chrono>
#include <filesystem>
#include <thread>

#include "gmock/gmock.h"
#include "tests/cli/program.h"

namespace ferrule::testing {
namespace {

using ::testing::HasSubstr;

using DepotFile = ProgramTest;

TEST_F(DepotFile, InitMakesAFileOnce) {
  EXPECT_THAT(Done("init"), HasSubstr("an empty depot"));
  EXPECT_THAT(Done("info"), HasSubstr("entries  0"));
  const Outcome again = Ferrule("init");
  EXPECT_EQ(again.exit, 1);
  EXPECT_THAT(again.err, HasSubstr("is a depot already"));
}

TEST_F(DepotFile, AnEmptyDepotSaysThatItHasNoBranchesYet) {
  Done("init");
  const Outcome outcome = Ferrule("add-unit K-1 knee-a north-dock --at '2026-03-02 08:00'");
  EXPECT_EQ(outcome.exit, 2);
  EXPECT_THAT(outcome.err, HasSubstr("no branches yet"));
  EXPECT_THAT(Done("board"), HasSubstr("no units and no orders yet"));
}

TEST_F(DepotFile, AMissingFileIsNamed) {
  const Outcome outcome = Ferrule("board");
  EXPECT_EQ(outcome.exit, 4);
  EXPECT_THAT(outcome.err, HasSubstr(depot()));
}

TEST_F(DepotFile, AnotherFileIsNoDepot) {
  WriteFile(depot(), "unit,model\nK-1,knee-a\n" + std::string(5000, 'x'));
  const std::string before = ReadFile(depot());
  for (const char* line : {"board", "init"}) {
    const Outcome outcome = Ferrule(line);
    EXPECT_EQ(outcome.exit, 4) << line;
    EXPECT_THAT(outcome.err, HasSubstr(depot())) << line;
  }
  EXPECT_EQ(ReadFile(depot()), before);
}

TEST_F(DepotFile, ANewerSchemaIsRefusedAndLeftAlone) {
  MakeDepot();
  sqlite3* database = nullptr;
  ASSERT_EQ(sqlite3_open(depot().c_str(), &database), SQLITE_OK);
  const char* later =
      "INSERT INTO schema_migrations (version, applied_us, name) "
      "VALUES (99, 0, 'of a later release')";
  EXPECT_EQ(sqlite3_exec(database, later, nullptr, nullptr, nullptr), SQLITE_OK)
      << sqlite3_errmsg(database);
  sqlite3_close(database);
  const Outcome outcome = Ferrule("board");
  EXPECT_EQ(outcome.exit, 4);
  EXPECT_THAT(outcome.err, HasSubstr("schema version 99"));
}

// Short commands at once wait for each other instead of failing.
TEST_F(DepotFile, CommandsAtTheSameTimeAllGetThrough) {
#ifdef __SANITIZE_THREAD__
  constexpr int kClerks = 2;  // more are through too late, as each takes seconds
#else
  constexpr int kClerks = 6;
#endif
  MakeDepot();
  MakeReadyUnit();
  std::vector<std::thread> clerks;
  std::vector<Outcome> outcomes(kClerks);
  for (size_t i = 0; i < outcomes.size(); ++i) {
    clerks.emplace_back([this, &outcomes, i] {
      outcomes[i] = Ferrule("take-order R-" + std::to_string(i) + " --at '2026-03-02 11:00'");
    });
  }
  for (std::thread& clerk : clerks) clerk.join();
  for (const Outcome& outcome : outcomes) EXPECT_EQ(outcome.exit, 0) << outcome.err;
  EXPECT_THAT(Done("info"), HasSubstr("entries  " + std::to_string(6 + kClerks)));
}

class WithServer : public ProgramTest {
 protected:
  // Waits until the server answers on the file's socket. Before there is one, a command would take
  // the file from it.
  bool Answers() {
    for (int i = 0; i < 200; ++i) {
      if (std::filesystem::exists(depot() + ".sock") && Ferrule("info").exit == 0) return true;
      std::this_thread::sleep_for(std::chrono::milliseconds(50));
    }
    return false;
  }
};

TEST_F(WithServer, TheOwnerOfAFileIsAskedOverItsSocket) {
  MakeDepot();
  const Background server(FERRULED_BIN, {"serve", "--depot", depot()}, environment());
  ASSERT_TRUE(Answers());
  MakeReadyUnit();
  EXPECT_THAT(Done("why K-1 --at '2026-03-02 11:00'"), HasSubstr("K-1 is ready to go"));
  const Outcome refused = Ferrule("move K-1 north-shelf --from north-dock");
  EXPECT_EQ(refused.exit, 1);
  EXPECT_THAT(refused.err, HasSubstr("[not-at-that-place]"));
}

TEST_F(WithServer, TheFeedIsFollowedAsEntriesCome) {
  MakeDepot();
  const Background server(FERRULED_BIN, {"serve", "--depot", depot()}, environment());
  ASSERT_TRUE(Answers());
  const std::string log = Path("feed.jsonl");
  const Background reader(
      "/bin/sh", {"-c", "exec \"$0\" feed --follow --format json > \"$1\"", FERRULE_BIN, log},
      environment());
  MakeReadyUnit();
  std::string seen;
  for (int i = 0; i < 100 && std::count(seen.begin(), seen.end(), '\n') < 6; ++i) {
    std::this_thread::sleep_for(std::chrono::milliseconds(50));
    seen = ReadFile(log);
  }
  EXPECT_EQ(std::count(seen.begin(), seen.end(), '\n'), 6);
  EXPECT_THAT(seen, HasSubstr("\"sequence\":\"6\""));
}

TEST_F(DepotFile, WhatIsTypedToFerruledBeatsTheEnvironment) {
  MakeDepot();
  const auto verify = [&](const std::vector<std::string>& words) {
    std::vector<std::string> all = {"verify"};
    all.insert(all.end(), words.begin(), words.end());
    return RunProgram(FERRULED_BIN, all, environment());
  };
  ASSERT_EQ(environment()["FERRULE_DEPOT"], depot());
  EXPECT_THAT(verify({}).out, HasSubstr("ok: 1 entr"));
  const Outcome other = verify({"--depot", Path("other.ferrule")});
  EXPECT_EQ(other.exit, 3);
  EXPECT_THAT(other.err, HasSubstr("there is no depot file " + Path("other.ferrule")));
  EXPECT_THAT(verify({"--postgres", "host=/nowhere"}).err, HasSubstr("cannot reach the database"));
  environment()["FERRULE_POSTGRES"] = "host=/nowhere";
  EXPECT_THAT(verify({"--depot", depot()}).out, HasSubstr("ok: 1 entr"));
  const Outcome both = verify({});
  EXPECT_EQ(both.exit, 2);
  EXPECT_THAT(both.err, HasSubstr("FERRULE_DEPOT"));
}

TEST_F(DepotFile, FollowingTheFeedNeedsAServerThatOthersRecordThrough) {
  MakeDepot();
  const Outcome refused = Ferrule("feed --follow");
  EXPECT_EQ(refused.exit, 1);
  EXPECT_THAT(refused.err, HasSubstr("ferruled serve --depot " + depot()));
}

TEST_F(DepotFile, AServerThatIsNotThereLeavesTheOutcomeOpenAndSaysHowToRepeat) {
  environment().erase("FERRULE_DEPOT");
  environment()["FERRULE_SERVER"] = "127.0.0.1:1";
  const Outcome outcome = Ferrule(
      "move K-1 north-dock --note 'two words' --at "
      "2026-03-02T08:00:00Z");
  EXPECT_EQ(outcome.exit, 4);
  EXPECT_THAT(outcome.err, HasSubstr("It is not known whether the report was recorded"));
  EXPECT_THAT(outcome.err, HasSubstr("ferrule move K-1 north-dock --note 'two words' --at "
                                     "2026-03-02T08:00:00Z --entry-id "));
}

}  // namespace
}  // namespace ferrule::testing
