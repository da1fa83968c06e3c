// Runs the real programs against real depot files.
#pragma once

#include <sys/types.h>

#include <map>
#include <string>
#include <vector>

#include "gtest/gtest.h"

namespace ferrule::testing {

struct Outcome {
  int exit = -1;  // exit code; -1 when the program was ended by a signal
  std::string out;
  std::string err;
};

using Environment = std::map<std::string, std::string>;

// Runs a program to its end with exactly that environment (and PATH).
Outcome RunProgram(const std::string& program, const std::vector<std::string>& words,
                   const Environment& environment);

// A program that goes on while the test does; ended and waited for by the destructor.
class Background {
 public:
  Background(const std::string& program, const std::vector<std::string>& words,
             const Environment& environment);
  ~Background();
  Background(const Background&) = delete;
  Background& operator=(const Background&) = delete;
  pid_t pid() const { return pid_; }

 private:
  pid_t pid_;
};

// A folder of its own for each test, with the words of a command typed at a counter of branch
// "north" by "tech-ada".
class ProgramTest : public ::testing::Test {
 protected:
  ProgramTest();
  ~ProgramTest() override;

  // A path in the test's folder.
  std::string Path(const std::string& name) const { return folder_ + "/" + name; }
  std::string depot() const { return Path("test.ferrule"); }
  Environment& environment() { return environment_; }

  // ferrule with words as a shell takes them apart: by blanks, '...' and "...".
  Outcome Ferrule(const std::string& line);
  // The same, which must go well; gives standard output.
  std::string Done(const std::string& line);

  // A depot with the example settings in force since the beginning of 2026, in a new file.
  void MakeDepot();
  // A knee frame K-1 that was cleaned, erased and inspected and stands ready on the shelf.
  void MakeReadyUnit();

 private:
  std::string folder_;
  Environment environment_;
};

void WriteFile(const std::string& path, const std::string& content);
std::string ReadFile(const std::string& path);

}  // namespace ferrule::testing
