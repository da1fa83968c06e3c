#include "cli/catalog.h"

#include <gtest/gtest.h>

#include <set>
#include <string>

namespace ferrule::cli {
namespace {

TEST(Catalog, EveryCommandHasANameOfItsOwn) {
  std::set<std::string> names;
  for (const Command& command : AllCommands()) {
    EXPECT_TRUE(names.insert(std::string(command.name)).second) << command.name;
    EXPECT_EQ(FindCommand(command.name), &command) << command.name;
  }
  EXPECT_GT(names.size(), 100u);
}

}  // namespace
}  // namespace ferrule::cli
