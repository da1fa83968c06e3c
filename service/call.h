// The one wrapper through which every RPC runs: accept, identify, parse, limit, run, map the
// status, answer. A method's own code is a function from request to answer (method.h).
//
// A call belongs to one lane and is touched by that lane's thread alone, save where a comment says
// otherwise. Calls are reused: one object serves one call after the other.
#pragma once

#include <array>
#include <atomic>
#include <cstdint>
#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "absl/functional/any_invocable.h"
#include "absl/status/status.h"
#include "absl/status/statusor.h"
#include "absl/time/time.h"
#include "core/time/clock.h"
#include "google/protobuf/arena.h"
#include "google/protobuf/message.h"
#include "google/protobuf/message_lite.h"
#include "grpcpp/impl/service_type.h"
#include "grpcpp/server_context.h"
#include "grpcpp/support/async_stream.h"
#include "grpcpp/support/async_unary_call.h"
#include "grpcpp/support/byte_buffer.h"
#include "service/gate.h"
#include "service/lane.h"
#include "service/limits.h"
#include "service/worker_pool.h"

namespace ferrule::service {

class Metrics;
class MethodMetrics;

// What a method may know about its caller.
struct CallContext {
  std::string principal;  // who was authenticated; empty for a local caller
  CallerPtr caller;       // null where no gate stands before the methods
  Gate* gate = nullptr;   // the same
  int64_t now_us = 0;     // the server's clock when the call came in
  // What the answer borrows from, kept until the answer is encoded.
  std::shared_ptr<const void> kept;
};

// What all calls of a server share. Thread-safe.
struct CallShared {
  const time::Clock* clock = nullptr;
  // absl::Status to what travels; findings get their words here.
  std::function<grpc::Status(const absl::Status&)> to_grpc;
  // One line for the operator: incidents only.
  std::function<void(const std::string&)> log;
  WorkerPool* pool = nullptr;
  // Null lets everybody do everything: for tests of the transport alone.
  Gate* gate = nullptr;
  Metrics* metrics = nullptr;  // null: nothing is counted
  absl::Duration slow_reader = kSlowReader;
  // Set when the server drains: nothing new is begun.
  std::atomic<bool> draining{false};
};

// Whether the method's answer may name patients in its text (gate.h).
bool ShowsPatients(const CallContext& context, std::string_view path,
                   const google::protobuf::Message& request);

class Call;
class UnaryCall;
class StreamCall;

// A streaming method's state. Every function is called by the lane's thread.
class Stream {
 public:
  virtual ~Stream() = default;
  // The message given to Write has left.
  virtual void Written() = 0;
  // About once a second.
  virtual void Tick() = 0;
  // The server drains: end with the status that says so.
  virtual void Drain() = 0;
  // What to end with when the reader takes nothing.
  virtual absl::Status TooSlow();
};

// A method as the server registers it.
struct Method {
  std::string path;  // "/ferrule.v1.DepotService/GetUnit"
  // Exactly one of the three is set.
  std::function<void(UnaryCall&)> unary;
  // Gives the stream, or a status to end with.
  std::function<absl::StatusOr<std::unique_ptr<Stream>>(StreamCall&)> stream;
  // Parses one message of the caller and gives the answer to it.
  std::function<absl::StatusOr<grpc::ByteBuffer>(Call&)> exchange;
};

// The methods of one proto service, registered by name.
class MethodTable final : public grpc::Service {
 public:
  explicit MethodTable(std::vector<Method> methods);

  size_t size() const { return methods_.size(); }
  const Method& at(size_t i) const { return methods_[i]; }
  // Asks for the next call of a method.
  void Request(size_t i, grpc::ServerContext* context, grpc::ByteBuffer* request,
               grpc::internal::ServerAsyncStreamingInterface* responder, Lane* lane, void* tag);
  // The same for a method that exchanges messages: they are read later.
  void RequestExchange(size_t i, grpc::ServerContext* context,
                       grpc::internal::ServerAsyncStreamingInterface* responder, Lane* lane,
                       void* tag);

 private:
  const std::vector<Method> methods_;
};

class CallSlots;

// What unary and streaming calls have in common.
class Call {
 public:
  virtual ~Call() = default;
  Call(const Call&) = delete;
  Call& operator=(const Call&) = delete;

  CallContext& context() { return call_context_; }
  Lane& lane();
  CallShared& shared();
  // Parses the request; InvalidArgument when the bytes are no such message.
  absl::Status Parse(google::protobuf::MessageLite* request);
  // Whether the caller may ask this; call it with every request, before anything is done.
  absl::Status Admit(google::protobuf::Message* request);
  // Hides what the caller may not see; call it with every answer that can name patients.
  void Screen(const google::protobuf::Message& request, google::protobuf::Message* response);
  // Asks for the next call.
  virtual void Accept() = 0;
  // About once a second, for calls being worked on.
  virtual void Tick() = 0;
  virtual void Drain() {}

