// A few threads for answers that take longer than a look-up, so that no lane waits for them.
#pragma once

#include <condition_variable>
#include <cstddef>
#include <deque>
#include <mutex>
#include <thread>
#include <vector>

#include "absl/functional/any_invocable.h"

namespace ferrule::service {

class WorkerPool {
 public:
  // With no threads, tasks run where they are posted. Threads start with the first task.
  WorkerPool(int threads, size_t queue_max) : thread_count_(threads), queue_max_(queue_max) {}
  // Runs what was accepted, then ends.
  ~WorkerPool();

  // False, with the task not taken, when too many wait already.
  bool Post(absl::AnyInvocable<void()>&& task);
  // The same without a limit, for work that its caller bounds.
  void PostAlways(absl::AnyInvocable<void()> task);

 private:
  bool Enqueue(absl::AnyInvocable<void()>&& task, size_t queue_max);
  void Work();

  const int thread_count_;
  const size_t queue_max_;
  std::mutex mutex_;
  std::condition_variable more_;
  std::deque<absl::AnyInvocable<void()>> queue_;
  std::vector<std::thread> threads_;
  bool ending_ = false;
};

}  // namespace ferrule::service
