#include "service/worker_pool.h"

#include <limits>
#include <utility>

namespace ferrule::service {

WorkerPool::~WorkerPool() {
  {
    const std::lock_guard<std::mutex> lock(mutex_);
    ending_ = true;
  }
  more_.notify_all();
  for (std::thread& thread : threads_) thread.join();
}

bool WorkerPool::Post(absl::AnyInvocable<void()>&& task) {
  return Enqueue(std::move(task), queue_max_);
}

void WorkerPool::PostAlways(absl::AnyInvocable<void()> task) {
  Enqueue(std::move(task), std::numeric_limits<size_t>::max());
}

bool WorkerPool::Enqueue(absl::AnyInvocable<void()>&& task, size_t queue_max) {
  if (thread_count_ == 0) {
    absl::AnyInvocable<void()> now = std::move(task);
    now();
    return true;
  }
  {
    const std::lock_guard<std::mutex> lock(mutex_);
    if (queue_.size() >= queue_max) return false;
    queue_.push_back(std::move(task));
    while (static_cast<int>(threads_.size()) < thread_count_) {
      threads_.emplace_back([this] { Work(); });
    }
  }
  more_.notify_one();
  return true;
}

void WorkerPool::Work() {
  std::unique_lock<std::mutex> lock(mutex_);
  for (;;) {
    more_.wait(lock, [this] { return ending_ || !queue_.empty(); });
    if (queue_.empty()) return;
    absl::AnyInvocable<void()> task = std::move(queue_.front());
    queue_.pop_front();
    lock.unlock();
    task();
    task = nullptr;  // what it holds goes before the lock is taken
    lock.lock();
  }
}

}  // namespace ferrule::service
