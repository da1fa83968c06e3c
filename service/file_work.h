// Files that reach the disk whole, under their name only when they are done.
#pragma once

#include <cstdint>
#include <string>

#include "absl/status/status.h"
#include "absl/status/statusor.h"

namespace ferrule::service {

// Removes a file when it goes, unless it was kept.
class TemporaryFile {
 public:
  explicit TemporaryFile(std::string path);
  ~TemporaryFile();
  TemporaryFile(const TemporaryFile&) = delete;
  TemporaryFile& operator=(const TemporaryFile&) = delete;

  const std::string& path() const { return path_; }
  // Gives it a name that must be free, and syncs the folder. FailedPrecondition when it is taken.
  absl::Status KeepAs(const std::string& name);

 private:
  const std::string path_;
};

bool FileExists(const std::string& path);
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
