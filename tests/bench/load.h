// A closed loop of unary calls: one completion queue, a fixed number of calls in flight.
#pragma once

#include <chrono>
#include <functional>
#include <memory>
#include <string>
#include <vector>

#include "grpcpp/grpcpp.h"
#include "tests/bench/measure.h"
#include "tests/bench/process.h"

namespace ferrule::bench {

struct LoadResult {
  double calls_per_s = 0;
  double p50_ms = 0;
  double p99_ms = 0;
  // CPU time that a call takes on either side: what a busy machine does not change.
  double server_us = 0;
  double client_us = 0;
};

// `start` begins the n-th call, counted from 0, on that queue. Ends the bench at the first call
// that fails.
template <typename Response>
using StartCall = std::function<std::unique_ptr<grpc::ClientAsyncResponseReader<Response>>(
    int64_t n, grpc::ClientContext* context, grpc::CompletionQueue* queue)>;

template <typename Response>
LoadResult RunLoad(int in_flight, double seconds, const Server& server,
                   const StartCall<Response>& start) {
  struct Call {
    std::unique_ptr<grpc::ClientContext> context;
    std::unique_ptr<grpc::ClientAsyncResponseReader<Response>> reader;
    Response response;
    grpc::Status status;
    Stopwatch watch;
  };
  grpc::CompletionQueue queue;
  std::vector<Call> calls(static_cast<size_t>(in_flight));
  int64_t begun = 0;
  auto begin = [&](Call* call) {
    call->context = std::make_unique<grpc::ClientContext>();
    call->watch = Stopwatch();
    call->reader = start(begun++, call->context.get(), &queue);
    call->reader->Finish(&call->response, &call->status, call);
  };
  for (Call& call : calls) begin(&call);
  // The first tenth warms up; only what ends after it counts.
  const double warm = seconds / 10;
  const double server_s = server.CpuSeconds();
  const double client_s = OwnCpuSeconds();
  std::vector<double> times_ms;
  const Stopwatch watch;
  void* tag = nullptr;
  bool ok = false;
  for (int running = in_flight; running > 0 && queue.Next(&tag, &ok);) {
    Call* call = static_cast<Call*>(tag);
    if (!call->status.ok()) GiveUp("a call failed: " + call->status.error_message());
    const double now = watch.Seconds();
    if (now >= warm && now < warm + seconds) times_ms.push_back(call->watch.Seconds() * 1000);
    if (now < warm + seconds) {
      begin(call);
    } else {
      --running;
    }
  }
  queue.Shutdown();
  while (queue.Next(&tag, &ok)) {
  }
  LoadResult result;
  result.server_us = (server.CpuSeconds() - server_s) * 1e6 / static_cast<double>(begun);
  result.client_us = (OwnCpuSeconds() - client_s) * 1e6 / static_cast<double>(begun);
  result.calls_per_s = static_cast<double>(times_ms.size()) / seconds;
  result.p50_ms = Percentile(times_ms, 0.5);
  result.p99_ms = Percentile(times_ms, 0.99);
  return result;
}

// Takes a load as often as the options say and gives the median of each figure.
inline LoadResult MedianOfLoads(const Options& options, const std::function<LoadResult()>& load) {
  std::vector<LoadResult> all;
  for (int i = 0; i < options.repeats; ++i) all.push_back(load());
  LoadResult result;
  for (double LoadResult::*figure :
       {&LoadResult::calls_per_s, &LoadResult::p50_ms, &LoadResult::p99_ms, &LoadResult::server_us,
        &LoadResult::client_us}) {
    std::vector<double> values;
    for (const LoadResult& one : all) values.push_back(one.*figure);
    result.*figure = Median(std::move(values));
  }
  return result;
}

template <typename Response>
LoadResult MedianLoad(const Options& options, int in_flight, const Server& server,
                      const StartCall<Response>& start) {
  return MedianOfLoads(
      options, [&] { return RunLoad<Response>(in_flight, options.seconds, server, start); });
}

inline void PutCpu(const std::string& what, int in_flight, const LoadResult& load, Report* report) {
  const std::string callers = std::to_string(in_flight);
  report->Put(what + "_cpu_us_per_call", callers + "_server", load.server_us);
  report->Put(what + "_cpu_us_per_call", callers + "_client", load.client_us);
}

// A channel to a server of this machine, waited for.
inline std::shared_ptr<grpc::Channel> Connect(const std::string& address) {
  auto channel = grpc::CreateChannel(address, grpc::InsecureChannelCredentials());
  if (!channel->WaitForConnected(std::chrono::system_clock::now() + std::chrono::seconds(60))) {
    GiveUp("no server at " + address);
  }
  return channel;
}

}  // namespace ferrule::bench