 protected:
  explicit Call(CallSlots* slots) : slots_(slots) {}
  // Fills the context of a call that has come in; an error is the call's answer.
  absl::Status Identify();
  // absl::Status to what travels. An Internal status, whose text is not for callers, is logged
  // under an incident number and answered with that number.
  grpc::Status ToGrpc(const absl::Status& status);

  CallSlots* const slots_;
  CallContext call_context_;
  std::optional<grpc::ServerContext> server_context_;
  grpc::ByteBuffer request_;
};

class UnaryCall final : public Call, public Event {
 public:
  explicit UnaryCall(CallSlots* slots);

  // For messages of this call; emptied before the next.
  google::protobuf::Arena* arena() { return &arena_; }

  // Answers at once, on the lane's thread.
  void Answer(const absl::Status& status, const google::protobuf::MessageLite* response);
  // Runs `work` on a worker; it must end with Prepare. Answers Unavailable when too many wait.
  void RunOnPool(absl::AnyInvocable<void()> work);
  // Says that work goes on elsewhere and will end with Prepare or with Post.
  void WorkElsewhere() { elsewhere_ = true; }
  // Encodes the answer where it was computed, and has the lane send it. Any thread, once.
  void Prepare(absl::Status status, const google::protobuf::MessageLite* response);
  // Runs `answer` on the lane's thread, which ends with Answer. Any thread, once.
  void Post(absl::AnyInvocable<void()> answer);

  void Accept() override;
  void Happened(bool ok) override;
  void Tick() override;

 private:
  enum class State { kIdle, kAccepting, kWorking, kFinishing, kFinished };
  void Begin();
  void Send(const absl::Status& status, const grpc::ByteBuffer& response);
  void Recycle();
  // On the lane's thread, when the work elsewhere is done: false when the call is answered already.
  bool Arrive();

  State state_ = State::kIdle;
  bool elsewhere_ = false;
  absl::Time begun_;
  absl::Time deadline_;
  std::optional<grpc::ServerAsyncResponseWriter<grpc::ByteBuffer>> responder_;
  absl::Status status_;
  grpc::ByteBuffer response_;
  std::array<char, 2048> first_block_;
  google::protobuf::Arena arena_;
};

class StreamCall final : public Call, public Event {
 public:
  explicit StreamCall(CallSlots* slots);

  // Sends one message; the next only after Stream::Written.
  void Write(const grpc::ByteBuffer& message);
  // Ends the stream, now or after the message under way.
  void Finish(absl::Status status);
  // Whether the caller has gone or the stream was ended: nothing more can be sent.
  bool over() const { return over_; }
  // Counts work done elsewhere, which keeps the call alive until it is posted back.
  void HoldWork() { ++work_; }
  void ReleaseWork();

  void Accept() override;
  void Happened(bool ok) override;
  void Tick() override;
  void Drain() override;

 private:
  class DoneEvent final : public Event {
   public:
    explicit DoneEvent(StreamCall* call) : call_(call) {}
    void Happened(bool) override { call_->Done(); }

   private:
    StreamCall* call_;
  };
  enum class State { kIdle, kAccepting, kOpen, kWriting, kFinishing, kFinished };
  void Begin();
  void Done();
  void SendStatus();
  void CutOffWhenSlow();
  void RecycleWhenFree();

  State state_ = State::kIdle;
  bool over_ = false;
  bool done_pending_ = false;
  int work_ = 0;
  bool counted_ = false;  // as a stream of its caller
  absl::Time writing_since_;
  std::optional<absl::Status> ending_;
  std::optional<grpc::ServerAsyncWriter<grpc::ByteBuffer>> responder_;
  DoneEvent done_event_{this};
  std::unique_ptr<Stream> stream_;
};

// The calls of one method on one lane: some accepted ahead, the rest in hand or idle.
class CallSlots {
 public:
  CallSlots(MethodTable* table, size_t method, Lane* lane, CallShared* shared, int ahead);

  // The lane's thread alone, from here on.
  void Replenish();
  void CameIn();
  void Recycle(Call* call);
  void Tick();
  void Drain();

  MethodTable* table() { return table_; }
  size_t method_index() const { return method_; }
  const Method& method() const { return table_->at(method_); }
  Lane& lane() { return *lane_; }
  CallShared& shared() { return *shared_; }
  MethodMetrics* metrics() { return metrics_; }  // null: nothing is counted

 private:
  std::unique_ptr<Call> Make();

  MethodTable* const table_;
  const size_t method_;
  Lane* const lane_;
  CallShared* const shared_;
  MethodMetrics* const metrics_;
  const int ahead_;
  std::vector<std::unique_ptr<Call>> calls_;
  std::vector<Call*> idle_;
  int accepting_ = 0;
};

// The bytes of a message as gRPC sends them.
grpc::ByteBuffer Encode(const google::protobuf::MessageLite& message);

}  // namespace ferrule::service
