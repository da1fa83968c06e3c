#include "service/call.h"

#include <algorithm>
#include <exception>
#include <utility>

#include "absl/strings/str_cat.h"
#include "absl/time/clock.h"
#include "grpcpp/support/proto_buffer_reader.h"
#include "grpcpp/support/slice.h"
#include "service/errors.h"
#include "service/exchange_call.h"
#include "service/metrics.h"

namespace ferrule::service {
namespace {

google::protobuf::ArenaOptions ArenaOver(char* block, size_t size) {
  google::protobuf::ArenaOptions options;
  options.initial_block = block;
  options.initial_block_size = size;
  return options;
}

// Runs a method's code. Whatever it throws ends here, as a fault of the program.
template <class Run>
absl::Status Guard(Run&& run) {
  try {
    return run();
  } catch (const std::exception& e) {
    return absl::InternalError(absl::StrCat("exception: ", e.what()));
  } catch (...) {
    return absl::InternalError("exception of an unknown kind");
  }
}

// Differs from run to run, so that an operator finds the one line.
std::string NextIncident(int64_t now_us) {
  static std::atomic<uint32_t> count{0};
  return absl::StrCat(absl::Hex(now_us / 1000), "-", ++count);
}

grpc::internal::RpcMethod::RpcType TypeOf(const Method& method) {
  if (method.stream) return grpc::internal::RpcMethod::SERVER_STREAMING;
  if (method.exchange) return grpc::internal::RpcMethod::BIDI_STREAMING;
  return grpc::internal::RpcMethod::NORMAL_RPC;
}

}  // namespace

grpc::ByteBuffer Encode(const google::protobuf::MessageLite& message) {
  grpc::Slice slice(message.ByteSizeLong());
  message.SerializeWithCachedSizesToArray(const_cast<uint8_t*>(slice.begin()));
  return grpc::ByteBuffer(&slice, 1);
}

MethodTable::MethodTable(std::vector<Method> methods) : methods_(std::move(methods)) {
  for (size_t i = 0; i < methods_.size(); ++i) {
    AddMethod(new grpc::internal::RpcServiceMethod(methods_[i].path.c_str(), TypeOf(methods_[i]),
                                                   nullptr));
    MarkMethodRaw(static_cast<int>(i));
  }
}

void MethodTable::Request(size_t i, grpc::ServerContext* context, grpc::ByteBuffer* request,
                          grpc::internal::ServerAsyncStreamingInterface* responder, Lane* lane,
                          void* tag) {
  RequestAsyncUnary(static_cast<int>(i), context, request, responder, lane->queue(), lane->queue(),
                    tag);
}

void MethodTable::RequestExchange(size_t i, grpc::ServerContext* context,
                                  grpc::internal::ServerAsyncStreamingInterface* responder,
                                  Lane* lane, void* tag) {
  RequestAsyncBidiStreaming(static_cast<int>(i), context, responder, lane->queue(), lane->queue(),
                            tag);
}

Lane& Call::lane() { return slots_->lane(); }
CallShared& Call::shared() { return slots_->shared(); }

absl::Status Call::Parse(google::protobuf::MessageLite* request) {
  grpc::Slice slice;
  bool parsed = false;
  if (request_.TrySingleSlice(&slice).ok()) {
    parsed = request->ParseFromArray(slice.begin(), static_cast<int>(slice.size()));
  } else {
    grpc::ProtoBufferReader reader(&request_);
    parsed = reader.status().ok() && request->ParseFromZeroCopyStream(&reader);
  }
  request_.Clear();
  if (!parsed) return errors::MalformedMessage(request->GetTypeName());
  return absl::OkStatus();
}

absl::Status Stream::TooSlow() { return errors::SlowConsumer(-1); }

bool ShowsPatients(const CallContext& context, std::string_view path,
                   const google::protobuf::Message& request) {
  return context.gate == nullptr || context.caller == nullptr ||
         context.gate->ShowsPatients(*context.caller, path, request);
}

absl::Status Call::Identify() {
  call_context_.principal.clear();
  call_context_.caller.reset();
  call_context_.gate = shared().gate;
  call_context_.now_us = shared().clock->NowMicros();
  call_context_.kept.reset();
  if (shared().gate == nullptr) return absl::OkStatus();
  auto caller = shared().gate->Enter(*server_context_, slots_->method().path, call_context_.now_us);
  if (!caller.ok()) return caller.status();
  call_context_.caller = *std::move(caller);
  call_context_.principal = call_context_.caller->principal;
  return absl::OkStatus();
}

absl::Status Call::Admit(google::protobuf::Message* request) {
  if (call_context_.caller == nullptr) return absl::OkStatus();
  const Caller& caller = *call_context_.caller;
  absl::Status may = shared().gate->Admit(caller, slots_->method().path, request);
  if (!absl::IsPermissionDenied(may)) return may;
  return shared().gate->TurnAway(server_context_->peer(), caller.principal, slots_->method().path,
                                 std::move(may));
}

void Call::Screen(const google::protobuf::Message& request, google::protobuf::Message* response) {
  if (call_context_.caller == nullptr) return;
  shared().gate->Screen(*call_context_.caller, slots_->method().path, request,
                        call_context_.kept != nullptr, response);
}

grpc::Status Call::ToGrpc(const absl::Status& status) {
  if (status.ok()) return grpc::Status::OK;
  if (status.code() == absl::StatusCode::kInternal || status.code() == absl::StatusCode::kUnknown) {
    const std::string incident = NextIncident(call_context_.now_us);
    shared().log(absl::StrCat("incident ", incident, " in ", slots_->method().path, ": ",
                              std::string(status.message())));
    return shared().to_grpc(errors::Incident(incident));
  }
  return shared().to_grpc(status);
}

UnaryCall::UnaryCall(CallSlots* slots)
    : Call(slots), arena_(ArenaOver(first_block_.data(), first_block_.size())) {}

void UnaryCall::Accept() {
  state_ = State::kAccepting;
  lane().Hold();
  responder_.reset();
  server_context_.emplace();
  responder_.emplace(&*server_context_);
  slots_->table()->Request(slots_->method_index(), &*server_context_, &request_, &*responder_,
                           &lane(), static_cast<Event*>(this));
}

void UnaryCall::Happened(bool ok) {
  switch (state_) {
    case State::kAccepting:
      if (!ok) {  // the server ends
        state_ = State::kFinished;
        return lane().Release();
      }
      slots_->CameIn();
      return Begin();
    case State::kFinishing:
      state_ = State::kFinished;
      return Recycle();
    default:
      return;
  }
}

void UnaryCall::Begin() {
  state_ = State::kWorking;
  begun_ = absl::Now();
  deadline_ = std::min(absl::FromChrono(server_context_->deadline()), begun_ + kDeadlineCeiling);
  if (const absl::Status known = Identify(); !known.ok()) {
    request_.Clear();
    return Answer(known, nullptr);
  }
  const absl::Status status = Guard([this] {
    slots_->method().unary(*this);
    return absl::OkStatus();
  });
  if (!status.ok() && state_ == State::kWorking && !elsewhere_) Answer(status, nullptr);
}

void UnaryCall::RunOnPool(absl::AnyInvocable<void()> work) {
  elsewhere_ = true;
  const absl::Time deadline = deadline_;
  auto guarded = [this, deadline, run = std::move(work)]() mutable {
    if (absl::Now() >= deadline) return Prepare(errors::TooLate(), nullptr);
    const absl::Status status = Guard([&run] {
      run();
      return absl::OkStatus();
    });
    if (!status.ok()) Prepare(status, nullptr);
  };
  if (!shared().pool->Post(std::move(guarded))) {
    elsewhere_ = false;
    Answer(errors::TooBusy(), nullptr);
  }
}

void UnaryCall::Prepare(absl::Status status, const google::protobuf::MessageLite* response) {
  status_ = std::move(status);
  if (status_.ok()) {
    if (response->ByteSizeLong() > static_cast<size_t>(kMaxMessageBytes)) {
      status_ = errors::AnswerTooLarge(response->ByteSizeLong());
    } else {
      response_ = Encode(*response);
    }
  }
  lane().Post([this] {
    if (Arrive()) Send(status_, response_);
  });
}

void UnaryCall::Post(absl::AnyInvocable<void()> answer) {
  lane().Post([this, run = std::move(answer)]() mutable {
    if (Arrive()) run();
  });
}

bool UnaryCall::Arrive() {
  elsewhere_ = false;
  if (state_ == State::kWorking) return true;
  if (state_ == State::kFinished) Recycle();
  return false;
}

void UnaryCall::Answer(const absl::Status& status, const google::protobuf::MessageLite* response) {
  if (!status.ok()) return Send(status, {});
  if (response->ByteSizeLong() > static_cast<size_t>(kMaxMessageBytes)) {
    return Send(errors::AnswerTooLarge(response->ByteSizeLong()), {});
  }
  Send(status, Encode(*response));
}

void UnaryCall::Send(const absl::Status& status, const grpc::ByteBuffer& response) {
  state_ = State::kFinishing;
  const grpc::Status said = ToGrpc(status);
  if (slots_->metrics() != nullptr) {
    slots_->metrics()->Done(said.error_code(), absl::Now() - begun_);
  }
  if (said.ok()) {
    responder_->Finish(response, said, static_cast<Event*>(this));
  } else {
    responder_->FinishWithError(said, static_cast<Event*>(this));
  }
}

void UnaryCall::Tick() {
  if (state_ != State::kWorking || absl::Now() < deadline_) return;
  Send(errors::TooLate(), {});
}

void UnaryCall::Recycle() {
  if (elsewhere_) return;  // until the work comes back
  call_context_.kept.reset();
  response_.Clear();
  status_ = absl::OkStatus();
  arena_.Reset();
  state_ = State::kIdle;
  lane().Release();
  slots_->Recycle(this);
}

StreamCall::StreamCall(CallSlots* slots) : Call(slots) {}

void StreamCall::Accept() {
  state_ = State::kAccepting;
  lane().Hold();
  over_ = false;
  ending_.reset();
  responder_.reset();
  server_context_.emplace();
  server_context_->AsyncNotifyWhenDone(static_cast<Event*>(&done_event_));
  responder_.emplace(&*server_context_);
  slots_->table()->Request(slots_->method_index(), &*server_context_, &request_, &*responder_,
                           &lane(), static_cast<Event*>(this));
}

void StreamCall::Happened(bool ok) {
  switch (state_) {
    case State::kAccepting:
      if (!ok) {  // the server ends
        state_ = State::kFinished;
        return lane().Release();
      }
      slots_->CameIn();
      done_pending_ = true;
      return Begin();
    case State::kWriting:
      state_ = State::kOpen;
      if (!ok) over_ = true;
      if (over_ || ending_) return SendStatus();
      return stream_->Written();
    case State::kFinishing:
      state_ = State::kFinished;
      return RecycleWhenFree();
    default:
      return;
  }
}

void StreamCall::Begin() {
  state_ = State::kOpen;
  if (slots_->metrics() != nullptr) slots_->metrics()->StreamOpened();
  absl::Status known = Identify();
  if (known.ok() && call_context_.caller != nullptr) {
    known = shared().gate->BeginStream(*call_context_.caller);
    counted_ = known.ok();
  }
  if (!known.ok()) {
    request_.Clear();
    return Finish(known);
  }
  absl::StatusOr<std::unique_ptr<Stream>> stream = nullptr;
  const absl::Status status = Guard([&] {
    stream = slots_->method().stream(*this);
    return stream.status();
  });
  if (!status.ok()) return Finish(status);
  stream_ = *std::move(stream);
  stream_->Tick();
}

void StreamCall::Write(const grpc::ByteBuffer& message) {
  if (over_ || state_ != State::kOpen) return;
  state_ = State::kWriting;
  writing_since_ = absl::Now();
  responder_->Write(message, static_cast<Event*>(this));
}

void StreamCall::Finish(absl::Status status) {
  if (ending_ || state_ == State::kFinishing || state_ == State::kFinished) return;
  ending_ = std::move(status);
  over_ = true;
  if (state_ == State::kOpen) SendStatus();
}

void StreamCall::SendStatus() {
  state_ = State::kFinishing;
  const grpc::Status said = ToGrpc(ending_.value_or(absl::CancelledError("the caller has gone")));
  if (slots_->metrics() != nullptr) slots_->metrics()->StreamClosed(said.error_code());
  responder_->Finish(said, static_cast<Event*>(this));
}

void StreamCall::Done() {
  done_pending_ = false;
  over_ = true;
  if (state_ == State::kOpen) return SendStatus();
  RecycleWhenFree();
}

void StreamCall::ReleaseWork() {
  --work_;
  RecycleWhenFree();
}

void StreamCall::Tick() {
  if (stream_ && !over_ && call_context_.caller != nullptr) {
    const absl::Status still = shared().gate->StillGood(
        *call_context_.caller, slots_->method().path, shared().clock->NowMicros());
    if (!still.ok()) return Finish(still);
  }
  if (state_ == State::kWriting) CutOffWhenSlow();
  if (stream_ && !over_) stream_->Tick();
}

// The status waits behind the message that is not taken, so a reader who takes nothing at all is
// cut off without it.
void StreamCall::CutOffWhenSlow() {
  const absl::Duration waited = absl::Now() - writing_since_;
  if (waited > shared().slow_reader && stream_ && !ending_) Finish(stream_->TooSlow());
  if (waited > shared().slow_reader + kCutOff) server_context_->TryCancel();
}

void StreamCall::Drain() {
  if (stream_ && !over_) stream_->Drain();
}

void StreamCall::RecycleWhenFree() {
  if (state_ != State::kFinished || done_pending_ || work_ > 0) return;
  stream_.reset();
  if (counted_) shared().gate->EndStream(*call_context_.caller);
  counted_ = false;
  state_ = State::kIdle;
  lane().Release();
  slots_->Recycle(this);
}

CallSlots::CallSlots(MethodTable* table, size_t method, Lane* lane, CallShared* shared, int ahead)
    : table_(table),
      method_(method),
      lane_(lane),
      shared_(shared),
      metrics_(shared->metrics == nullptr ? nullptr : shared->metrics->Of(table->at(method).path)),
      ahead_(ahead) {}

std::unique_ptr<Call> CallSlots::Make() {
  if (method().stream) return std::make_unique<StreamCall>(this);
  if (method().exchange) return std::make_unique<ExchangeCall>(this);
  return std::make_unique<UnaryCall>(this);
}

void CallSlots::Replenish() {
  const int most = method().unary      ? kMaxCallsPerMethod
                   : method().exchange ? kMaxExchanges
                                       : kMaxWatches;
  while (accepting_ < ahead_ && !shared_->draining.load(std::memory_order_relaxed)) {
    if (idle_.empty()) {
      if (static_cast<int>(calls_.size()) >= most) return;
      calls_.push_back(Make());
      idle_.push_back(calls_.back().get());
    }
    Call* call = idle_.back();
    idle_.pop_back();
    ++accepting_;
    call->Accept();
  }
}

void CallSlots::CameIn() {
  --accepting_;
  Replenish();
}

void CallSlots::Recycle(Call* call) {
  idle_.push_back(call);
  Replenish();
}

void CallSlots::Tick() {
  for (const auto& call : calls_) call->Tick();
}

void CallSlots::Drain() {
  for (const auto& call : calls_) call->Drain();
}

}  // namespace ferrule::service
