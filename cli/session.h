// One run of the program: where the depot is, the clock, the format, and where the answer goes.
#pragma once

#include <cstdint>
#include <functional>
#include <memory>
#include <optional>
#include <string>

#include "absl/status/status.h"
#include "absl/status/statusor.h"
#include "absl/time/time.h"
#include "cli/connect.h"
#include "cli/failure.h"
#include "cli/line.h"
#include "cli/render_table.h"
#include "cli/zones.h"
#include "ferrule/v1/depot_service.grpc.pb.h"
#include "ferrule/v1/ledger_service.grpc.pb.h"

namespace ferrule::cli {

enum class Format { kText, kJson, kCsv };

// Collects what goes to standard output, so that a failing command prints no half answer.
class Output {
 public:
  void Write(const std::string& text) { buffer_ += text; }
  // Writes out what was collected; false when standard output takes no more.
  bool Flush();

 private:
  std::string buffer_;
};

class Session {
 public:
  // Precondition: the line's command is not of Kind::kLocal when a depot is asked later.
  Session(const Line& line, int64_t now_us);
  ~Session();

  const Line& line() const { return line_; }
  // The instant at which the program was started.
  int64_t now_us() const { return now_us_; }
  Format format() const { return format_; }
  Output& out() { return out_; }
  const Target& target() const { return target_; }
  // The file that keeps reports until the depot has them (cli/outbox.h); nothing when none is
  // named.
  std::optional<std::string> OutboxPath() const;
  // Whether the server could not be reached; known only with an outbox, once something was asked.
  bool away() const { return !away_.ok(); }

  // Calls one RPC of any service with a deadline; connects first when that has not happened. The
  // service's header is the caller's to include.
  template <typename Stub, typename Request, typename Response>
  absl::Status Ask(grpc::Status (Stub::*method)(grpc::ClientContext*, const Request&, Response*),
                   const Request& request, Response* response) {
    return Call([&](grpc::ClientContext* context) {
      return (StubOf<Stub>()->*method)(context, request, response);
    });
  }
  // The channel itself, for calls that stream.
  absl::StatusOr<std::shared_ptr<grpc::Channel>> Channel();
  // Lets go of the depot, and of the settings read from it; the next call connects anew. A depot
  // file that was opened here is free for others until then.
  void LetGo();
  // Whether a depot file is open in this process.
  bool HasFileOpen() const { return way_.has_value() && way_->host != nullptr; }

  // Reads the feed after a position until `on_batch` says false or the stream ends.
  absl::Status Watch(int64_t after_sequence,
                     const std::function<bool(const v1::WatchEntriesResponse&)>& on_batch);

  // The settings in force at the session's instant; an empty version when there is none. With an
  // outbox, those of the last time the server was reached while it is away.
  absl::StatusOr<const v1::SettingsVersion*> Settings();
  // Zones of the settings in force; UTC alone when they cannot be had.
  const Zones& zones();
  // Takes zones out of settings that are not in force yet.
  void UseZones(const v1::Settings& settings) { zones_.emplace(settings); }
  // The zone in which local times on this command line are meant.
  absl::StatusOr<absl::TimeZone> TypedZone();
  // The instant that was typed, in that zone unless it carries its own.
  absl::StatusOr<int64_t> ReadInstant(const std::string& text);
  // --known-at as an instant; nothing when it was not given.
  absl::StatusOr<std::optional<int64_t>> KnownAt();

  // Gives the answer in the format asked for: the message as JSON, the table as CSV, or the text.
  void Show(const google::protobuf::Message& message, const Table& table, const std::string& text);
  // Says something beside the answer, on standard error.
  void Remark(const std::string& text);
  // What --explain adds below a text answer; empty without the flag.
  absl::StatusOr<std::string> Explanation();

 private:
  struct Stubs;  // a client of each service
  // The client of a service, once it was reached.
  template <typename Stub>
  Stub* StubOf();
  absl::Status Call(const std::function<grpc::Status(grpc::ClientContext*)>& call);
  absl::Status Reach();

  const Line& line_;
  const int64_t now_us_;
  Format format_ = Format::kText;
  Target target_;
  Output out_;
  std::optional<Way> way_;
  std::unique_ptr<Stubs> stubs_;
  std::optional<v1::SettingsVersion> settings_;
  std::optional<Zones> zones_;
  // With an outbox, why the server counts as away: nobody waits for it a second time.
  absl::Status away_;
};

}  // namespace ferrule::cli
