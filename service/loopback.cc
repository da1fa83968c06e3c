#include "service/loopback.h"

#include <arpa/inet.h>
#include <netinet/in.h>
#include <unistd.h>

#include <cerrno>

#include "absl/strings/numbers.h"
#include "absl/strings/str_cat.h"
#include "service/server.h"

namespace ferrule::service {
namespace {

absl::string_view View(std::string_view s) { return {s.data(), s.size()}; }

}  // namespace

absl::StatusOr<LoopbackAddress> ParseLoopback(const std::string& text, std::string_view purpose,
                                              std::string_view why_loopback) {
  const auto wrong = [&](std::string_view why) {
    return absl::InvalidArgumentError(
        absl::StrCat("cannot ", View(purpose), " on \"", text, "\": ", View(why)));
  };
  const size_t colon = text.rfind(':');
  int port = 0;
  if (colon == std::string::npos || !absl::SimpleAtoi(text.substr(colon + 1), &port) || port < 0 ||
      port > 65535) {
    return wrong("give host and port, for instance 127.0.0.1:9464");
  }
  if (!IsLoopback(text)) return wrong(why_loopback);
  std::string host = text.substr(0, colon);
  if (host == "localhost") host = "127.0.0.1";
  LoopbackAddress address;
  auto* v4 = reinterpret_cast<sockaddr_in*>(&address.storage);
  auto* v6 = reinterpret_cast<sockaddr_in6*>(&address.storage);
  if (inet_pton(AF_INET, host.c_str(), &v4->sin_addr) == 1) {
    v4->sin_family = AF_INET;
    v4->sin_port = htons(static_cast<uint16_t>(port));
    address.size = sizeof(sockaddr_in);
  } else if (host == "[::1]") {
    v6->sin6_family = AF_INET6;
    v6->sin6_port = htons(static_cast<uint16_t>(port));
    v6->sin6_addr = in6addr_loopback;
    address.size = sizeof(sockaddr_in6);
  } else {
    return wrong("give an address of this machine, for instance 127.0.0.1:9464");
  }
  return address;
}

int ListenOn(const LoopbackAddress& address, int backlog) {
  const int fd = socket(address.storage.ss_family, SOCK_STREAM | SOCK_CLOEXEC, 0);
  const int yes = 1;
  setsockopt(fd, SOL_SOCKET, SO_REUSEADDR, &yes, sizeof yes);
  if (fd >= 0 && bind(fd, reinterpret_cast<const sockaddr*>(&address.storage), address.size) == 0 &&
      listen(fd, backlog) == 0) {
    return fd;
  }
  if (fd >= 0) close(fd);
  return -1;
}

int PortOf(int fd) {
  sockaddr_storage storage{};
  socklen_t size = sizeof storage;
  getsockname(fd, reinterpret_cast<sockaddr*>(&storage), &size);
  return storage.ss_family == AF_INET6 ? ntohs(reinterpret_cast<sockaddr_in6*>(&storage)->sin6_port)
                                       : ntohs(reinterpret_cast<sockaddr_in*>(&storage)->sin_port);
}

bool SendAll(int fd, std::string_view bytes) {
  while (!bytes.empty()) {
    const ssize_t sent = send(fd, bytes.data(), bytes.size(), MSG_NOSIGNAL);
    if (sent < 0 && errno == EINTR) continue;
    if (sent <= 0) return false;
    bytes.remove_prefix(static_cast<size_t>(sent));
  }
  return true;
}

}  // namespace ferrule::service
