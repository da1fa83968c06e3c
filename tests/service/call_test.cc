// The wrapper, with methods of the test's own over real channels: in process and TCP.
#include "service/call.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <atomic>
#include <future>
#include <memory>
#include <string>
#include <thread>
#include <vector>

#include "absl/strings/escaping.h"
#include "absl/strings/str_cat.h"
#include "core/time/clock.h"
#include "ferrule/v1/ledger_service.grpc.pb.h"
#include "grpcpp/create_channel.h"
#include "grpcpp/generic/generic_stub.h"
#include "grpcpp/security/credentials.h"
#include "service/errors.h"
#include "service/method.h"
#include "service/server.h"

namespace ferrule::service {
namespace {

using testing::HasSubstr;
using testing::Not;

constexpr char kService[] = "/ferrule.v1.LedgerService/";

enum class Transport { kInProcess, kTcp };

// Answers taken from elsewhere, by a thread that the test decides about.
class Elsewhere {
 public:
  ~Elsewhere() {
    for (std::thread& thread : threads_) thread.join();
  }
  void Run(std::function<void()> work) { threads_.emplace_back(std::move(work)); }

 private:
  std::vector<std::thread> threads_;
};

class CallTest : public testing::TestWithParam<Transport> {
 protected:
  void SetUp() override {
    ServerOptions options;
    if (GetParam() == Transport::kTcp) options.listen = {"127.0.0.1:0"};
    options.clock = &clock_;
    options.to_grpc = [](const absl::Status& status) {
      return grpc::Status(static_cast<grpc::StatusCode>(status.code()),
                          std::string(status.message()));
    };
    options.log = [this](const std::string& line) {
      const std::lock_guard<std::mutex> lock(mutex_);
      log_.push_back(line);
    };
    auto server = Server::Start({Methods()}, options);
    ASSERT_TRUE(server.ok()) << server.status();
    server_ = *std::move(server);
    grpc::ChannelArguments arguments;
    arguments.SetMaxSendMessageSize(-1);
    channel_ = GetParam() == Transport::kInProcess
                   ? server_->InProcessChannel(arguments)
                   : grpc::CreateCustomChannel(absl::StrCat("127.0.0.1:", server_->ports()[0]),
                                               grpc::InsecureChannelCredentials(), arguments);
    stub_ = v1::LedgerService::NewStub(channel_);
  }
  void TearDown() override {
    release_.set_value();
    server_.reset();
  }

  // GetServerInfo answers on the lane; ListEntries on a worker, and waits there when asked for
  // entries after 1; Record from another thread; RecordBatch breaks.
  std::vector<Method> Methods() {
    std::vector<Method> methods;
    methods.push_back(Unary<v1::GetServerInfoRequest, v1::GetServerInfoResponse>(
        absl::StrCat(kService, "GetServerInfo"), RunsOn::kLane,
        [](CallContext& context, const auto&, auto* response) {
          response->set_head_sequence(context.now_us);
          response->set_label(context.principal);
          return absl::OkStatus();
        }));
    methods.push_back(Unary<v1::ListEntriesRequest, v1::ListEntriesResponse>(
        absl::StrCat(kService, "ListEntries"), RunsOn::kPool,
        [this](CallContext&, const v1::ListEntriesRequest& request, auto* response) {
          if (request.after_sequence() == 1) {
            ++waiting_;
            released_.wait();
          }
          if (!request.subject().empty()) return errors::FieldInvalid("subject", "is not wanted");
          response->set_head_sequence(request.after_sequence());
          for (int i = 0; i < request.page_size(); ++i) {
            response->add_entries()->set_principal(std::string(1000, 'x'));
          }
          return absl::OkStatus();
        }));
    methods.push_back(AsyncUnary<v1::RecordRequest, v1::RecordResponse>(
        absl::StrCat(kService, "Record"),
        [this](CallContext&, v1::RecordRequest&& request, Reply<v1::RecordResponse> reply) {
          if (!request.has_entry()) return errors::FieldInvalid("entry", "is missing");
          elsewhere_.Run([reply, id = request.entry().entry_id()] {
            if (id == "refuse") return reply(absl::FailedPreconditionError("refused"));
            v1::RecordResponse response;
            response.mutable_receipt()->set_entry_id(id);
            reply(std::move(response));
          });
          return absl::OkStatus();
        }));
    methods.push_back(Unary<v1::RecordBatchRequest, v1::RecordBatchResponse>(
        absl::StrCat(kService, "RecordBatch"), RunsOn::kLane,
        [](CallContext&, const auto&, auto*) -> absl::Status {
          throw std::runtime_error("SELECT secret FROM entries");
        }));
    return methods;
  }

