#include "cli/secure.h"

#include <sys/stat.h>

#include <fstream>
#include <sstream>
#include <string>
#include <utility>

#include "absl/strings/match.h"
#include "absl/strings/str_cat.h"
#include "grpcpp/create_channel.h"
#include "grpcpp/security/credentials.h"
#include "service/server.h"

namespace ferrule::cli {
namespace {

constexpr size_t kMostTokenBytes = 200;
// A server that was away is looked for again soon: somebody waits at a counter.
constexpr int kLeastPauseMs = 200;
constexpr int kMostPauseMs = 1'000;

absl::StatusOr<std::string> ReadPem(const char* flag, const std::optional<std::string>& path) {
  if (!path.has_value()) return std::string();
  std::ifstream file(*path);
  std::stringstream content;
  content << file.rdbuf();
  if (file && absl::StrContains(content.str(), "-----BEGIN")) return content.str();
  return absl::InvalidArgumentError(
      absl::StrCat(flag, " ", *path, " is no PEM file that can be read; check its name"));
}

absl::StatusOr<Way> ConnectWithTls(const std::string& address, const std::string& ca_file,
                                   const Line& line) {
  const auto ca = ReadPem("--tls-ca", ca_file);
  const auto certificate =
      ReadPem("--tls-certificate", line.GetOrEnv("--tls-certificate", "FERRULE_TLS_CERTIFICATE"));
  const auto key = ReadPem("--tls-key", line.GetOrEnv("--tls-key", "FERRULE_TLS_KEY"));
  for (const auto* pem : {&ca, &certificate, &key}) {
    if (!pem->ok()) return pem->status();
  }
  if (certificate->empty() != key->empty()) {
    return absl::InvalidArgumentError("--tls-certificate and --tls-key belong together: give both");
  }
  grpc::SslCredentialsOptions options;
  options.pem_root_certs = *ca;
  options.pem_cert_chain = *certificate;
  options.pem_private_key = *key;
  grpc::ChannelArguments arguments;
  arguments.SetInt(GRPC_ARG_INITIAL_RECONNECT_BACKOFF_MS, kLeastPauseMs);
  arguments.SetInt(GRPC_ARG_MIN_RECONNECT_BACKOFF_MS, kLeastPauseMs);
  arguments.SetInt(GRPC_ARG_MAX_RECONNECT_BACKOFF_MS, kMostPauseMs);
  return Way{grpc::CreateCustomChannel(address, grpc::SslCredentials(options), arguments), nullptr,
             address};
}

absl::StatusOr<std::string> ReadToken(const std::string& file) {
  struct stat info = {};
  if (stat(file.c_str(), &info) == 0 && (info.st_mode & (S_IRWXG | S_IRWXO)) != 0) {
    return absl::InvalidArgumentError(
        absl::StrCat("others may read the token in ", file, "; run: chmod 600 ", file));
  }
  std::ifstream in(file);
  std::string token;
  if (in >> token && token.size() <= kMostTokenBytes) return token;
  return absl::InvalidArgumentError(
      absl::StrCat(file,
                   " holds no token that can be read; the depot's administrator issues one: "
                   "ferrule token issue NAME"));
}

}  // namespace

absl::StatusOr<Way> ConnectSecurely(const Target& target, const Line& line) {
  const auto ca = line.GetOrEnv("--tls-ca", "FERRULE_TLS_CA");
  // A depot's file, too many depots, or none: as without TLS.
  if (!target.server.has_value() || target.depot.has_value()) return Connect(target);
  if (absl::StartsWith(*target.server, "unix:"))
    return Connect(target);  // never leaves the machine
  if (ca.has_value()) return ConnectWithTls(*target.server, *ca, line);
  if (line.GetOrEnv("--tls-certificate", "FERRULE_TLS_CERTIFICATE").has_value()) {
    return absl::InvalidArgumentError(
        "a certificate is of use with TLS alone: add --tls-ca FILE with the certificates under "
        "which the server's is issued");
  }
  if (!service::IsLoopback(*target.server) && !line.Has("--plaintext")) {
    return absl::InvalidArgumentError(absl::StrCat(
        "will not speak to ", *target.server,
        " in plain text; add --tls-ca FILE, or --plaintext if the network is trusted"));
  }
  return Connect(target);
}

absl::Status Sign(const Target& target, const Line& line, grpc::ClientContext* context) {
  const auto file = line.GetOrEnv("--token-file", "FERRULE_TOKEN_FILE");
  if (file.has_value() && target.server.has_value()) {
    const absl::StatusOr<std::string> token = ReadToken(*file);
    if (!token.ok()) return token.status();
    context->AddMetadata("authorization", "Bearer " + *token);
  }
  const auto reason = line.Get("--break-glass");
  if (!reason.has_value()) return absl::OkStatus();
  for (const char c : *reason) {
    if (static_cast<unsigned char>(c) >= 0x20 && static_cast<unsigned char>(c) < 0x7F) continue;
    return absl::InvalidArgumentError("--break-glass: give the reason in plain ASCII letters");
  }
  context->AddMetadata("ferrule-break-glass", *reason);
  return absl::OkStatus();
}

}  // namespace ferrule::cli
