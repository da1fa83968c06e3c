#include "cli/session.h"

#include <chrono>
#include <cstdio>
#include <memory>
#include <tuple>

#include "absl/strings/str_cat.h"
#include "cli/kept_settings.h"
#include "cli/render_json.h"
#include "cli/render_words.h"
#include "cli/secure.h"
#include "cli/when.h"
#include "core/time/civil.h"
#include "ferrule/v1/access_service.grpc.pb.h"
#include "ferrule/v1/bench_service.grpc.pb.h"
#include "ferrule/v1/cover_service.grpc.pb.h"
#include "ferrule/v1/depot_service.grpc.pb.h"
#include "ferrule/v1/intake_service.grpc.pb.h"
#include "ferrule/v1/label_service.grpc.pb.h"
#include "ferrule/v1/ledger_service.grpc.pb.h"
#include "ferrule/v1/papers_service.grpc.pb.h"
#include "ferrule/v1/plan_service.grpc.pb.h"
#include "ferrule/v1/promise_service.grpc.pb.h"
#include "ferrule/v1/stock_service.grpc.pb.h"
#include "ferrule/v1/trace_service.grpc.pb.h"

namespace ferrule::cli {
namespace {

// Long enough for a busy depot, short enough for somebody at a counter.
constexpr std::chrono::seconds kDeadline{10};

}  // namespace

bool Output::Flush() {
  const size_t written = std::fwrite(buffer_.data(), 1, buffer_.size(), stdout);
  const bool whole = written == buffer_.size() && std::fflush(stdout) == 0;
  buffer_.clear();
  return whole;
}

template <typename... Service>
struct StubsOf {
  explicit StubsOf(const std::shared_ptr<grpc::Channel>& channel)
      : all(Service::NewStub(channel)...) {}
  std::tuple<std::unique_ptr<typename Service::StubInterface>...> all;
};
struct Session::Stubs
    : StubsOf<v1::AccessService, v1::PatientService, v1::BenchService, v1::CoverService,
              v1::DepotService, v1::IntakeService, v1::LabelService, v1::LedgerService,
              v1::PapersService, v1::PlanService, v1::PromiseService, v1::StockService,
              v1::TraceService> {
  using StubsOf::StubsOf;
};

template <typename Stub>
Stub* Session::StubOf() {
  return std::get<std::unique_ptr<Stub>>(stubs_->all).get();
}
template v1::AccessService::StubInterface* Session::StubOf();
template v1::PatientService::StubInterface* Session::StubOf();
template v1::BenchService::StubInterface* Session::StubOf();
template v1::CoverService::StubInterface* Session::StubOf();
template v1::DepotService::StubInterface* Session::StubOf();
template v1::IntakeService::StubInterface* Session::StubOf();
template v1::LabelService::StubInterface* Session::StubOf();
template v1::LedgerService::StubInterface* Session::StubOf();
template v1::PapersService::StubInterface* Session::StubOf();
template v1::PlanService::StubInterface* Session::StubOf();
template v1::PromiseService::StubInterface* Session::StubOf();
template v1::StockService::StubInterface* Session::StubOf();
template v1::TraceService::StubInterface* Session::StubOf();

Session::~Session() = default;

Session::Session(const Line& line, int64_t now_us) : line_(line), now_us_(now_us) {
  const std::optional<std::string> format = line.Get("--format");
  if (format == "json") format_ = Format::kJson;
  if (format == "csv") format_ = Format::kCsv;
  target_.server = line.GetOrEnv("--server", "FERRULE_SERVER");
  target_.depot = line.GetOrEnv("--depot", "FERRULE_DEPOT");
  // What was typed beats what the environment says.
  if (line.Has("--depot") && !line.Has("--server")) target_.server.reset();
  if (line.Has("--server") && !line.Has("--depot")) target_.depot.reset();
}

absl::Status Session::Reach() {
  if (way_.has_value()) return absl::OkStatus();
  absl::StatusOr<Way> way = ConnectSecurely(target_, line_);
  if (!way.ok()) return way.status();
  way_ = *std::move(way);
  stubs_ = std::make_unique<Stubs>(way_->channel);
  return absl::OkStatus();
}

void Session::LetGo() {
  stubs_.reset();
  way_.reset();
  settings_.reset();
  zones_.reset();
}

std::optional<std::string> Session::OutboxPath() const {
  return line_.GetOrEnv("--outbox", "FERRULE_OUTBOX");
}

absl::Status Session::Call(const std::function<grpc::Status(grpc::ClientContext*)>& call) {
  if (!away_.ok()) return away_;
  const absl::Status reached = Reach();
  if (!reached.ok()) return reached;
  grpc::ClientContext context;
  if (absl::Status is_signed = Sign(target_, line_, &context); !is_signed.ok()) return is_signed;
  context.set_deadline(std::chrono::system_clock::now() + kDeadline);
  const grpc::Status answered = call(&context);
  const absl::Status status = FromGrpc(answered);
  // What a server says comes with details; what has none never came to one.
  const bool no_answer = !answered.ok() && answered.error_details().empty();
  if (no_answer && OutcomeUnknown(status) && OutboxPath().has_value()) away_ = status;
  return status;
}

absl::StatusOr<std::shared_ptr<grpc::Channel>> Session::Channel() {
  if (absl::Status reached = Reach(); !reached.ok()) return reached;
  return way_->channel;
}

absl::Status Session::Watch(int64_t after_sequence,
                            const std::function<bool(const v1::WatchEntriesResponse&)>& on_batch) {
  const absl::Status reached = Reach();
  if (!reached.ok()) return reached;
  grpc::ClientContext context;
  if (absl::Status is_signed = Sign(target_, line_, &context); !is_signed.ok()) return is_signed;
  v1::WatchEntriesRequest request;
  request.set_after_sequence(after_sequence);
  const auto reader = StubOf<v1::LedgerService::StubInterface>()->WatchEntries(&context, request);
  v1::WatchEntriesResponse batch;
  while (reader->Read(&batch)) {
    if (on_batch(batch)) continue;
    context.TryCancel();
    return absl::OkStatus();
  }
  return FromGrpc(reader->Finish());
}

absl::StatusOr<const v1::SettingsVersion*> Session::Settings() {
  if (!settings_.has_value()) {
    // No depot is not the same as a depot without settings.
    if (absl::Status reached = Reach(); !reached.ok()) return reached;
    v1::GetSettingsRequest request;
    v1::GetSettingsResponse response;
    const absl::Status asked =
        Ask(&v1::DepotService::StubInterface::GetSettings, request, &response);
    if (!asked.ok() && asked.code() != absl::StatusCode::kNotFound) {
      const auto outbox = OutboxPath();
      if (!outbox.has_value() || ExitOf(asked) != Exit::kUnavailable) return asked;
      settings_ = KeptSettings(*outbox);
      if (!settings_.has_value()) return asked;
      return &*settings_;
    }
    settings_ = response.version();
  }
  return &*settings_;
}

const Zones& Session::zones() {
  if (!zones_.has_value()) {
    const auto settings = Settings();
    zones_ = settings.ok() ? Zones((*settings)->settings()) : Zones();
  }
  return *zones_;
}

absl::StatusOr<absl::TimeZone> Session::TypedZone() {
  if (!zones_.has_value()) {
    const auto settings = Settings();
    if (!settings.ok() && !away_.ok()) {
      return absl::UnavailableError(absl::StrCat(
          std::string(settings.status().message()),
          "\nThis outbox has not heard of the depot's branches yet, whose clocks local times are "
          "meant by: leave --at out for now, or write it with its offset, for instance "
          "2026-03-02T08:05:00-05:00"));
    }
    if (!settings.ok()) return settings.status();
  }
  return zones().ForTyping(line_.GetOrEnv("--branch", "FERRULE_BRANCH").value_or(""));
}

absl::StatusOr<int64_t> Session::ReadInstant(const std::string& text) {
  // Words that are no time anywhere are told of before it is asked whose clock they are meant by.
  const auto anywhere = ParseWhen(text, now_us_, absl::UTCTimeZone());
  if (!anywhere.ok() || IsAbsoluteTime(text)) return anywhere;
  const auto zone = TypedZone();
  if (!zone.ok()) return zone.status();
  return ParseWhen(text, now_us_, *zone);
}

absl::StatusOr<std::optional<int64_t>> Session::KnownAt() {
  const std::optional<std::string> text = line_.Get("--known-at");
  if (!text.has_value()) return std::optional<int64_t>();
  const auto instant = ReadInstant(*text);
  if (!instant.ok()) return instant.status();
  return std::optional<int64_t>(*instant);
}

void Session::Show(const google::protobuf::Message& message, const Table& table,
                   const std::string& text) {
  switch (format_) {
    case Format::kJson:
      out_.Write(Json(message));
      break;
    case Format::kCsv:
      out_.Write(table.Csv());
      break;
    case Format::kText:
      out_.Write(text);
      break;
  }
}

void Session::Remark(const std::string& text) {
  std::fprintf(stderr, "ferrule: %s\n", Printable(text).c_str());
}

absl::StatusOr<std::string> Session::Explanation() {
  if (!line_.Has("--explain") || format_ != Format::kText) return std::string();
  v1::GetServerInfoResponse info;
  const absl::Status asked =
      Ask(&v1::LedgerService::StubInterface::GetServerInfo, v1::GetServerInfoRequest(), &info);
  if (!asked.ok()) return asked;
  const auto settings = Settings();
  if (!settings.ok()) return settings.status();
  const auto known = KnownAt();
  if (!known.ok()) return known.status();
  const absl::TimeZone zone = zones().OfBranch(line_.Get("--branch").value_or(""));
  const std::string known_words =
      known->has_value()
          ? absl::StrCat("from what was recorded by ", time::FormatLocal(**known, zone))
          : absl::StrCat("from every record up to no. ", info.head_sequence());
  const v1::SettingsVersion& version = **settings;
  return absl::StrCat(
      "\nWhy: ", known_words, ", asked ", time::FormatLocal(now_us_, zone), " (", zone.name(),
      "); settings ",
      version.settings().version().empty() ? "none in force" : version.settings().version(),
      version.has_from_time() ? absl::StrCat(" in force from ", Local(version.from_time(), zone))
                              : "",
      ".\n");
}

}  // namespace ferrule::cli
