// Child processes: the programs as their users run them, and servers to call.
#pragma once

#include <sys/types.h>

#include <string>
#include <vector>

namespace ferrule::bench {

// Runs a program to its end with its output thrown away and gives the wall time in seconds.
// Ends the bench when the program fails: a figure of a failing program is worth nothing.
double TimeOf(const std::vector<std::string>& command);

// Runs a program to its end and gives its standard output. Ends the bench when it fails.
std::string OutputOf(const std::vector<std::string>& command);

// A server that runs until this goes out of scope: SIGTERM, then a wait.
class Server {
 public:
  explicit Server(const std::vector<std::string>& command);
  ~Server();
  Server(const Server&) = delete;
  Server& operator=(const Server&) = delete;

  // Resident memory, MiB.
  double MemoryMiB() const;
  // CPU time taken so far, in steps of a hundredth of a second.
  double CpuSeconds() const;

 private:
  pid_t pid_ = 0;
};

// A port of the loopback address that was free just now.
int FreePort();

// The path of this program, to start it again as a server.
std::string SelfPath();

[[noreturn]] void GiveUp(const std::string& why);

}  // namespace ferrule::bench
