// data/words.txt is what has been promised: bytes once written and clients once built must stay
// readable, so a line in it never changes and never goes.
#include <algorithm>
#include <fstream>
#include <iterator>
#include <string>
#include <vector>

#include "gtest/gtest.h"
#include "tests/proto/words.h"

namespace ferrule::words {
namespace {

std::vector<std::string> Promised() {
  std::ifstream in(std::string(FERRULE_TEST_DATA) + "/words.txt");
  std::vector<std::string> lines;
  for (std::string line; std::getline(in, line);) {
    if (!line.empty() && line[0] != '#') lines.push_back(line);
  }
  std::sort(lines.begin(), lines.end());
  return lines;
}

TEST(WordsBaseline, NothingPromisedHasChangedOrGone) {
  const std::vector<std::string> now = Lines();
  const std::vector<std::string> promised = Promised();
  ASSERT_FALSE(promised.empty());
  std::vector<std::string> gone;
  std::set_difference(promised.begin(), promised.end(), now.begin(), now.end(),
                      std::back_inserter(gone));
  for (const std::string& line : gone) ADD_FAILURE() << "changed or gone: " << line;
}

TEST(WordsBaseline, WhatIsNewIsPromisedToo) {
  const std::vector<std::string> now = Lines();
  const std::vector<std::string> promised = Promised();
  std::vector<std::string> fresh;
  std::set_difference(now.begin(), now.end(), promised.begin(), promised.end(),
                      std::back_inserter(fresh));
  if (fresh.empty()) return;
  const std::string wanted = std::string(FERRULE_TEST_REPORTS) + "/words.txt";
  std::ofstream out(wanted);
  out << "# Written by proto_words_test; lines are added, never changed.\n";
  for (const std::string& line : now) out << line << "\n";
  ADD_FAILURE() << fresh.size() << " new, the first is: " << fresh.front()
                << "\nwhen they are right: cp " << wanted << " " << FERRULE_TEST_DATA
                << "/words.txt";
}

}  // namespace
}  // namespace ferrule::words
