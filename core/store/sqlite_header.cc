#include "core/store/sqlite_header.h"

#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include <array>
#include <cerrno>
#include <cstring>
#include <string_view>

#include "absl/strings/str_cat.h"

namespace ferrule::store {
namespace {

constexpr std::string_view kMagic{"SQLite format 3\0", 16};
constexpr size_t kHeaderSize = 100;
constexpr size_t kApplicationIdAt = 68;  // sqlite.org/fileformat2.html, section 1.3

absl::Status NoDepot(const std::string& path, const char* what) {
  return absl::FailedPreconditionError(
      absl::StrCat(path, " ", what, ", not a depot; it was left as it is. Check the path"));
}

absl::StatusOr<SqliteFile> Judge(const std::string& path, std::string_view header) {
  if (header.empty()) return SqliteFile::kNone;
  if (header.substr(0, kMagic.size()) != kMagic.substr(0, header.size())) {
    return NoDepot(path, "is some other kind of file");
  }
  if (header.size() < kHeaderSize) {
    return absl::DataLossError(
        absl::StrCat(path, " is cut off after ", header.size(), " bytes. Restore the last backup"));
  }
  uint32_t id = 0;
  for (size_t i = 0; i < 4; ++i) id = id << 8 | uint8_t(header[kApplicationIdAt + i]);
  if (id != uint32_t(kApplicationId)) return NoDepot(path, "is another program's database");
  return SqliteFile::kDepot;
}

absl::Status CannotRead(const std::string& path, int error) {
  const std::string text = absl::StrCat("cannot read ", path, ": ", std::strerror(error));
  if (error == EACCES || error == EPERM) return absl::PermissionDeniedError(text);
  return absl::InternalError(text);
}

}  // namespace

absl::StatusOr<SqliteFile> ReadSqliteHeader(const std::string& path) {
  const int fd = open(path.c_str(), O_RDONLY | O_CLOEXEC | O_NONBLOCK);
  if (fd < 0 && errno == ENOENT) return SqliteFile::kNone;
  if (fd < 0) return CannotRead(path, errno);
  struct stat info {};
  std::array<char, kHeaderSize> bytes{};
  const bool regular = fstat(fd, &info) == 0 && S_ISREG(info.st_mode);
  const ssize_t size = regular ? pread(fd, bytes.data(), bytes.size(), 0) : 0;
  const int error = errno;
  close(fd);
  if (!regular) return NoDepot(path, "is no regular file");
  if (size < 0) return CannotRead(path, error);
  return Judge(path, std::string_view(bytes.data(), size_t(size)));
}

}  // namespace ferrule::store
