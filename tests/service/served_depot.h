// A fresh depot behind a server: in process, over TCP, or on the depot file's own socket.
#pragma once

#include <gtest/gtest.h>

#include <memory>
#include <string>

#include "core/time/clock.h"
#include "ferrule/v1/depot_service.grpc.pb.h"
#include "ferrule/v1/findings.pb.h"
#include "ferrule/v1/ledger_service.grpc.pb.h"
#include "google/rpc/error_details.pb.h"
#include "grpcpp/channel.h"
#include "service/depot_host.h"

namespace ferrule::testing {

enum class Transport { kInProcess, kTcp, kSocket };
std::string TransportName(const ::testing::TestParamInfo<Transport>& parameter);

class ServedDepot {
 public:
  // The clock stands 30 days after kStartUs.
  explicit ServedDepot(absl::Duration progress = absl::Seconds(30));
  ~ServedDepot();

  service::DepotHost& host() { return *host_; }
  time::ManualClock& clock() { return clock_; }
  const std::string& folder() const { return folder_; }
  const std::string& path() const { return path_; }
  std::shared_ptr<grpc::Channel> Channel(Transport transport);
  // Ends the server and closes the depot.
  void Close() { host_.reset(); }

 private:
  std::string folder_;
  std::string path_;
  time::ManualClock clock_;
  std::unique_ptr<service::DepotHost> host_;
};

// The details of an error; every one that is absent is empty.
struct Details {
  google::rpc::ErrorInfo info;
  google::rpc::BadRequest bad_request;
  google::rpc::PreconditionFailure precondition;
  google::rpc::RetryInfo retry;
  bool has_retry = false;
  v1::Refusal refusal;
  size_t bytes = 0;
};
Details DetailsOf(const grpc::Status& status);

}  // namespace ferrule::testing
