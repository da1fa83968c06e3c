#include "tests/service/served_depot.h"

#include <cstdlib>
#include <filesystem>
#include <stdexcept>

#include "absl/strings/str_cat.h"
#include "google/rpc/status.pb.h"
#include "grpcpp/create_channel.h"
#include "grpcpp/security/credentials.h"
#include "tests/support/entries.h"

namespace ferrule::testing {

std::string TransportName(const ::testing::TestParamInfo<Transport>& parameter) {
  switch (parameter.param) {
    case Transport::kInProcess:
      return "InProcess";
    case Transport::kTcp:
      return "Tcp";
    case Transport::kSocket:
      return "Socket";
  }
  return "";
}

ServedDepot::ServedDepot(absl::Duration progress) : clock_(kStartUs + 30 * kDayUs) {
  std::string pattern = (std::filesystem::temp_directory_path() / "ferrule-XXXXXX").string();
  folder_ = ::mkdtemp(pattern.data());
  path_ = folder_ + "/depot.ferrule";
  service::HostOptions options;
  options.sqlite_path = path_;
  options.create = true;
  options.listen = {"127.0.0.1:0"};
  options.socket = true;
  options.clock = &clock_;
  options.progress = progress;
  auto host = service::OpenDepot(options);
  if (!host.ok()) throw std::runtime_error(host.status().ToString());
  host_ = *std::move(host);
}

ServedDepot::~ServedDepot() {
  host_.reset();
  std::filesystem::remove_all(folder_);
}

std::shared_ptr<grpc::Channel> ServedDepot::Channel(Transport transport) {
  grpc::ChannelArguments arguments;
  arguments.SetInt(GRPC_ARG_USE_LOCAL_SUBCHANNEL_POOL, 1);
  switch (transport) {
    case Transport::kInProcess:
      return host_->InProcess(arguments);
    case Transport::kTcp:
      return grpc::CreateCustomChannel(absl::StrCat("127.0.0.1:", host_->ports()[0]),
                                       grpc::InsecureChannelCredentials(), arguments);
    case Transport::kSocket:
      return grpc::CreateCustomChannel(absl::StrCat("unix:", host_->socket_path()),
                                       grpc::InsecureChannelCredentials(), arguments);
  }
  return nullptr;
}

Details DetailsOf(const grpc::Status& status) {
  Details out;
  out.bytes = status.error_details().size();
  google::rpc::Status envelope;
  EXPECT_TRUE(envelope.ParseFromString(status.error_details()));
  EXPECT_EQ(envelope.code(), static_cast<int>(status.error_code()));
  EXPECT_EQ(envelope.message(), status.error_message());
  for (const auto& detail : envelope.details()) {
    detail.UnpackTo(&out.info);
    detail.UnpackTo(&out.bad_request);
    detail.UnpackTo(&out.precondition);
    if (detail.UnpackTo(&out.retry)) out.has_retry = true;
    detail.UnpackTo(&out.refusal);
  }
  return out;
}

}  // namespace ferrule::testing
