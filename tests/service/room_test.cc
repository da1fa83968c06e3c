// Tests service/room.h: a log that a reading holds up is told once, and so is its end. The alarm of
// a full disk is tested through the health service (gate_test.cc). All synthetic.
#include "service/room.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <string>
#include <vector>

#include "absl/strings/str_cat.h"
#include "tests/support/entries.h"
#include "tests/support/ledger_depot.h"

namespace ferrule::service {
namespace {

using ::testing::ElementsAre;
using ::testing::IsEmpty;
using ::testing::StartsWith;

TEST(Room, ALogThatGrowsIsToldOnceAndSoIsItsEnd) {
  testing::LedgerDepot depot("sqlite");
  std::vector<std::string> lines;
  Room room(&depot.ledger(), depot.path(), 0, 100'000,
            [&lines](const std::string& line) { lines.push_back(line); });
  depot.MustRecord(testing::SettingsEntry());
  depot.MustVerify();  // closes the file, which takes the log in
  room.Look();
  EXPECT_THAT(lines, IsEmpty());
  for (int i = 1; i <= 40; ++i) {
    depot.MustRecord(testing::ReceiveUnit(absl::StrCat("K-", i), testing::kStartUs));
    room.Look();
  }
  EXPECT_THAT(lines, ElementsAre(StartsWith("the depot's log has grown to 0 MiB, as a reading")));
  depot.MustVerify();
  room.Look();
  room.Look();
  EXPECT_THAT(lines, ElementsAre(StartsWith("the depot's log has grown"),
                                 "the depot's log was taken in and is short again"));
}

}  // namespace
}  // namespace ferrule::service
