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

using Status = HealthCheckResponse::ServingStatus;

// What holds now of a name; SERVICE_UNKNOWN for a name that is not known.
Status Of(const std::vector<std::string>& services, const std::function<bool()>& can_write,
          const std::string& name) {
  if (can_write && name == kWriteService) {
    return can_write() ? HealthCheckResponse::SERVING : HealthCheckResponse::NOT_SERVING;
  }
  const bool known =
      name.empty() || std::find(services.begin(), services.end(), name) != services.end();
  return known ? HealthCheckResponse::SERVING : HealthCheckResponse::SERVICE_UNKNOWN;
}

// Says what holds now and, when the server drains, that it holds no more.
class HealthWatch final : public Stream {
 public:
  HealthWatch(StreamCall* call, std::function<Status()> now)
      : call_(*call), now_(std::move(now)), holds_(now_()) {}

  void Written() override {
    busy_ = false;
    Say();
  }
  void Tick() override {
    if (!ending_) holds_ = now_();
    Say();
  }
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
  const std::function<Status()> now_;
  HealthCheckResponse::ServingStatus holds_;
  HealthCheckResponse::ServingStatus said_ = HealthCheckResponse::UNKNOWN;
  bool busy_ = false;
  bool ending_ = false;
};

}  // namespace

std::vector<Method> HealthMethods(std::vector<std::string> services,
                                  std::function<bool()> can_write) {
  std::vector<Method> methods;
  methods.push_back(Unary<HealthCheckRequest, HealthCheckResponse>(
      "/grpc.health.v1.Health/Check", RunsOn::kLane,
      [services, can_write](CallContext&, const HealthCheckRequest& request,
                            HealthCheckResponse* response) {
        const Status now = Of(services, can_write, request.service());
        if (now == HealthCheckResponse::SERVICE_UNKNOWN) {
          return errors::ServiceUnknown(request.service());
        }
        response->set_status(now);
        return absl::OkStatus();
      }));
  methods.push_back(ServerStreaming<HealthCheckRequest>(
      "/grpc.health.v1.Health/Watch",
      [services, can_write](StreamCall& call, const HealthCheckRequest& request) {
        return std::make_unique<HealthWatch>(&call,
                                             [services, can_write, name = request.service()] {
                                               return Of(services, can_write, name);
                                             });
      }));
  return methods;
}

}  // namespace ferrule::service
