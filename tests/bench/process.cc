#include "tests/bench/process.h"

#include <arpa/inet.h>
#include <fcntl.h>
#include <netinet/in.h>
#include <signal.h>
#include <spawn.h>
#include <sys/socket.h>
#include <sys/wait.h>
#include <unistd.h>

#include <array>
#include <cstdio>
#include <cstdlib>
#include <fstream>

#include "tests/bench/measure.h"

extern char** environ;

namespace ferrule::bench {
namespace {

std::string Joined(const std::vector<std::string>& command) {
  std::string text;
  for (const std::string& word : command) text += (text.empty() ? "" : " ") + word;
  return text;
}

// Starts a program with its standard output going to `out`, or nowhere when that is -1.
pid_t Start(const std::vector<std::string>& command, int out) {
  std::vector<char*> arguments;
  for (const std::string& word : command) arguments.push_back(const_cast<char*>(word.c_str()));
  arguments.push_back(nullptr);
  posix_spawn_file_actions_t actions;
  posix_spawn_file_actions_init(&actions);
  posix_spawn_file_actions_addopen(&actions, STDIN_FILENO, "/dev/null", O_RDONLY, 0);
  if (out < 0) {
    posix_spawn_file_actions_addopen(&actions, STDOUT_FILENO, "/dev/null", O_WRONLY, 0);
  } else {
    posix_spawn_file_actions_adddup2(&actions, out, STDOUT_FILENO);
  }
  pid_t pid = 0;
  const int error = posix_spawnp(&pid, arguments[0], &actions, nullptr, arguments.data(), environ);
  posix_spawn_file_actions_destroy(&actions);
  if (error != 0) GiveUp("cannot start " + Joined(command));
  return pid;
}

void WaitFor(pid_t pid, const std::vector<std::string>& command) {
  int status = 0;
  if (waitpid(pid, &status, 0) != pid || !WIFEXITED(status) || WEXITSTATUS(status) != 0) {
    GiveUp("failed: " + Joined(command));
  }
}

}  // namespace

void GiveUp(const std::string& why) {
  std::fprintf(stderr, "ferrule_bench: %s\n", why.c_str());
  std::exit(1);
}

double TimeOf(const std::vector<std::string>& command) {
  const Stopwatch watch;
  WaitFor(Start(command, -1), command);
  return watch.Seconds();
}

std::string OutputOf(const std::vector<std::string>& command) {
  std::array<int, 2> ends{};
  if (pipe2(ends.data(), O_CLOEXEC) != 0) GiveUp("no pipe");
  const pid_t pid = Start(command, ends[1]);
  close(ends[1]);
  std::string output;
  std::array<char, 4096> buffer{};
  for (ssize_t n; (n = read(ends[0], buffer.data(), buffer.size())) > 0;) {
    output.append(buffer.data(), static_cast<size_t>(n));
  }
  close(ends[0]);
  WaitFor(pid, command);
  return output;
}

Server::Server(const std::vector<std::string>& command) : pid_(Start(command, -1)) {}

Server::~Server() {
  kill(pid_, SIGTERM);
  int status = 0;
  waitpid(pid_, &status, 0);
}

double Server::MemoryMiB() const {
  std::ifstream in("/proc/" + std::to_string(pid_) + "/statm");
  double total_pages = 0;
  double resident_pages = 0;
  in >> total_pages >> resident_pages;
  return resident_pages * static_cast<double>(sysconf(_SC_PAGESIZE)) / (1024.0 * 1024.0);
}

double Server::CpuSeconds() const {
  std::ifstream in("/proc/" + std::to_string(pid_) + "/stat");
  std::string skipped;
  std::getline(in, skipped, ')');              // the program's name may hold spaces
  for (int i = 0; i < 11; ++i) in >> skipped;  // state to cmajflt
  double user_ticks = 0;
  double system_ticks = 0;
  in >> user_ticks >> system_ticks;
  return (user_ticks + system_ticks) / static_cast<double>(sysconf(_SC_CLK_TCK));
}

int FreePort() {
  const int fd = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
  sockaddr_in address{};
  address.sin_family = AF_INET;
  address.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
  socklen_t size = sizeof(address);
  if (fd < 0 || bind(fd, reinterpret_cast<sockaddr*>(&address), size) != 0 ||
      getsockname(fd, reinterpret_cast<sockaddr*>(&address), &size) != 0) {
    GiveUp("no free port");
  }
  close(fd);
  return ntohs(address.sin_port);
}

std::string SelfPath() {
  std::array<char, 4096> path{};
  const ssize_t n = readlink("/proc/self/exe", path.data(), path.size() - 1);
  if (n <= 0) GiveUp("this program's path is not known");
  return std::string(path.data(), static_cast<size_t>(n));
}

}  // namespace ferrule::bench
