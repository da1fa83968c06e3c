#include "service/metrics_listener.h"

#include <poll.h>
#include <sys/socket.h>
#include <unistd.h>

#include <algorithm>
#include <chrono>

#include "absl/strings/match.h"
#include "absl/strings/str_cat.h"
#include "service/loopback.h"

namespace ferrule::service {
namespace {

constexpr size_t kMostRequest = 8 << 10;
// Callers are served one after the other; nobody holds the others up for longer.
constexpr std::chrono::milliseconds kMostWait{1000};

std::string Response(const char* status, const char* type, const std::string& body, bool head) {
  return absl::StrCat("HTTP/1.1 ", status, "\r\nContent-Type: ", type,
                      "\r\nContent-Length: ", body.size(),
                      "\r\nConnection: close\r\nCache-Control: no-store\r\n\r\n", head ? "" : body);
}

// A request's head, or as much of it as came in time.
std::string ReadHead(int fd) {
  const auto deadline = std::chrono::steady_clock::now() + kMostWait;
  std::string head;
  char buffer[2048];
  while (head.size() < kMostRequest && head.find("\r\n\r\n") == std::string::npos) {
    const auto left = std::chrono::duration_cast<std::chrono::milliseconds>(
        deadline - std::chrono::steady_clock::now());
    pollfd ready{fd, POLLIN, 0};
    if (left.count() <= 0 || poll(&ready, 1, static_cast<int>(left.count())) <= 0) break;
    const ssize_t got = recv(fd, buffer, sizeof buffer, 0);
    if (got <= 0) break;
    head.append(buffer, static_cast<size_t>(got));
  }
  return head;
}

}  // namespace

absl::StatusOr<std::unique_ptr<MetricsListener>> MetricsListener::Start(
    const std::string& listen, std::function<std::string()> text) {
  const auto address = ParseLoopback(listen, "serve metrics",
                                     "only this machine may ask for them; let the collector run "
                                     "here, or put a proxy with access control before 127.0.0.1");
  if (!address.ok()) return address.status();
  std::unique_ptr<MetricsListener> listener(new MetricsListener(std::move(text)));
  listener->fd_ = ListenOn(*address, 16);
  if (listener->fd_ < 0 || pipe(listener->wake_) != 0) {
    return absl::UnavailableError(absl::StrCat(
        "cannot serve metrics on ", listen,
        ": in use by another program or not to be had; choose another with --metrics"));
  }
  listener->port_ = PortOf(listener->fd_);
  listener->thread_ = std::thread([self = listener.get()] { self->Loop(); });
  return listener;
}

MetricsListener::~MetricsListener() {
  if (thread_.joinable()) {
    const char byte = 0;
    [[maybe_unused]] const ssize_t woken = write(wake_[1], &byte, 1);
    thread_.join();
  }
  for (const int fd : {fd_, wake_[0], wake_[1]}) {
    if (fd >= 0) close(fd);
  }
}

void MetricsListener::Loop() {
  for (;;) {
    pollfd ready[] = {{fd_, POLLIN, 0}, {wake_[0], POLLIN, 0}};
    if (poll(ready, 2, -1) < 0) continue;
    if (ready[1].revents != 0) return;
    const int caller = accept4(fd_, nullptr, nullptr, SOCK_CLOEXEC);
    if (caller < 0) {
      // For instance no file left: not in a circle.
      std::this_thread::sleep_for(std::chrono::milliseconds(50));
      continue;
    }
    Serve(caller);
    close(caller);
  }
}

void MetricsListener::Serve(int fd) {
  const timeval most{kMostWait.count() / 1000, 0};
  setsockopt(fd, SOL_SOCKET, SO_SNDTIMEO, &most, sizeof most);
  const std::string request = ReadHead(fd);
  if (request.empty()) return;
  SendAll(fd, Answer(request));
}

std::string MetricsListener::Answer(std::string_view request) const {
  constexpr char kPlain[] = "text/plain; charset=utf-8";
  const std::string_view line = request.substr(0, request.find("\r\n"));
  const size_t blank = line.find(' ');
  const std::string_view verb = line.substr(0, blank);
  const bool head = verb == "HEAD";
  if (request.find("\r\n\r\n") == std::string_view::npos || blank == std::string_view::npos) {
    return Response("400 Bad Request", kPlain, "send a whole HTTP request\n", false);
  }
  if (verb != "GET" && !head) {
    return Response("405 Method Not Allowed", kPlain, "only GET is answered\n", false);
  }
  const std::string_view rest = line.substr(blank + 1);
  const std::string_view path = rest.substr(0, rest.find_first_of(" ?"));
  if (path != "/metrics") {
    return Response("404 Not Found", kPlain, "the figures are at /metrics\n", head);
  }
  return Response("200 OK", "text/plain; version=0.0.4; charset=utf-8", text_(), head);
}

}  // namespace ferrule::service
