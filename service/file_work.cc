#include "service/file_work.h"

#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include <array>
#include <cerrno>
#include <cstring>
#include <filesystem>
#include <memory>
#include <utility>

#include "absl/functional/function_ref.h"
#include "absl/strings/escaping.h"
#include "absl/strings/str_cat.h"
#include "openssl/evp.h"

namespace ferrule::service {
namespace {

constexpr size_t kBlock = 1 << 20;
constexpr size_t kSmallFile = 1 << 20;

absl::Status FileError(const std::string& doing, const std::string& path, int error) {
  const std::string text = absl::StrCat("cannot ", doing, " ", path, ": ", std::strerror(error));
  switch (error) {
    case ENOENT:
    case ENOTDIR:
      return absl::NotFoundError(absl::StrCat(text, "; check the path"));
    case EEXIST:
      return absl::FailedPreconditionError(absl::StrCat(text, "; choose another name"));
    case ENOSPC:
    case EDQUOT:
    case EFBIG:
      return absl::ResourceExhaustedError(absl::StrCat(text, "; make room and run it again"));
    case EACCES:
    case EPERM:
    case EROFS:
      return absl::PermissionDeniedError(absl::StrCat(text, "; check owner and mode"));
    default:
      return absl::UnavailableError(absl::StrCat(text, "; check the disk"));
  }
}

class Descriptor {
 public:
  Descriptor(const std::string& path, int flags)
      : fd_(open(path.c_str(), flags | O_CLOEXEC, 0600)) {}
  ~Descriptor() {
    if (fd_ >= 0) close(fd_);
  }
  Descriptor(const Descriptor&) = delete;
  Descriptor& operator=(const Descriptor&) = delete;
  int fd() const { return fd_; }
  bool open_failed() const { return fd_ < 0; }

 private:
  const int fd_;
};

absl::Status WriteAll(int fd, const char* data, size_t size, const std::string& path) {
  while (size > 0) {
    const ssize_t written = write(fd, data, size);
    if (written < 0 && errno == EINTR) continue;
    if (written < 0) return FileError("write", path, errno);
    data += written;
    size -= static_cast<size_t>(written);
  }
  return absl::OkStatus();
}

absl::Status ForEachBlock(const std::string& path,
                          absl::FunctionRef<absl::Status(const char*, size_t)> on_block) {
  const Descriptor file(path, O_RDONLY);
  if (file.open_failed()) return FileError("read", path, errno);
  auto block = std::make_unique<std::array<char, kBlock>>();
  for (;;) {
    const ssize_t got = read(file.fd(), block->data(), block->size());
    if (got < 0 && errno == EINTR) continue;
    if (got < 0) return FileError("read", path, errno);
    if (got == 0) return absl::OkStatus();
    if (absl::Status s = on_block(block->data(), static_cast<size_t>(got)); !s.ok()) return s;
  }
}

absl::Status SyncFolderOf(const std::string& path) {
  const std::string folder = std::filesystem::absolute(path).parent_path().string();
  const Descriptor descriptor(folder, O_RDONLY | O_DIRECTORY);
  if (descriptor.open_failed() || fsync(descriptor.fd()) != 0) {
    return FileError("sync the folder", folder, errno);
  }
  return absl::OkStatus();
}

}  // namespace

TemporaryFile::TemporaryFile(std::string path) : path_(std::move(path)) {}

TemporaryFile::~TemporaryFile() {
  for (const char* suffix : {"", "-wal", "-shm", "-journal"}) {
    unlink(absl::StrCat(path_, suffix).c_str());
  }
}

absl::Status TemporaryFile::KeepAs(const std::string& name) {
  // A link, not a rename: it never replaces a file. The other name goes with this object.
  if (link(path_.c_str(), name.c_str()) != 0) return FileError("give the name", name, errno);
  return SyncFolderOf(name);
}

bool FileExists(const std::string& path) {
  struct stat found {};
  return lstat(path.c_str(), &found) == 0;
}

absl::Status SyncFile(const std::string& path) {
  const Descriptor file(path, O_RDONLY);
  if (file.open_failed() || fsync(file.fd()) != 0) return FileError("sync", path, errno);
  return absl::OkStatus();
}

absl::Status WriteFile(const std::string& path, const std::string& content) {
  const Descriptor file(path, O_WRONLY | O_CREAT | O_TRUNC);
  if (file.open_failed()) return FileError("write", path, errno);
  if (absl::Status s = WriteAll(file.fd(), content.data(), content.size(), path); !s.ok()) return s;
  return fsync(file.fd()) == 0 ? absl::OkStatus() : FileError("sync", path, errno);
}

absl::StatusOr<std::string> ReadSmallFile(const std::string& path) {
  std::string content;
  const absl::Status status = ForEachBlock(path, [&](const char* data, size_t size) {
    content.append(data, size);
    if (content.size() <= kSmallFile) return absl::OkStatus();
    return absl::FailedPreconditionError(absl::StrCat(path, " is too large for what it should be"));
  });
  if (!status.ok()) return status;
  return content;
}

absl::StatusOr<FileDigest> DigestFile(const std::string& path) {
  FileDigest out;
  const std::unique_ptr<EVP_MD_CTX, decltype(&EVP_MD_CTX_free)> context(EVP_MD_CTX_new(),
                                                                        &EVP_MD_CTX_free);
  EVP_DigestInit_ex(context.get(), EVP_sha256(), nullptr);
  const absl::Status status = ForEachBlock(path, [&](const char* data, size_t size) {
    EVP_DigestUpdate(context.get(), data, size);
    out.bytes += static_cast<int64_t>(size);
    return absl::OkStatus();
  });
  if (!status.ok()) return status;
  std::array<unsigned char, EVP_MAX_MD_SIZE> hash{};
  unsigned int size = 0;
  EVP_DigestFinal_ex(context.get(), hash.data(), &size);
  out.sha256 =
      absl::BytesToHexString(std::string(reinterpret_cast<const char*>(hash.data()), size));
  return out;
}

absl::Status CopyFile(const std::string& from, const std::string& to) {
  const Descriptor file(to, O_WRONLY | O_CREAT | O_EXCL);
  if (file.open_failed()) return FileError("write", to, errno);
  const absl::Status status = ForEachBlock(
      from, [&](const char* data, size_t size) { return WriteAll(file.fd(), data, size, to); });
  if (!status.ok()) return status;
  return fsync(file.fd()) == 0 ? absl::OkStatus() : FileError("sync", to, errno);
}

}  // namespace ferrule::service
