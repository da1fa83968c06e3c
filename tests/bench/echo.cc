// The floor of every call: the server answers an empty message with an empty message.
#include <signal.h>
#include <unistd.h>

#include <memory>
#include <string>

#include "ferrule/v1/ledger_service.grpc.pb.h"
#include "grpcpp/grpcpp.h"
#include "tests/bench/benches.h"
#include "tests/bench/load.h"
#include "tests/bench/process.h"

namespace ferrule::bench {
namespace {

using Service = v1::LedgerService::AsyncService;

// One call from its request to its end; then the next on the same slot.
class Call {
 public:
  Call(Service* service, grpc::ServerCompletionQueue* queue) : service_(service), queue_(queue) {
    Begin();
  }

  void Proceed(bool ok) {
    if (!ok) {  // the queue is closing
      delete this;
      return;
    }
    if (answered_) {
      Begin();
      return;
    }
    answered_ = true;
    writer_->Finish(response_, grpc::Status::OK, this);
  }

 private:
  void Begin() {
    answered_ = false;
    context_ = std::make_unique<grpc::ServerContext>();
    writer_ = std::make_unique<grpc::ServerAsyncResponseWriter<v1::GetServerInfoResponse>>(
        context_.get());
    service_->RequestGetServerInfo(context_.get(), &request_, writer_.get(), queue_, queue_, this);
  }

  Service* service_;
  grpc::ServerCompletionQueue* queue_;
  std::unique_ptr<grpc::ServerContext> context_;
  std::unique_ptr<grpc::ServerAsyncResponseWriter<v1::GetServerInfoResponse>> writer_;
  v1::GetServerInfoRequest request_;
  v1::GetServerInfoResponse response_;
  bool answered_ = false;
};

}  // namespace

int EchoServe(int port) {
  Service service;
  grpc::ServerBuilder builder;
  builder.AddListeningPort("127.0.0.1:" + std::to_string(port), grpc::InsecureServerCredentials());
  builder.RegisterService(&service);
  std::unique_ptr<grpc::ServerCompletionQueue> queue = builder.AddCompletionQueue();
  std::unique_ptr<grpc::Server> server = builder.BuildAndStart();
  if (server == nullptr) GiveUp("no echo server");
  signal(SIGTERM, [](int) { _exit(0); });
  for (int i = 0; i < 256; ++i) new Call(&service, queue.get());
  void* tag = nullptr;
  bool ok = false;
  while (queue->Next(&tag, &ok)) static_cast<Call*>(tag)->Proceed(ok);
  return 0;
}

void Echo(const Options& options, Report* report) {
  const int port = FreePort();
  const Server server({SelfPath(), "--echo-server", std::to_string(port)});
  auto stub = v1::LedgerService::NewStub(Connect("127.0.0.1:" + std::to_string(port)));
  const v1::GetServerInfoRequest request;
  for (const int in_flight : {1, 8, 64}) {
    const LoadResult load = MedianLoad<v1::GetServerInfoResponse>(
        options, in_flight, server,
        [&](int64_t, grpc::ClientContext* context, grpc::CompletionQueue* queue) {
          return stub->AsyncGetServerInfo(context, request, queue);
        });
    report->Put("echo_calls_per_s", std::to_string(in_flight), load.calls_per_s);
    PutCpu("echo", in_flight, load, report);
  }
}

}  // namespace ferrule::bench
