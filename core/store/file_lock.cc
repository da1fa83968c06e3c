#include "core/store/file_lock.h"

#include <fcntl.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <cerrno>
#include <cstring>
#include <optional>
#include <thread>
#include <utility>

#include "absl/strings/ascii.h"
#include "absl/strings/str_cat.h"

namespace ferrule::store {
namespace {

using Clock = std::chrono::steady_clock;

absl::Status CannotLock(const std::string& path, int error) {
  const bool full = error == ENOSPC || error == EDQUOT || error == EFBIG;
  const std::string text =
      absl::StrCat("cannot make the lock file ", path, ": ", std::strerror(error),
                   full ? ". Make room, then try again" : ". The depot's folder must be writable");
  if (full) return absl::ResourceExhaustedError(text);
  if (error == EACCES || error == EPERM || error == EROFS) return absl::PermissionDeniedError(text);
  if (error == ENOENT || error == ENOTDIR) return absl::NotFoundError(text);
  return absl::InternalError(text);
}

// An owner removes its lock file before it gives the lock back, so a lock got on a file that is no
// longer at the path guards nothing.
bool StillAt(const std::string& path, int fd) {
  struct stat held {};
  struct stat there {};
  return fstat(fd, &held) == 0 && stat(path.c_str(), &there) == 0 && held.st_ino == there.st_ino &&
         held.st_dev == there.st_dev;
}

std::string Owner(int fd) {
  std::array<char, 256> text{};
  const ssize_t length = pread(fd, text.data(), text.size(), 0);
  if (length <= 0) return "another process";
  return std::string(absl::StripAsciiWhitespace(std::string(text.data(), size_t(length))));
}

absl::Status WriteOwner(const std::string& path, int fd) {
  std::array<char, 256> host{};
  if (gethostname(host.data(), host.size() - 1) != 0) std::strcpy(host.data(), "unknown");
  const std::string text = absl::StrCat("process ", getpid(), " on ", host.data(), "\n");
  if (ftruncate(fd, 0) != 0) return CannotLock(path, errno);
  const ssize_t written = pwrite(fd, text.data(), text.size(), 0);
  if (written != ssize_t(text.size())) return CannotLock(path, written < 0 ? errno : ENOSPC);
  return absl::OkStatus();
}

}  // namespace

absl::StatusOr<std::unique_ptr<FileLock>> FileLock::Acquire(const std::string& lock_path,
                                                            std::chrono::milliseconds wait) {
  const Clock::time_point deadline = Clock::now() + wait;
  auto pause = std::chrono::milliseconds(1);
  for (;;) {
    const int fd = open(lock_path.c_str(), O_RDWR | O_CREAT | O_CLOEXEC | O_NOFOLLOW, 0666);
    if (fd < 0) return CannotLock(lock_path, errno);
    if (flock(fd, LOCK_EX | LOCK_NB) == 0) {
      if (!StillAt(lock_path, fd)) {
        close(fd);
        continue;
      }
      auto lock = std::unique_ptr<FileLock>(new FileLock(lock_path, fd, getpid()));
      if (absl::Status status = WriteOwner(lock_path, fd); !status.ok()) return status;
      return lock;
    }
    const int error = errno;
    const std::string owner = Owner(fd);
    close(fd);
    if (error != EWOULDBLOCK && error != EINTR) return CannotLock(lock_path, error);
    if (Clock::now() >= deadline) {
      return absl::UnavailableError(
          absl::StrCat("in use by ", owner, " (", lock_path,
                       "). Stop it, or let it do the work, and try again"));
    }
    std::this_thread::sleep_for(pause);
    pause = std::min(pause * 2, std::chrono::milliseconds(50));
  }
}

FileLock::~FileLock() {
  if (getpid() == owner_) unlink(path_.c_str());
  close(fd_);
}

}  // namespace ferrule::store
