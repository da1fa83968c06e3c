// How a run says who it is, and how it knows the server: token, certificates, TLS.
#pragma once

#include "absl/status/status.h"
#include "absl/status/statusor.h"
#include "cli/connect.h"
#include "cli/line.h"
#include "grpcpp/client_context.h"

namespace ferrule::cli {

// Connect, with TLS to a server when the line or the environment names its certificates.
// InvalidArgument, with what to do, for files that cannot be used, and for another machine in plain
// text unless the line says so.
absl::StatusOr<Way> ConnectSecurely(const Target& target, const Line& line);

// Says with a call who calls, and why the glass is broken. A depot's file needs no token.
// InvalidArgument when the token's file cannot be read, or others may read it.
absl::Status Sign(const Target& target, const Line& line, grpc::ClientContext* context);

}  // namespace ferrule::cli
