#include "service/lane.h"

#include <chrono>
#include <utility>

namespace ferrule::service {
namespace {

constexpr std::chrono::seconds kTickInterval{1};

thread_local Lane::Bundle* bundle = nullptr;  // the innermost of this thread

}  // namespace

Lane::Bundle::Bundle() : outer_(bundle) { bundle = this; }

Lane::Bundle::~Bundle() {
  bundle = outer_;
  for (Lane* lane : to_wake_) {
    const std::lock_guard<std::mutex> lock(lane->mutex_);
    lane->Wake();
  }
}

Lane::Lane(std::unique_ptr<grpc::ServerCompletionQueue> queue) : queue_(std::move(queue)) {}

Lane::~Lane() {
  if (thread_.joinable()) {
    End();
    return;
  }
  // Never started: the queue must still be shut down and drained before it goes.
  queue_->Shutdown();
  void* tag = nullptr;
  bool ok = false;
  while (queue_->Next(&tag, &ok)) {
  }
}

void Lane::Start(absl::AnyInvocable<void()> on_tick) {
  on_tick_ = std::move(on_tick);
  ticking_ = true;
  ArmTick();
  thread_ = std::thread([this] { Poll(); });
}

void Lane::Post(absl::AnyInvocable<void()> task) {
  const std::lock_guard<std::mutex> lock(mutex_);
  if (closed_) return;
  mail_.push_back(std::move(task));
  if (armed_) return;
  armed_ = true;
  if (bundle == nullptr) return Wake();
  bundle->to_wake_.push_back(this);
}

void Lane::Wake() {
  // A time long past: "now" would be rounded up to the next millisecond.
  mail_alarm_.Set(queue_.get(), gpr_inf_past(GPR_CLOCK_MONOTONIC), &mail_event_);
}

void Lane::End() {
  if (!thread_.joinable()) return;
  Post([this] {
    ending_ = true;
    tick_alarm_.Cancel();
  });
  thread_.join();
}

void Lane::Poll() {
  void* tag = nullptr;
  bool ok = false;
  while (queue_->Next(&tag, &ok)) {
    static_cast<Event*>(tag)->Happened(ok);
    if (ending_) CloseWhenFree();
  }
}

void Lane::OpenMail() {
  {
    const std::lock_guard<std::mutex> lock(mutex_);
    armed_ = false;
    opened_.swap(mail_);
  }
  for (auto& task : opened_) task();
  opened_.clear();
}

void Lane::Tick() {
  if (ending_) {
    ticking_ = false;
    return;
  }
  on_tick_();
  ArmTick();
}

void Lane::ArmTick() {
  tick_alarm_.Set(queue_.get(), std::chrono::system_clock::now() + kTickInterval, &tick_event_);
}

void Lane::CloseWhenFree() {
  if (held_ > 0 || ticking_) return;
  const std::lock_guard<std::mutex> lock(mutex_);
  if (armed_ || closed_) return;  // the mail's event comes first
  closed_ = true;
  queue_->Shutdown();
}

}  // namespace ferrule::service
