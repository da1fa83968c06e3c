// The one thread that commits: takes what callers queued, decides and writes it as a group, and
// answers only after the commit.
#pragma once

#include <chrono>
#include <condition_variable>
#include <deque>
#include <functional>
#include <memory>
#include <mutex>
#include <string>
#include <thread>
#include <vector>

#include "core/ledger/group.h"
#include "core/ledger/ledger.h"
#include "core/ledger/state_cache.h"
#include "core/store/connection.h"

namespace ferrule::ledger {

// What the readers see of the ledger's present; guarded by its own mutex.
class Present {
 public:
  Head head() const;
  std::shared_ptr<const depot::SettingsBook> book() const;
  void Set(const HeadRow& head, std::shared_ptr<const depot::SettingsBook> book);

 private:
  mutable std::mutex mutex_;
  Head head_;
  std::shared_ptr<const depot::SettingsBook> book_ = std::make_shared<depot::SettingsBook>();
};

class Writer {
 public:
  struct Task {
    std::vector<Prepared> entries;
    std::string principal;
    bool validate_only = false;
    Ledger::BesideFn beside;           // may be null
    Ledger::BesideDoneFn beside_done;  // instead of `done` when there is one
    Ledger::BatchFn done;
  };

  Writer(store::Database& database, std::unique_ptr<store::Connection> connection,
         const time::Clock& clock, const Options& options, StateCache& cache, Present& present,
         std::function<void(int64_t)> on_commit);
  ~Writer();  // finishes the group in hand; what is still queued gets Unavailable

  // Reads head and settings and starts the thread.
  absl::Status Start();
  void Enqueue(Task task);

 private:
  void Loop();
  std::vector<Task> NextTasks();
  void AwaitOthers(std::unique_lock<std::mutex>& lock);
  void SetGoal(size_t done);
  static void Answer(Task& task, const absl::Status& stored,
                     std::vector<absl::StatusOr<v1::Receipt>> outcomes);
  static std::vector<Item> ItemsOf(const std::vector<Task>& tasks);
  void RunTasks(std::vector<Task> tasks);
  void Checkpoint();
  absl::Status TryGroup(const std::vector<Task>& tasks, std::vector<Item>& items);
  absl::Status WriteBeside(const std::vector<Task>& tasks, const std::vector<Item>& items);
  absl::Status StartAnew(const HeadRow& head);
  absl::Status CatchUp(const HeadRow& head);
  absl::Status LoadBook();
  absl::Status RefoldAll();
  void Idle();

  store::Database& database_;
  std::unique_ptr<store::Connection> connection_;
  const time::Clock& clock_;
  const Options options_;
  StateCache& cache_;
  Present& present_;
  const std::function<void(int64_t)> on_commit_;

  std::mutex mutex_;
  std::condition_variable wake_;
  std::deque<Task> queue_;
  size_t goal_ = 0;  // tasks that are worth waiting for
  bool stopping_ = false;
  std::thread thread_;
  // The thread's own: what the last group took, and whether the next one leaves tasks behind.
  std::chrono::nanoseconds deciding_{0};
  std::chrono::nanoseconds committing_{0};
  bool halves_ = false;
};

}  // namespace ferrule::ledger
