#include "service/socket_path.h"

#include <sys/stat.h>
#include <sys/un.h>
#include <unistd.h>

#include <filesystem>

#include "absl/strings/escaping.h"
#include "absl/strings/str_cat.h"
#include "openssl/sha.h"

namespace ferrule::service {
namespace {

constexpr size_t kMostBytes = sizeof(sockaddr_un{}.sun_path) - 1;
constexpr size_t kNameBytes = 12;  // of the hash that names a socket elsewhere

uid_t OwnerOf(const std::string& path) {
  struct stat found {};
  return stat(path.c_str(), &found) == 0 ? found.st_uid : geteuid();
}

std::string HashName(const std::string& text) {
  unsigned char hash[SHA256_DIGEST_LENGTH];
  SHA256(reinterpret_cast<const unsigned char*>(text.data()), text.size(), hash);
  return absl::BytesToHexString(std::string(reinterpret_cast<const char*>(hash), kNameBytes));
}

}  // namespace

absl::StatusOr<std::string> SocketPathFor(const std::string& depot_file) {
  std::error_code error;
  const std::filesystem::path file = std::filesystem::weakly_canonical(depot_file, error);
  if (error || file.empty() || !std::filesystem::is_directory(file.parent_path(), error)) {
    return absl::NotFoundError(
        absl::StrCat("there is no folder for the depot file '", depot_file, "'; check the path"));
  }
  const std::string beside = absl::StrCat(file.string(), ".sock");
  if (beside.size() <= kMostBytes) return beside;
  const std::string runtime = absl::StrCat("/run/user/", OwnerOf(file.string()));
  const bool has_runtime = std::filesystem::is_directory(runtime, error);
  return absl::StrCat(has_runtime ? runtime : "/tmp", "/ferrule-", HashName(file.string()),
                      ".sock");
}

bool SocketIsTrusted(const std::string& socket_path, const std::string& depot_file) {
  struct stat found {};
  if (lstat(socket_path.c_str(), &found) != 0 || !S_ISSOCK(found.st_mode)) return false;
  return found.st_uid == 0 || found.st_uid == geteuid() || found.st_uid == OwnerOf(depot_file);
}

}  // namespace ferrule::service
