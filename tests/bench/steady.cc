// What callers wait while a server is half as busy as it can be, and how far the followers of the
// feed lag behind. Each must hold without a queue building up, so the load comes at its own pace.
#include <algorithm>
#include <chrono>
#include <memory>
#include <string>
#include <vector>

#include "core/store/open.h"
#include "core/time/civil.h"
#include "tests/bench/benches.h"
#include "tests/bench/depots.h"
#include "tests/bench/load.h"
#include "tests/bench/paced.h"
#include "tests/bench/process.h"

namespace ferrule::bench {
namespace {

constexpr int kWatchers = 100;
constexpr double kFeedPerSecond = 1'000;
constexpr int kCallers = 64;

std::string ServedFile(const Options& options, const std::string& name) {
  const std::string path = FreshFile(options, name);
  store::SqliteOptions file;
  file.path = path;
  ReceiveUnits(Must(store::OpenSqlite(file)), options.units);
  return path;
}

// A follower of the feed, on a channel of its own.
class Watcher final : public Happening {
 public:
  Watcher(const std::string& address, std::vector<double>* lags_ms)
      : stub_(v1::LedgerService::NewStub(Own(address))), lags_ms_(*lags_ms) {}

  void Begin(int64_t after, grpc::CompletionQueue* queue) {
    v1::WatchEntriesRequest request;
    request.set_after_sequence(after);
    reader_ = stub_->AsyncWatchEntries(&context_, request, queue, static_cast<Happening*>(this));
    through_ = after;
  }

  void Happened(bool ok) override {
    if (!ok) {
      ended_ = true;
      return;
    }
    const int64_t now_us = NowMicros();
    for (const v1::LedgerEntry& entry : response_.entries()) {
      if (entry.sequence() != through_ + 1) GiveUp("the feed left an entry out");
      through_ = entry.sequence();
      lags_ms_.push_back(static_cast<double>(now_us - time::ToMicros(entry.recorded_time())) /
                         1'000);
    }
    response_.Clear();
    reader_->Read(&response_, static_cast<Happening*>(this));
  }

  void Cancel() { context_.TryCancel(); }
  bool ended() const { return ended_; }
  int64_t through() const { return through_; }

 private:
  static std::shared_ptr<grpc::Channel> Own(const std::string& address) {
    grpc::ChannelArguments arguments;
    arguments.SetInt(GRPC_ARG_USE_LOCAL_SUBCHANNEL_POOL, 1);
    return grpc::CreateCustomChannel(address, grpc::InsecureChannelCredentials(), arguments);
  }

  std::unique_ptr<v1::LedgerService::Stub> stub_;
  std::vector<double>& lags_ms_;
  grpc::ClientContext context_;
  std::unique_ptr<grpc::ClientAsyncReader<v1::WatchEntriesResponse>> reader_;
  v1::WatchEntriesResponse response_;
  int64_t through_ = 0;
  bool ended_ = false;
};

void HandOut(grpc::CompletionQueue& queue) {
  void* tag = nullptr;
  bool ok = false;
  const auto until = std::chrono::system_clock::now() + std::chrono::milliseconds(100);
  if (queue.AsyncNext(&tag, &ok, until) == grpc::CompletionQueue::GOT_EVENT) {
    static_cast<Happening*>(tag)->Happened(ok);
  }
}

int64_t HeadOf(v1::LedgerService::StubInterface& stub) {
  grpc::ClientContext context;
  v1::GetServerInfoResponse info;
  if (!stub.GetServerInfo(&context, {}, &info).ok()) GiveUp("the server does not answer");
  return info.head_sequence();
}

}  // namespace

void RecordAtHalfLoad(const Options& options, Report* report) {
  const std::string address = "127.0.0.1:" + std::to_string(FreePort());
  const Server server(
      {FERRULED_BIN, "serve", "--listen", address, "--depot", ServedFile(options, "half")});
  auto stub = v1::LedgerService::NewStub(Connect(address));
  const LoadResult full = MedianLoad<v1::RecordResponse>(
      options, kCallers, server,
      [&](int64_t, grpc::ClientContext* context, grpc::CompletionQueue* queue) {
        v1::RecordRequest request;
        *request.mutable_entry() = NextMove(options.units);
        return stub->AsyncRecord(context, request, queue);
      });
  report->Put("record_half_load", "entries_per_s_of_64_callers", full.calls_per_s);
  report->Put("record_half_load", "entries_per_s", full.calls_per_s / 2);
  std::vector<double> p50;
  std::vector<double> p99;
  for (int i = 0; i < options.repeats; ++i) {
    grpc::CompletionQueue queue;
    const PacedResult paced =
        RecordAtRate(*stub, queue, options.units, full.calls_per_s / 2, options.seconds);
    p50.push_back(Percentile(paced.waits_ms, 0.5));
    p99.push_back(Percentile(paced.waits_ms, 0.99));
    queue.Shutdown();
  }
  report->Put("record_half_load", "p50_ms", Median(std::move(p50)));
  report->PutAgainst("record_half_load", "p99_ms", Median(std::move(p99)),
                     "p99 of the same calls at full load", full.p99_ms, false);
}

void Feed(const Options& options, Report* report) {
  const std::string address = "127.0.0.1:" + std::to_string(FreePort());
  const Server server(
      {FERRULED_BIN, "serve", "--listen", address, "--depot", ServedFile(options, "feed")});
  auto stub = v1::LedgerService::NewStub(Connect(address));
  grpc::CompletionQueue queue;
  std::vector<double> lags_ms;
  std::vector<std::unique_ptr<Watcher>> watchers;
  const int64_t head = HeadOf(*stub);
  for (int i = 0; i < kWatchers; ++i) {
    watchers.push_back(std::make_unique<Watcher>(address, &lags_ms));
    watchers.back()->Begin(head, &queue);
  }
  const PacedResult paced =
      RecordAtRate(*stub, queue, options.units, kFeedPerSecond, options.seconds * options.repeats);
  const auto all_are = [&](auto condition) {
    return std::all_of(watchers.begin(), watchers.end(), condition);
  };
  const Stopwatch rest;
  while (!all_are([&](const auto& w) { return w->through() == head + paced.sent; })) {
    if (rest.Seconds() > 60) GiveUp("a follower of the feed does not get to its end");
    HandOut(queue);
  }
  for (const auto& watcher : watchers) watcher->Cancel();
  while (!all_are([](const auto& w) { return w->ended(); })) HandOut(queue);
  queue.Shutdown();
  report->Put("feed", "watchers", kWatchers);
  report->Put("feed", "entries_per_s", kFeedPerSecond);
  report->Put("feed", "delivered", static_cast<double>(lags_ms.size()));
  report->Put("feed", "lag_p50_ms", Percentile(lags_ms, 0.5));
  report->PutAgainst("feed", "lag_p99_ms", Percentile(lags_ms, 0.99),
                     "p99 of recording the same entries", Percentile(paced.waits_ms, 0.99), false);
}

}  // namespace ferrule::bench
