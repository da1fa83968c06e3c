// The server's certificate, and those that it asks its callers for.
#pragma once

#include <memory>
#include <string>

#include "absl/status/statusor.h"
#include "grpcpp/security/server_credentials.h"

namespace ferrule::service {

struct TlsFiles {
  std::string certificate;  // PEM, the server's own first, then those that it was issued under
  std::string key;          // PEM, readable by its owner alone
  std::string client_ca;    // PEM; when given, a caller without a certificate under it is refused

  bool empty() const { return certificate.empty() && key.empty() && client_ca.empty(); }
};

// InvalidArgument, with what to do, for a file that is missing, is no PEM, does not fit the others,
// or for a key that others may read. TLS 1.2 or later is spoken.
absl::StatusOr<std::shared_ptr<grpc::ServerCredentials>> ServerCredentialsOf(const TlsFiles& files);

}  // namespace ferrule::service
