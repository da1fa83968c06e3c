#include "cli/kept_settings.h"

#include <cstdio>
#include <fstream>
#include <iterator>

#include "absl/strings/str_cat.h"

namespace ferrule::cli {
namespace {

std::string FileOf(const std::string& outbox) { return absl::StrCat(outbox, ".settings"); }

std::string Content(const std::string& path) {
  std::ifstream file(path, std::ios::binary);
  return std::string(std::istreambuf_iterator<char>(file), std::istreambuf_iterator<char>());
}

}  // namespace

std::optional<v1::SettingsVersion> KeptSettings(const std::string& outbox) {
  const std::string bytes = Content(FileOf(outbox));
  v1::SettingsVersion settings;
  if (bytes.empty() || !settings.ParseFromString(bytes)) return std::nullopt;
  return settings;
}

void KeepSettings(const std::string& outbox, const v1::SettingsVersion& settings) {
  const std::string bytes = settings.SerializeAsString();
  const std::string path = FileOf(outbox);
  if (bytes.empty() || Content(path) == bytes) return;
  const std::string beside = absl::StrCat(path, ".new");
  std::ofstream file(beside, std::ios::binary | std::ios::trunc);
  file << bytes;
  file.close();
  if (file.fail() || std::rename(beside.c_str(), path.c_str()) != 0) std::remove(beside.c_str());
}

}  // namespace ferrule::cli
