// A lock that one process at a time can hold, beside the file that it guards.
#pragma once

#include <chrono>
#include <memory>
#include <string>

#include "absl/status/statusor.h"

namespace ferrule::store {

// Held until destroyed, or until the process ends however it ends. The lock file holds the owner's
// process id and host as one line of text; it is removed when the lock is given back.
class FileLock {
 public:
  // Waits up to `wait` for another owner. Unavailable, naming the owner, when it is still held;
  // PermissionDenied when the lock file cannot be made.
  static absl::StatusOr<std::unique_ptr<FileLock>> Acquire(const std::string& lock_path,
                                                           std::chrono::milliseconds wait);
  ~FileLock();
  FileLock(const FileLock&) = delete;
  FileLock& operator=(const FileLock&) = delete;

 private:
  FileLock(std::string path, int fd, int owner) : path_(std::move(path)), fd_(fd), owner_(owner) {}

  const std::string path_;
  const int fd_;
  const int owner_;  // process id: a forked child must not give the lock back
};

}  // namespace ferrule::store
