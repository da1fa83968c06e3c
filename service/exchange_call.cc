#include "service/exchange_call.h"

#include "absl/time/clock.h"

namespace ferrule::service {

void ExchangeCall::Accept() {
  state_ = State::kAccepting;
  lane().Hold();
  responder_.reset();
  server_context_.emplace();
  responder_.emplace(&*server_context_);
  slots_->table()->RequestExchange(slots_->method_index(), &*server_context_, &*responder_, &lane(),
                                   static_cast<Event*>(this));
}

void ExchangeCall::Happened(bool ok) {
  switch (state_) {
    case State::kAccepting:
      if (!ok) {  // the server ends
        state_ = State::kIdle;
        return lane().Release();
      }
      slots_->CameIn();
      deadline_ = absl::Now() + kDeadlineCeiling;
      if (const absl::Status known = Identify(); !known.ok()) return Finish(ToGrpc(known));
      return Read();
    case State::kReading:  // not ok: the caller has said all, or has gone
      return ok ? Answer() : Finish(grpc::Status::OK);
    case State::kWriting:
      return ok ? Read() : Finish(grpc::Status::OK);
    case State::kFinishing:
      return Recycle();
    case State::kIdle:
      return;
  }
}

void ExchangeCall::Read() {
  state_ = State::kReading;
  responder_->Read(&request_, static_cast<Event*>(this));
}

void ExchangeCall::Answer() {
  const absl::StatusOr<grpc::ByteBuffer> answer = slots_->method().exchange(*this);
  if (!answer.ok()) return Finish(ToGrpc(answer.status()));
  state_ = State::kWriting;
  responder_->Write(*answer, static_cast<Event*>(this));
}

void ExchangeCall::Finish(const grpc::Status& status) {
  state_ = State::kFinishing;
  responder_->Finish(status, static_cast<Event*>(this));
}

void ExchangeCall::Tick() {
  if (absl::Now() >= deadline_) Drain();
}

void ExchangeCall::Drain() {
  if (state_ == State::kReading || state_ == State::kWriting) server_context_->TryCancel();
}

void ExchangeCall::Recycle() {
  state_ = State::kIdle;
  lane().Release();
  slots_->Recycle(this);
}

}  // namespace ferrule::service
