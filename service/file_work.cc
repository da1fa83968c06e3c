#include "service/file_work.h"

#include <fcntl.h>
#include <sys/stat.h>
#include <sys/statvfs.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <cerrno>
#include <csignal>
#include <cstring>
#include <filesystem>
#include <memory>
#include <utility>

#include "absl/functional/function_ref.h"
#include "absl/strings/ascii.h"
#include "absl/strings/escaping.h"
#include "absl/strings/numbers.h"
#include "absl/strings/str_cat.h"
#include "absl/strings/string_view.h"
#include "absl/strings/strip.h"
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

std::string FolderOf(const std::string& path) {
  return std::filesystem::absolute(path).parent_path().string();
}

absl::Status SyncFolderOf(const std::string& path) {
  const std::string folder = FolderOf(path);
  const Descriptor descriptor(folder, O_RDONLY | O_DIRECTORY);
  if (descriptor.open_failed() || fsync(descriptor.fd()) != 0) {
    return FileError("sync the folder", folder, errno);
  }
  return absl::OkStatus();
}

// What the engine and the store put beside a file while they work on it.
constexpr const char* kBeside[] = {"", "-wal", "-shm", "-journal", ".lock"};
constexpr char kPart[] = ".part";
constexpr char kMark[] = ".ferruled-";

std::string HostName() {
  std::array<char, 256> host{};
  if (gethostname(host.data(), host.size() - 1) != 0) return "unknown";
  std::string name = host.data();
  std::replace(name.begin(), name.end(), '/', '_');
  return name;
}

// What a temporary file's name says.
struct Maker {
  std::string name;  // of the file that it was to become
  std::string host;
  pid_t process = 0;
};

// Nothing for the name of any other file.
std::optional<Maker> MakerOf(absl::string_view name) {
  for (const char* suffix : kBeside) {
    if (*suffix != '\0' && absl::ConsumeSuffix(&name, suffix)) break;
  }
  const size_t mark = name.rfind(kMark);
  if (mark == absl::string_view::npos || mark == 0 || !absl::ConsumeSuffix(&name, kPart)) {
    return std::nullopt;
  }
  Maker maker;
  maker.name = std::string(name.substr(0, mark));
  name.remove_prefix(mark + sizeof(kMark) - 1);
  const size_t dash = name.rfind('-');
  if (dash == absl::string_view::npos || dash == 0 ||
      !std::all_of(name.begin() + dash + 1, name.end(), absl::ascii_isdigit) ||
      !absl::SimpleAtoi(name.substr(dash + 1), &maker.process) || maker.process <= 0) {
    return std::nullopt;
  }
  maker.host = std::string(name.substr(0, dash));
  return maker;
}

bool IsOwnFile(const std::string& path) {
  struct stat found {};
  return lstat(path.c_str(), &found) == 0 && S_ISREG(found.st_mode) && found.st_uid == geteuid();
}

bool Runs(pid_t process) { return kill(process, 0) == 0 || errno != ESRCH; }

}  // namespace

TemporaryFile::TemporaryFile(const std::string& name)
    : path_(absl::StrCat(name, kMark, HostName(), "-", getpid(), kPart)) {}

TemporaryFile::~TemporaryFile() {
  for (const char* suffix : kBeside) unlink(absl::StrCat(path_, suffix).c_str());
}

std::vector<Leftover> LeftoversBeside(const std::string& file) {
  std::vector<Leftover> found;
  std::error_code error;
  const std::filesystem::path folder = std::filesystem::path(file).parent_path();
  for (const auto& entry : std::filesystem::directory_iterator(FolderOf(file), error)) {
    const std::optional<Maker> maker = MakerOf(entry.path().filename().string());
    if (!maker.has_value() || !IsOwnFile(entry.path().string())) continue;
    Leftover& leftover = found.emplace_back();
    leftover.path = entry.path().string();
    leftover.name = (folder / maker->name).string();
    leftover.of_here = maker->host == HostName();
    // A number that another program got meanwhile keeps the file until that one has ended, too.
    leftover.ended = leftover.of_here && !Runs(maker->process);
    if (leftover.of_here && maker->process == getpid()) found.pop_back();
  }
  std::sort(found.begin(), found.end(),
            [](const Leftover& a, const Leftover& b) { return a.path < b.path; });
  return found;
}

std::vector<std::string> RemoveLeftovers(const std::string& beside) {
  std::vector<std::string> of_others;
  for (const Leftover& leftover : LeftoversBeside(beside)) {
    if (leftover.ended) unlink(leftover.path.c_str());
    if (!leftover.of_here) of_others.push_back(leftover.path);
  }
  return of_others;
}

bool SameFile(const std::string& a, const std::string& b) {
  struct stat first {};
  struct stat second {};
  return lstat(a.c_str(), &first) == 0 && lstat(b.c_str(), &second) == 0 &&
         first.st_ino == second.st_ino && first.st_dev == second.st_dev;
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

int64_t SizeOf(const std::string& path) {
  std::error_code error;
  const auto size = std::filesystem::file_size(path, error);
  return error ? 0 : static_cast<int64_t>(size);
}

std::optional<int64_t> FreeBytesAt(const std::string& path) {
  struct statvfs disk {};
  if (statvfs(path.c_str(), &disk) != 0) return std::nullopt;
  return static_cast<int64_t>(disk.f_bavail) * static_cast<int64_t>(disk.f_frsize);
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