  grpc::Status List(v1::ListEntriesRequest request, grpc::ClientContext* context,
                    v1::ListEntriesResponse* response) {
    return stub_->ListEntries(context, request, response);
  }
  void WaitForWaiting(int count) {
    while (waiting_.load() < count) std::this_thread::sleep_for(std::chrono::milliseconds(1));
  }

  time::ManualClock clock_{1'700'000'000'000'000};
  std::promise<void> release_;
  std::shared_future<void> released_ = release_.get_future().share();
  std::atomic<int> waiting_{0};
  std::mutex mutex_;
  std::vector<std::string> log_;
  Elsewhere elsewhere_;
  std::unique_ptr<Server> server_;
  std::shared_ptr<grpc::Channel> channel_;
  std::unique_ptr<v1::LedgerService::Stub> stub_;
};

INSTANTIATE_TEST_SUITE_P(Transports, CallTest,
                         testing::Values(Transport::kInProcess, Transport::kTcp),
                         [](const testing::TestParamInfo<Transport>& parameter) {
                           return parameter.param == Transport::kTcp ? "Tcp" : "InProcess";
                         });

// In process the library cancels what is in flight when the server ends, and a new call is not
// allowed at all.
class NetworkCallTest : public CallTest {};
INSTANTIATE_TEST_SUITE_P(Tcp, NetworkCallTest, testing::Values(Transport::kTcp));

TEST_P(CallTest, LaneAnswersWithTheServersClockAndALocalCaller) {
  for (int i = 0; i < 100; ++i) {  // more than the calls accepted ahead
    grpc::ClientContext context;
    v1::GetServerInfoResponse response;
    const grpc::Status status = stub_->GetServerInfo(&context, {}, &response);
    ASSERT_TRUE(status.ok()) << status.error_message();
    EXPECT_EQ(response.head_sequence(), 1'700'000'000'000'000);
    EXPECT_EQ(response.label(), "");
  }
}

TEST_P(CallTest, WorkerAnswers) {
  grpc::ClientContext context;
  v1::ListEntriesRequest request;
  request.set_after_sequence(7);
  v1::ListEntriesResponse response;
  ASSERT_TRUE(List(request, &context, &response).ok());
  EXPECT_EQ(response.head_sequence(), 7);
}

TEST_P(CallTest, AnswerFromElsewhereArrives) {
  grpc::ClientContext context;
  v1::RecordRequest request;
  request.mutable_entry()->set_entry_id("e-1");
  v1::RecordResponse response;
  const grpc::Status status = stub_->Record(&context, request, &response);
  ASSERT_TRUE(status.ok()) << status.error_message();
  EXPECT_EQ(response.receipt().entry_id(), "e-1");
}

TEST_P(CallTest, RefusalFromElsewhereKeepsItsCode) {
  grpc::ClientContext context;
  v1::RecordRequest request;
  request.mutable_entry()->set_entry_id("refuse");
  v1::RecordResponse response;
  const grpc::Status status = stub_->Record(&context, request, &response);
  EXPECT_EQ(status.error_code(), grpc::StatusCode::FAILED_PRECONDITION);
  EXPECT_EQ(status.error_message(), "refused");
}

TEST_P(CallTest, RefusalBeforeTheWorkLeavesTheCallUsable) {
  for (int i = 0; i < 40; ++i) {
    grpc::ClientContext context;
    v1::RecordResponse response;
    const grpc::Status status = stub_->Record(&context, {}, &response);
    ASSERT_EQ(status.error_code(), grpc::StatusCode::INVALID_ARGUMENT);
  }
}

TEST_P(CallTest, MalformedBytesAreAnInvalidArgumentAndNoCrash) {
  grpc::GenericStub generic(channel_);
  const std::vector<std::string> bodies = {
      std::string("\x0A\xFF\xFF\xFF\xFF\xFF\xFF\xFF\xFF\xFF\x01", 11),  // length beyond the end
      std::string("\xFF\xFF\xFF\xFF\xFF\xFF\xFF\xFF\xFF\xFF\xFF", 11),  // a tag without an end
      std::string("\x0F\x01", 2),                                       // no such wire type
      std::string("\x1A\x02\xC3\x28", 4),                               // text that is no UTF-8
      std::string("\x0B", 1)};                                          // a group that never ends
  for (const std::string& body : bodies) {
    grpc::ClientContext context;
    grpc::CompletionQueue queue;
    grpc::Slice slice(body);
    grpc::ByteBuffer request(&slice, 1);
    auto call = generic.PrepareUnaryCall(&context, absl::StrCat(kService, "ListEntries"), request,
                                         &queue);
    call->StartCall();
    grpc::ByteBuffer response;
    grpc::Status status;
    call->Finish(&response, &status, nullptr);
    void* tag = nullptr;
    bool ok = false;
    ASSERT_TRUE(queue.Next(&tag, &ok));
    EXPECT_EQ(status.error_code(), grpc::StatusCode::INVALID_ARGUMENT) << absl::CHexEscape(body);
    EXPECT_THAT(status.error_message(), HasSubstr("ferrule.v1.ListEntriesRequest"));
  }
}

TEST_P(CallTest, UnknownFieldIsIgnored) {
  grpc::GenericStub generic(channel_);
  grpc::ClientContext context;
  grpc::CompletionQueue queue;
  grpc::Slice slice(std::string("\xA2\x06\x03new", 6));  // field 100
  grpc::ByteBuffer request(&slice, 1);
  auto call = generic.PrepareUnaryCall(&context, absl::StrCat(kService, "ListEntries"), request,
                                       &queue);
  call->StartCall();
  grpc::ByteBuffer response;
  grpc::Status status;
  call->Finish(&response, &status, nullptr);
  void* tag = nullptr;
  bool ok = false;
  ASSERT_TRUE(queue.Next(&tag, &ok));
  EXPECT_TRUE(status.ok()) << status.error_message();
}

TEST_P(CallTest, MessageBeyondTheLimitIsRefusedAndTheNextCallIsUnhurt) {
  v1::ListEntriesRequest large;
  large.set_subject(std::string(kMaxMessageBytes + 1, 'x'));
  grpc::ClientContext context;
  v1::ListEntriesResponse response;
  const grpc::Status status = List(large, &context, &response);
  EXPECT_EQ(status.error_code(), grpc::StatusCode::RESOURCE_EXHAUSTED);
  grpc::ClientContext next;
  EXPECT_TRUE(List({}, &next, &response).ok());
}

TEST_P(CallTest, MessageJustBelowTheLimitIsTaken) {
  v1::ListEntriesRequest large;
  large.set_subject(std::string(kMaxMessageBytes - 1024, 'x'));
  grpc::ClientContext context;
  v1::ListEntriesResponse response;
  EXPECT_EQ(List(large, &context, &response).error_code(), grpc::StatusCode::INVALID_ARGUMENT);
}

TEST_P(CallTest, AnswerBeyondTheLimitSaysToAskForLess) {
  v1::ListEntriesRequest request;
  request.set_page_size(5000);
  grpc::ClientContext context;
  v1::ListEntriesResponse response;
  const grpc::Status status = List(request, &context, &response);
  EXPECT_EQ(status.error_code(), grpc::StatusCode::RESOURCE_EXHAUSTED);
  EXPECT_THAT(status.error_message(), HasSubstr("smaller page"));
}

TEST_P(CallTest, UnknownMethodIsUnimplemented) {
  grpc::GenericStub generic(channel_);
  grpc::ClientContext context;
  grpc::CompletionQueue queue;
  grpc::ByteBuffer request;
  grpc::Slice slice("");
  request = grpc::ByteBuffer(&slice, 1);
  auto call =
      generic.PrepareUnaryCall(&context, absl::StrCat(kService, "Unheard"), request, &queue);
  call->StartCall();
  grpc::ByteBuffer response;
  grpc::Status status;
  call->Finish(&response, &status, nullptr);
  void* tag = nullptr;
  bool ok = false;
  ASSERT_TRUE(queue.Next(&tag, &ok));
  EXPECT_EQ(status.error_code(), grpc::StatusCode::UNIMPLEMENTED);
}

TEST_P(CallTest, ThrownExceptionBecomesAnIncidentAndItsTextStaysInTheLog) {
  grpc::ClientContext context;
  v1::RecordBatchResponse response;
  const grpc::Status status = stub_->RecordBatch(&context, {}, &response);
  EXPECT_EQ(status.error_code(), grpc::StatusCode::INTERNAL);
  EXPECT_THAT(status.error_message(), HasSubstr("incident"));
  EXPECT_THAT(status.error_message(), Not(HasSubstr("SELECT")));
  const std::lock_guard<std::mutex> lock(mutex_);
  ASSERT_EQ(log_.size(), 1u);
  EXPECT_THAT(log_[0], HasSubstr("SELECT secret"));
  EXPECT_THAT(log_[0], HasSubstr("RecordBatch"));
}

TEST_P(CallTest, CallersDeadlineEndsACallOnTime) {
  grpc::ClientContext context;
  context.set_deadline(std::chrono::system_clock::now() + std::chrono::milliseconds(80));
  v1::ListEntriesRequest request;
  request.set_after_sequence(1);
  v1::ListEntriesResponse response;
  const absl::Time begin = absl::Now();
  EXPECT_EQ(List(request, &context, &response).error_code(),
            grpc::StatusCode::DEADLINE_EXCEEDED);
  EXPECT_LT(absl::Now() - begin, absl::Seconds(2));
}

TEST_P(CallTest, CancelledCallsLeaveTheServerUsable) {
  std::vector<std::unique_ptr<grpc::ClientContext>> contexts;
  std::vector<std::thread> callers;
  for (int i = 0; i < 8; ++i) {
    contexts.push_back(std::make_unique<grpc::ClientContext>());
    callers.emplace_back([this, context = contexts.back().get()] {
      v1::ListEntriesRequest request;
      request.set_after_sequence(1);
      v1::ListEntriesResponse response;
      EXPECT_EQ(List(request, context, &response).error_code(), grpc::StatusCode::CANCELLED);
    });
  }
  WaitForWaiting(2);  // both workers
  for (auto& context : contexts) context->TryCancel();
  for (std::thread& caller : callers) caller.join();
  grpc::ClientContext context;
  v1::GetServerInfoResponse response;
  EXPECT_TRUE(stub_->GetServerInfo(&context, {}, &response).ok());
}

TEST_P(CallTest, ReportsBeyondTheQueueAreTurnedAwayAtOnce) {
  constexpr int kCalls = static_cast<int>(kMaxQueuedReports) + 40;
  std::atomic<int> turned_away{0};
  std::vector<std::thread> callers;
  for (int i = 0; i < kCalls; ++i) {
    callers.emplace_back([this, &turned_away] {
      grpc::ClientContext context;
      v1::ListEntriesRequest request;
      request.set_after_sequence(1);
      v1::ListEntriesResponse response;
      if (List(request, &context, &response).error_code() == grpc::StatusCode::UNAVAILABLE) {
        ++turned_away;
      }
    });
  }
  // Two are with the workers, kMaxQueuedReports wait.
  while (turned_away.load() < 38) std::this_thread::sleep_for(std::chrono::milliseconds(1));
  release_.set_value();
  release_ = std::promise<void>();
  for (std::thread& caller : callers) caller.join();
  EXPECT_EQ(turned_away.load(), 38);
}

TEST_P(NetworkCallTest, DrainFinishesCallsInFlightAndRefusesNewOnes) {
  constexpr int kCalls = 20;
  std::atomic<int> finished{0};
  std::vector<std::thread> callers;
  for (int i = 0; i < kCalls; ++i) {
    callers.emplace_back([this, &finished] {
      grpc::ClientContext context;
      v1::ListEntriesRequest request;
      request.set_after_sequence(1);
      v1::ListEntriesResponse response;
      if (List(request, &context, &response).ok()) ++finished;
    });
  }
  WaitForWaiting(2);
  std::this_thread::sleep_for(std::chrono::milliseconds(100));  // the others queue
  std::thread ending([this] { server_->Shutdown(absl::Seconds(20)); });
  std::this_thread::sleep_for(std::chrono::milliseconds(100));
  grpc::ClientContext late;
  v1::GetServerInfoResponse response;
  EXPECT_EQ(stub_->GetServerInfo(&late, {}, &response).error_code(),
            grpc::StatusCode::UNAVAILABLE);
  release_.set_value();
  release_ = std::promise<void>();
  for (std::thread& caller : callers) caller.join();
  ending.join();
  EXPECT_EQ(finished.load(), kCalls);
}

TEST_P(CallTest, DrainCancelsWhatIsLongerThanItsGrace) {
  grpc::Status status;
  std::thread caller([this, &status] {
    grpc::ClientContext context;
    v1::ListEntriesRequest request;
    request.set_after_sequence(1);
    v1::ListEntriesResponse response;
    status = List(request, &context, &response);
  });
  WaitForWaiting(1);
  std::thread ending([this] { server_->Shutdown(absl::Milliseconds(200)); });
  caller.join();
  EXPECT_FALSE(status.ok());
  release_.set_value();
  release_ = std::promise<void>();
  ending.join();
}

TEST_P(CallTest, ManyCallersAtOnceEachGetTheirOwnAnswer) {
  std::vector<std::thread> callers;
  std::atomic<int> right{0};
  for (int t = 0; t < 8; ++t) {
    callers.emplace_back([this, t, &right] {
      for (int i = 0; i < 50; ++i) {
        grpc::ClientContext context;
        v1::ListEntriesRequest request;
        request.set_after_sequence(1000 * t + i + 2);
        v1::ListEntriesResponse response;
        if (List(request, &context, &response).ok() &&
            response.head_sequence() == request.after_sequence()) {
          ++right;
        }
      }
    });
  }
  for (std::thread& caller : callers) caller.join();
  EXPECT_EQ(right.load(), 400);
}

ServerOptions Plain(const time::Clock* clock) {
  ServerOptions options;
  options.clock = clock;
  options.to_grpc = [](const absl::Status&) { return grpc::Status::OK; };
  return options;
}

TEST(Server, ListensOnThisMachineOnly) {
  const time::ManualClock clock(0);
  for (const char* address : {"0.0.0.0:0", "192.168.1.5:7443", "example.test:7443", "[::]:7443"}) {
    ServerOptions options = Plain(&clock);
    options.listen = {address};
    const auto server = Server::Start({}, options);
    ASSERT_FALSE(server.ok()) << address;
    EXPECT_EQ(server.status().code(), absl::StatusCode::kInvalidArgument);
    EXPECT_THAT(std::string(server.status().message()), HasSubstr("TLS"));
  }
  for (const char* address : {"127.0.0.1:1", "127.8.9.1:1", "localhost:1", "[::1]:1"}) {
    EXPECT_TRUE(IsLoopback(address)) << address;
  }
}

TEST(Server, AddressWithoutAPortSaysWhatIsRight) {
  const time::ManualClock clock(0);
  for (const char* address : {"127.0.0.1", "7443", "127.0.0.1:http", "127.0.0.1:70000", ""}) {
    ServerOptions options = Plain(&clock);
    options.listen = {address};
    const auto server = Server::Start({}, options);
    ASSERT_FALSE(server.ok()) << address;
    EXPECT_THAT(std::string(server.status().message()), HasSubstr("127.0.0.1:7443")) << address;
  }
}

TEST(Server, TakenAddressIsNamed) {
  const time::ManualClock clock(0);
  ServerOptions options = Plain(&clock);
  options.listen = {"127.0.0.1:0"};
  const auto first = Server::Start({}, options);
  ASSERT_TRUE(first.ok()) << first.status();
  options.listen = {absl::StrCat("127.0.0.1:", (*first)->ports()[0])};
  const auto second = Server::Start({}, options);
  ASSERT_FALSE(second.ok());
  EXPECT_EQ(second.status().code(), absl::StatusCode::kUnavailable);
  EXPECT_THAT(std::string(second.status().message()), HasSubstr(options.listen[0]));
}

}  // namespace
}  // namespace ferrule::service
