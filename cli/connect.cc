#include "cli/connect.h"

#include "absl/strings/str_cat.h"
#include "cli/failure.h"
#include "grpcpp/create_channel.h"
#include "grpcpp/security/credentials.h"

namespace ferrule::cli {
absl::StatusOr<Way> Connect(const Target& target) {
  Way way;
  way.channel = grpc::CreateChannel(*target.server, grpc::InsecureChannelCredentials());
  return way;
}
absl::Status CreateDepot(const std::string&) { return absl::OkStatus(); }
}
