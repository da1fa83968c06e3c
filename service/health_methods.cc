#include "service/health_methods.h"

#include <algorithm>
#include <memory>
#include <utility>

#include "grpc/health/v1/health.pb.h"
#include "service/errors.h"
#include "service/method.h"

namespace ferrule::service {
namespace {

using grpc::health::v1::HealthCheckRequest;
using grpc::health::v1::HealthCheckResponse;

bool IsKnown(const std::vector<std::string>& services, const std::string& name) {
  return name.empty() || std::find(services.begin(), services.end(), name) != services.end();
}

// Says what holds now and, when the server drains, that it holds no more.
class HealthWatch final : public Stream {
 public:
  HealthWatch(StreamCall* call, HealthCheckResponse::ServingStatus now)
      : call_(*call), holds_(now) {}

  void Written() override {
    busy_ = false;
    Say();
  }
  void Tick() override { Say(); }
  void Drain() override {
    holds_ = HealthCheckResponse::NOT_SERVING;
    ending_ = true;
    Say();
  }

 private:
  void Say() {
    if (busy_) return;
    if (said_ == holds_) {
      if (ending_) call_.Finish(errors::Draining(-1));
      return;
    }
    busy_ = true;
    said_ = holds_;
    HealthCheckResponse response;
    response.set_status(said_);
    call_.Write(Encode(response));
  }

  StreamCall& call_;
  HealthCheckResponse::ServingStatus holds_;
  HealthCheckResponse::ServingStatus said_ = HealthCheckResponse::UNKNOWN;
  bool busy_ = false;
  bool ending_ = false;
};

}  // namespace

std::vector<Method> HealthMethods(std::vector<std::string> services) {
  std::vector<Method> methods;
  methods.push_back(Unary<HealthCheckRequest, HealthCheckResponse>(
      "/grpc.health.v1.Health/Check", RunsOn::kLane,
      [services](CallContext&, const HealthCheckRequest& request, HealthCheckResponse* response) {
        if (!IsKnown(services, request.service())) {
          return errors::ServiceUnknown(request.service());
        }
        response->set_status(HealthCheckResponse::SERVING);
        return absl::OkStatus();
      }));
  methods.push_back(ServerStreaming<HealthCheckRequest>(
      "/grpc.health.v1.Health/Watch",
      [services](StreamCall& call, const HealthCheckRequest& request) {
        const auto now = IsKnown(services, request.service())
                             ? HealthCheckResponse::SERVING
                             : HealthCheckResponse::SERVICE_UNKNOWN;
        return std::make_unique<HealthWatch>(&call, now);
      }));
  return methods;
}

}  // namespace ferrule::service
