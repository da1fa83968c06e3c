// Files that reach the disk whole, under their name only when they are done.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "absl/status/status.h"
#include "absl/status/statusor.h"

namespace ferrule::service {

// A file until it is done, under a name of its own beside the one it is to get:
// NAME.ferruled-HOST-PROCESS.part. It goes with the object, unless it was kept.
class TemporaryFile {
 public:
  explicit TemporaryFile(const std::string& name);
  ~TemporaryFile();
  TemporaryFile(const TemporaryFile&) = delete;
  TemporaryFile& operator=(const TemporaryFile&) = delete;

  const std::string& path() const { return path_; }
  // Gives it a name that must be free, and syncs the folder. FailedPrecondition when it is taken.
  absl::Status KeepAs(const std::string& name);

 private:
  const std::string path_;
};

// A temporary file of this program and of this user, by its name, that is not this process' own.
struct Leftover {
  std::string path;
  std::string name;    // of the file that it was to become, with its folder
  bool ended = false;  // the process that made it, which ran on this machine
  bool of_here =
      false;  // made on this machine; whether another one's process ended nobody can tell
};

// Those in the folder of a file, in the order of their paths.
std::vector<Leftover> LeftoversBeside(const std::string& file);
// Removes those whose process ended; returns the paths of those that were made on other machines.
std::vector<std::string> RemoveLeftovers(const std::string& beside);

// Whether both are names of one file.
bool SameFile(const std::string& a, const std::string& b);

bool FileExists(const std::string& path);
// Of a file in bytes; 0 when there is none.
int64_t SizeOf(const std::string& path);
// Bytes that this user may still write on the disk of a file or folder; nothing when that cannot be
// told.
std::optional<int64_t> FreeBytesAt(const std::string& path);
absl::Status SyncFile(const std::string& path);
absl::Status WriteFile(const std::string& path, const std::string& content);
// NotFound when there is none; at most 1 MiB.
absl::StatusOr<std::string> ReadSmallFile(const std::string& path);

struct FileDigest {
  int64_t bytes = 0;
  std::string sha256;  // hex
};
absl::StatusOr<FileDigest> DigestFile(const std::string& path);
// Copies bytes and syncs the copy.
absl::Status CopyFile(const std::string& from, const std::string& to);

}  // namespace ferrule::service
