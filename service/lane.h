// A lane: one completion queue, the one thread that polls it, and a mailbox into that thread.
// Whatever belongs to a call is touched by its lane's thread alone, so that calls need no locks.
#pragma once

#include <memory>
#include <mutex>
#include <thread>
#include <vector>

#include "absl/functional/any_invocable.h"
#include "grpcpp/alarm.h"
#include "grpcpp/server_builder.h"

namespace ferrule::service {

// Receives one completion event; its address is the event's tag.
class Event {
 public:
  virtual void Happened(bool ok) = 0;

 protected:
  ~Event() = default;
};

class Lane {
 public:
  // While one lives on a thread, each lane that the thread posts to is woken once, at its end:
  // waking costs more than most tasks. Keep it short.
  class Bundle {
   public:
    Bundle();
    ~Bundle();
    Bundle(const Bundle&) = delete;
    Bundle& operator=(const Bundle&) = delete;

   private:
    friend class Lane;
    std::vector<Lane*> to_wake_;
    Bundle* const outer_;
  };

  explicit Lane(std::unique_ptr<grpc::ServerCompletionQueue> queue);
  ~Lane();

  // Starts the thread. `on_tick` runs about once a second.
  void Start(absl::AnyInvocable<void()> on_tick);
  // Runs a task on the lane's thread; dropped when the lane has ended. Any thread.
  void Post(absl::AnyInvocable<void()> task);
  // Ends the lane as soon as no call holds it, and waits for its thread. Any thread but its own.
  void End();

  // The lane's thread alone: a call holds the lane from its accepting to its last event.
  void Hold() { ++held_; }
  void Release() { --held_; }
  bool ending() const { return ending_; }

  grpc::ServerCompletionQueue* queue() { return queue_.get(); }

 private:
  class MailEvent final : public Event {
   public:
    explicit MailEvent(Lane* lane) : lane_(lane) {}
    void Happened(bool) override { lane_->OpenMail(); }

   private:
    Lane* lane_;
  };
  class TickEvent final : public Event {
   public:
    explicit TickEvent(Lane* lane) : lane_(lane) {}
    void Happened(bool) override { lane_->Tick(); }

   private:
    Lane* lane_;
  };

  void Wake();
  void Poll();
  void OpenMail();
  void Tick();
  void ArmTick();
  void CloseWhenFree();

  std::unique_ptr<grpc::ServerCompletionQueue> queue_;
  absl::AnyInvocable<void()> on_tick_;
  MailEvent mail_event_{this};
  TickEvent tick_event_{this};
  grpc::Alarm tick_alarm_;
  int held_ = 0;
  bool ending_ = false;
  bool ticking_ = false;

  std::mutex mutex_;
  grpc::Alarm mail_alarm_;
  std::vector<absl::AnyInvocable<void()>> mail_;
  bool armed_ = false;   // mail_alarm_ is set and its event has not come
  bool closed_ = false;  // the queue is shut down

  std::vector<absl::AnyInvocable<void()>> opened_;  // storage reused by OpenMail
  std::thread thread_;
};

}  // namespace ferrule::service
