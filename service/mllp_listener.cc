#include "service/mllp_listener.h"

#include <netinet/in.h>
#include <netinet/tcp.h>
#include <poll.h>
#include <sys/socket.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <utility>

#include "absl/strings/str_cat.h"
#include "core/exchange/hl7_text.h"
#include "core/exchange/mllp.h"
#include "core/exchange/news.h"
#include "core/intake/answer.h"
#include "core/intake/digest.h"
#include "service/loopback.h"

namespace ferrule::service {
namespace {

using exchange::Hl7Answer;

constexpr size_t kReadBytes = 64 << 10;

// The answer to a message that never reached the intake.
std::string Refusal(std::string_view bytes, v1::Trouble trouble, bool accept, int64_t now_us) {
  Hl7Answer answer;
  answer.mode = accept ? Hl7Answer::Mode::kAccept : Hl7Answer::Mode::kOriginal;
  answer.state = v1::MESSAGE_STATE_REJECTED;
  answer.troubles.push_back(std::move(trouble));
  answer.control_id = absl::StrCat("R", intake::HexDigest(bytes).substr(0, 18));
  answer.now_us = now_us;
  return exchange::ComposeAnswer(exchange::ReadHl7Header(bytes), answer);
}

}  // namespace

absl::StatusOr<std::unique_ptr<MllpListener>> MllpListener::Start(intake::Intake* intake,
                                                                  MllpOptions options) {
  std::unique_ptr<MllpListener> listener(new MllpListener(intake, std::move(options)));
  if (absl::Status listening = listener->Listen(); !listening.ok()) return listening;
  listener->thread_ = std::thread([self = listener.get()] { self->AcceptLoop(); });
  return listener;
}

absl::Status MllpListener::Listen() {
  const auto address = ParseLoopback(
      options_.listen, "take HL7 messages",
      "only this machine may connect, because MLLP has no encryption; put a TLS proxy with client "
      "certificates before 127.0.0.1");
  if (!address.ok()) return address.status();
  fd_ = ListenOn(*address, 16);
  if (fd_ < 0 || pipe(wake_) != 0) {
    return absl::UnavailableError(
        absl::StrCat("cannot take HL7 messages on ", options_.listen,
                     ": in use by another program or not to be had; choose another with --hl7"));
  }
  port_ = PortOf(fd_);
  return absl::OkStatus();
}

MllpListener::~MllpListener() {
  ending_ = true;
  if (thread_.joinable()) {
    const char byte = 0;
    [[maybe_unused]] const ssize_t woken = write(wake_[1], &byte, 1);
    thread_.join();
  }
  {
    // No more is read; an answer on its way still goes out.
    std::lock_guard lock(mutex_);
    for (auto& connection : connections_) shutdown(connection->fd, SHUT_RD);
  }
  Reap(true);
  for (const int fd : {fd_, wake_[0], wake_[1]}) {
    if (fd >= 0) close(fd);
  }
}

void MllpListener::Reap(bool all) {
  std::lock_guard lock(mutex_);
  for (auto it = connections_.begin(); it != connections_.end();) {
    if (!all && !(*it)->done) {
      ++it;
      continue;
    }
    (*it)->thread.join();
    close((*it)->fd);
    it = connections_.erase(it);
  }
}

void MllpListener::AcceptLoop() {
  while (!ending_) {
    pollfd waiting[] = {{fd_, POLLIN, 0}, {wake_[0], POLLIN, 0}};
    if (poll(waiting, 2, -1) < 0 && errno != EINTR) return;
    if (ending_ || (waiting[1].revents & POLLIN) != 0) return;
    if ((waiting[0].revents & POLLIN) == 0) continue;
    const int fd = accept4(fd_, nullptr, nullptr, SOCK_CLOEXEC);
    if (fd < 0) continue;
    Reap(false);
    const int yes = 1;
    setsockopt(fd, IPPROTO_TCP, TCP_NODELAY, &yes, sizeof yes);
    std::lock_guard lock(mutex_);
    if (static_cast<int>(connections_.size()) >= options_.most_connections) {
      options_.log(absl::StrCat("HL7: more than ", options_.most_connections,
                                " senders at once; one was turned away"));
      close(fd);
      continue;
    }
    auto connection = std::make_unique<Connection>();
    connection->fd = fd;
    Connection* raw = connection.get();
    connections_.push_back(std::move(connection));
    raw->thread = std::thread([this, raw] {
      Serve(raw);
      raw->done = true;
    });
  }
}

void MllpListener::Serve(Connection* connection) {
  exchange::MllpReader reader(intake::kMostMessageBytes);
  std::string buffer(kReadBytes, '\0');
  bool open = true;
  while (open && !ending_) {
    pollfd waiting{connection->fd, POLLIN, 0};
    const int ready = poll(&waiting, 1, options_.idle_s * 1000);
    if (ready == 0 || (ready < 0 && errno != EINTR)) break;
    if (ready < 0) continue;
    const ssize_t got = recv(connection->fd, buffer.data(), buffer.size(), 0);
    if (got < 0 && errno == EINTR) continue;
    if (got <= 0) break;
    reader.Feed(
        std::string_view(buffer.data(), static_cast<size_t>(got)),
        [&](exchange::MllpReader::Block block) {
          if (!open) return;
          for (const std::string& answer : Answer(block.bytes, block.too_large, block.size)) {
            open = open && SendAll(connection->fd, exchange::Frame(answer));
          }
        });
  }
  shutdown(connection->fd, SHUT_RDWR);
}

std::vector<std::string> MllpListener::Answer(const std::string& message, bool too_large,
                                              size_t size) {
  const int64_t now_us = intake_.ledger().clock().NowMicros();
  const exchange::Hl7Header header = exchange::ReadHl7Header(message);
  const bool enhanced = header.enhanced();
  if (too_large) {
    return {Refusal(message,
                    exchange::TroubleAt(v1::TROUBLE_KIND_TOO_LARGE, "",
                                        absl::StrCat("the message has ", size, " bytes"),
                                        absl::StrCat("send at most ", intake::kMostMessageBytes)),
                    enhanced, now_us)};
  }
  v1::SubmitMessageRequest request;
  request.set_kind(v1::MESSAGE_KIND_HL7_V2);
  request.set_content(message);
  auto response = intake_.Submit(request, "");
  if (!response.ok()) {
    options_.log(absl::StrCat("HL7: a message could not be kept: ",
                              std::string(response.status().message())));
    // Nothing is known of it here: the sender is to send it again.
    return {Refusal(message,
                    exchange::TroubleAt(v1::TROUBLE_KIND_UNSPECIFIED, "",
                                        "the message could not be kept", "send it again later"),
                    enhanced, now_us)};
  }
  const v1::IntakeMessage& kept = response->message();
  const bool good = kept.state() != v1::MESSAGE_STATE_REJECTED;
  if (!enhanced) {
    return {intake::Acknowledge(intake_, message, kept, Hl7Answer::Mode::kOriginal, now_us)};
  }
  std::vector<std::string> out;
  if (header.WantsAccept(good)) {
    out.push_back(intake::Acknowledge(intake_, message, kept, Hl7Answer::Mode::kAccept, now_us));
  }
  if (header.WantsApplication(good)) {
    out.push_back(
        intake::Acknowledge(intake_, message, kept, Hl7Answer::Mode::kApplication, now_us));
  }
  return out;
}

}  // namespace ferrule::service
