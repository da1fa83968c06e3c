#include "tests/cli/program.h"

#include <fcntl.h>
#include <poll.h>
#include <signal.h>
#include <spawn.h>
#include <sys/wait.h>
#include <unistd.h>

#include <array>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <sstream>

namespace ferrule::testing {
namespace {

// Owns the C arrays that posix_spawn wants.
class Strings {
 public:
  explicit Strings(std::vector<std::string> strings) : strings_(std::move(strings)) {
    for (std::string& s : strings_) pointers_.push_back(s.data());
    pointers_.push_back(nullptr);
  }
  char** data() { return pointers_.data(); }

 private:
  std::vector<std::string> strings_;
  std::vector<char*> pointers_;
};

Strings Words(const std::string& program, const std::vector<std::string>& words) {
  std::vector<std::string> all = {program};
  all.insert(all.end(), words.begin(), words.end());
  return Strings(all);
}

// A search path, what the sanitizers go by, and what is given.
Strings Variables(const Environment& environment) {
  std::vector<std::string> all;
  const char* path = std::getenv("PATH");
  all.push_back(std::string("PATH=") + (path == nullptr ? "/usr/bin:/bin" : path));
  for (const char* name : {"ASAN_OPTIONS", "LSAN_OPTIONS", "TSAN_OPTIONS", "UBSAN_OPTIONS"}) {
    const char* value = std::getenv(name);
    if (value != nullptr) all.push_back(std::string(name) + "=" + value);
  }
  for (const auto& [name, value] : environment) all.push_back(name + "=" + value);
  return Strings(all);
}

pid_t Spawn(const std::string& program, const std::vector<std::string>& words,
            const Environment& environment, int out, int err) {
  posix_spawn_file_actions_t actions;
  posix_spawn_file_actions_init(&actions);
  posix_spawn_file_actions_addopen(&actions, 0, "/dev/null", O_RDONLY, 0);
  posix_spawn_file_actions_adddup2(&actions, out, 1);
  posix_spawn_file_actions_adddup2(&actions, err, 2);
  Strings argv = Words(program, words);
  Strings envp = Variables(environment);
  pid_t pid = -1;
  const int error =
      posix_spawnp(&pid, program.c_str(), &actions, nullptr, argv.data(), envp.data());
  posix_spawn_file_actions_destroy(&actions);
  EXPECT_EQ(error, 0) << "cannot start " << program;
  return error == 0 ? pid : -1;
}

// Reads both ends until both are closed.
void Drain(int out_fd, int err_fd, Outcome* outcome) {
  std::array<pollfd, 2> ends = {pollfd{out_fd, POLLIN, 0}, pollfd{err_fd, POLLIN, 0}};
  while (ends[0].fd >= 0 || ends[1].fd >= 0) {
    if (poll(ends.data(), ends.size(), -1) < 0) break;
    for (pollfd& end : ends) {
      if (end.fd < 0 || end.revents == 0) continue;
      std::array<char, 4096> block{};
      const ssize_t length = read(end.fd, block.data(), block.size());
      std::string& text = &end == &ends[0] ? outcome->out : outcome->err;
      if (length > 0) {
        text.append(block.data(), static_cast<size_t>(length));
      } else {
        end.fd = -1;
      }
    }
  }
}

std::vector<std::string> ShellWords(const std::string& line) {
  std::vector<std::string> words;
  std::string word;
  bool begun = false;
  char quote = 0;
  for (const char c : line) {
    if (quote != 0) {
      if (c == quote) {
        quote = 0;
      } else {
        word += c;
      }
    } else if (c == '\'' || c == '"') {
      quote = c;
      begun = true;
    } else if (c == ' ') {
      if (begun) words.push_back(word);
      word.clear();
      begun = false;
    } else {
      word += c;
      begun = true;
    }
  }
  if (begun) words.push_back(word);
  return words;
}

}  // namespace

Outcome RunProgram(const std::string& program, const std::vector<std::string>& words,
                   const Environment& environment) {
  Outcome outcome;
  std::array<int, 2> out{}, err{};
  if (pipe2(out.data(), O_CLOEXEC) != 0 || pipe2(err.data(), O_CLOEXEC) != 0) return outcome;
  const pid_t pid = Spawn(program, words, environment, out[1], err[1]);
  close(out[1]);
  close(err[1]);
  Drain(out[0], err[0], &outcome);
  close(out[0]);
  close(err[0]);
  int status = 0;
  if (pid > 0 && waitpid(pid, &status, 0) == pid && WIFEXITED(status)) {
    outcome.exit = WEXITSTATUS(status);
  }
  return outcome;
}

Background::Background(const std::string& program, const std::vector<std::string>& words,
                       const Environment& environment)
    : pid_(Spawn(program, words, environment, 2, 2)) {}

Background::~Background() {
  if (pid_ <= 0) return;
  kill(pid_, SIGTERM);
  waitpid(pid_, nullptr, 0);
}

ProgramTest::ProgramTest() {
  std::string pattern = (std::filesystem::temp_directory_path() / "ferrule-XXXXXX").string();
  folder_ = mkdtemp(pattern.data());
  environment_ = {
      {"FERRULE_DEPOT", depot()}, {"FERRULE_ACTOR", "tech-ada"}, {"FERRULE_BRANCH", "north"}};
}

ProgramTest::~ProgramTest() {
  std::error_code ignored;
  std::filesystem::remove_all(folder_, ignored);
}

Outcome ProgramTest::Ferrule(const std::string& line) {
  return RunProgram(FERRULE_BIN, ShellWords(line), environment_);
}

std::string ProgramTest::Done(const std::string& line) {
  const Outcome outcome = Ferrule(line);
  EXPECT_EQ(outcome.exit, 0) << "ferrule " << line << "\n" << outcome.err;
  EXPECT_EQ(outcome.err, "") << "ferrule " << line;
  return outcome.out;
}

void ProgramTest::MakeDepot() {
  Done("init");
  Done(std::string("settings apply ") + FERRULE_SETTINGS +
       " --from 2026-01-01 --at '2026-01-01 08:00'");
}

void ProgramTest::MakeReadyUnit() {
  Done(
      "add-unit K-1 knee-a north-dock --part pendant=PEN-1 --part foot-plate=FP-1 "
      "--meter 100 --at '2026-03-02 08:00'");
  Done("clean K-1 wipe-q --wet-min 12 --at '2026-03-02 09:00'");
  Done("erase K-1 --at '2026-03-02 09:05'");
  Done(
      "inspect K-1 visual=yes stop=yes earth-ohm=0.12 insulation-mohm=20 leakage-ua=85 "
      "--tester T-3 --at '2026-03-02 10:00'");
  Done("move K-1 north-shelf --at '2026-03-02 10:10'");
}

void WriteFile(const std::string& path, const std::string& content) {
  std::ofstream(path, std::ios::binary) << content;
}

std::string ReadFile(const std::string& path) {
  std::stringstream content;
  content << std::ifstream(path, std::ios::binary).rdbuf();
  return content.str();
}

}  // namespace ferrule::testing
