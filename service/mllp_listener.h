// HL7 v2 over MLLP: takes messages from hospital systems on a port of this machine and answers each
// in the mode that it asks for. A message is answered only once it is safe, so that a sender which
// repeats what was not answered loses and doubles nothing.
#pragma once

#include <atomic>
#include <functional>
#include <list>
#include <memory>
#include <mutex>
#include <string>
#include <thread>
#include <vector>

#include "absl/status/statusor.h"
#include "core/intake/intake.h"

namespace ferrule::service {

struct MllpOptions {
  // "127.0.0.1:2575"; port 0 takes a free one. Loopback only: there is no TLS here.
  std::string listen;
  std::function<void(const std::string&)> log;
  int most_connections = 64;
  // A sender that is silent for so long is let go.
  int idle_s = 3600;
};

class MllpListener {
 public:
  // InvalidArgument: the address is not well formed or not loopback. Unavailable: it is taken. The
  // intake must outlive the listener.
  static absl::StatusOr<std::unique_ptr<MllpListener>> Start(intake::Intake* intake,
                                                             MllpOptions options);
  // Takes no more messages, answers the one in hand of each sender, then closes.
  ~MllpListener();

  int port() const { return port_; }

 private:
  struct Connection {
    int fd = -1;
    std::thread thread;
    std::atomic<bool> done{false};
  };
  MllpListener(intake::Intake* intake, MllpOptions options)
      : intake_(*intake), options_(std::move(options)) {}
  absl::Status Listen();
  void AcceptLoop();
  void Serve(Connection* connection);
  // What is sent back for one message: none, one or two acknowledgements, unframed.
  std::vector<std::string> Answer(const std::string& message, bool too_large, size_t size);
  void Reap(bool all);

  intake::Intake& intake_;
  const MllpOptions options_;
  int fd_ = -1;
  int wake_[2] = {-1, -1};  // a pipe that ends the accept loop
  int port_ = 0;
  std::atomic<bool> ending_{false};
  std::thread thread_;
  std::mutex mutex_;
  std::list<std::unique_ptr<Connection>> connections_;
};

}  // namespace ferrule::service
