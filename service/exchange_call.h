// A call of a method that answers each message of its caller with one: read, answer, read on.
#pragma once

#include <optional>

#include "absl/time/time.h"
#include "grpcpp/support/async_stream.h"
#include "grpcpp/support/byte_buffer.h"
#include "service/call.h"

namespace ferrule::service {

class ExchangeCall final : public Call, public Event {
 public:
  explicit ExchangeCall(CallSlots* slots) : Call(slots) {}

  void Accept() override;
  void Happened(bool ok) override;
  // Ends a call that has lasted as long as any may.
  void Tick() override;
  void Drain() override;

 private:
  enum class State { kIdle, kAccepting, kReading, kWriting, kFinishing };
  void Read();
  void Answer();
  void Finish(const grpc::Status& status);
  void Recycle();

  State state_ = State::kIdle;
  absl::Time deadline_;
  std::optional<grpc::ServerAsyncReaderWriter<grpc::ByteBuffer, grpc::ByteBuffer>> responder_;
};

}  // namespace ferrule::service
