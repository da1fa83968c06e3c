// Tests service/health_methods.cc, service/reflection_methods.cc and service/exchange_call.cc as a
// client meets them, over TCP.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <memory>
#include <set>
#include <string>
#include <thread>
#include <vector>

#include "absl/strings/str_cat.h"
#include "core/time/clock.h"
#include "ferrule/v1/depot_service.pb.h"
#include "google/protobuf/descriptor.pb.h"
#include "grpc/health/v1/health.pb.h"
#include "grpc/reflection/v1alpha/reflection.pb.h"
#include "grpcpp/create_channel.h"
#include "grpcpp/impl/client_unary_call.h"
#include "grpcpp/impl/codegen/proto_utils.h"
#include "grpcpp/security/credentials.h"
#include "grpcpp/support/sync_stream.h"
#include "service/health_methods.h"
#include "service/method.h"
#include "service/server.h"

namespace ferrule::service {
namespace {

using grpc::health::v1::HealthCheckRequest;
using grpc::health::v1::HealthCheckResponse;
using grpc::internal::RpcMethod;
using grpc::reflection::v1alpha::ServerReflectionRequest;
using grpc::reflection::v1alpha::ServerReflectionResponse;
using testing::Contains;
using testing::ElementsAre;

constexpr char kReflect[] = "/grpc.reflection.v1alpha.ServerReflection/ServerReflectionInfo";

class ServedBesides : public testing::Test {
 protected:
  void SetUp() override {
    ServerOptions options;
    options.listen = {"127.0.0.1:0"};
    options.clock = &clock_;
    options.to_grpc = [](const absl::Status& status) {
      return grpc::Status(static_cast<grpc::StatusCode>(status.code()),
                          std::string(status.message()));
    };
    std::vector<Method> methods;
    methods.push_back(Unary<v1::GetUnitRequest, v1::GetUnitResponse>(
        "/ferrule.v1.DepotService/GetUnit", RunsOn::kLane,
        [](CallContext&, const auto&, auto*) { return absl::OkStatus(); }));
    std::vector<std::vector<Method>> services;
    services.push_back(std::move(methods));
    auto server = Server::Start(std::move(services), std::move(options));
    ASSERT_TRUE(server.ok()) << server.status();
    server_ = *std::move(server);
    channel_ = grpc::CreateChannel(absl::StrCat("127.0.0.1:", server_->ports()[0]),
                                   grpc::InsecureChannelCredentials());
  }

  grpc::Status Check(const std::string& service, HealthCheckResponse* response) {
    HealthCheckRequest request;
    request.set_service(service);
    grpc::ClientContext context;
    return grpc::internal::BlockingUnaryCall<HealthCheckRequest, HealthCheckResponse>(
        channel_.get(), RpcMethod("/grpc.health.v1.Health/Check", RpcMethod::NORMAL_RPC), &context,
        request, response);
  }

  std::unique_ptr<grpc::ClientReader<HealthCheckResponse>> Watch(const std::string& service) {
    HealthCheckRequest request;
    request.set_service(service);
    return std::unique_ptr<grpc::ClientReader<HealthCheckResponse>>(
        grpc::internal::ClientReaderFactory<HealthCheckResponse>::Create(
            channel_.get(), RpcMethod("/grpc.health.v1.Health/Watch", RpcMethod::SERVER_STREAMING),
            &watching_, request));
  }

  using Exchange = grpc::ClientReaderWriter<ServerReflectionRequest, ServerReflectionResponse>;
  std::unique_ptr<Exchange> Reflect() {
    return std::unique_ptr<Exchange>(
        grpc::internal::
            ClientReaderWriterFactory<ServerReflectionRequest, ServerReflectionResponse>::Create(
                channel_.get(), RpcMethod(kReflect, RpcMethod::BIDI_STREAMING), &reflecting_));
  }

  static ServerReflectionResponse Ask(Exchange& exchange, const ServerReflectionRequest& request) {
    ServerReflectionResponse response;
    EXPECT_TRUE(exchange.Write(request));
    EXPECT_TRUE(exchange.Read(&response));
    EXPECT_EQ(response.original_request().SerializeAsString(), request.SerializeAsString());
    return response;
  }

  time::SystemClock clock_;
  std::unique_ptr<Server> server_;
  std::shared_ptr<grpc::Channel> channel_;
  grpc::ClientContext watching_;
  grpc::ClientContext reflecting_;
};

std::vector<std::string> NamesOf(const grpc::reflection::v1alpha::FileDescriptorResponse& files) {
  std::vector<std::string> names;
  for (const std::string& bytes : files.file_descriptor_proto()) {
    google::protobuf::FileDescriptorProto file;
    EXPECT_TRUE(file.ParseFromString(bytes));
    names.push_back(file.name());
  }
  return names;
}

TEST_F(ServedBesides, TheServerAndItsServicesAreHealthy) {
  for (const char* service : {"", "ferrule.v1.DepotService"}) {
    HealthCheckResponse response;
    const grpc::Status status = Check(service, &response);
    ASSERT_TRUE(status.ok()) << status.error_message();
    EXPECT_EQ(response.status(), HealthCheckResponse::SERVING);
  }
  HealthCheckResponse response;
  EXPECT_EQ(Check("ferrule.v1.Nothing", &response).error_code(), grpc::StatusCode::NOT_FOUND);
}

TEST_F(ServedBesides, AHealthWatchSaysWhenTheServerDrains) {
  const auto watch = Watch("");
  HealthCheckResponse response;
  ASSERT_TRUE(watch->Read(&response));
  EXPECT_EQ(response.status(), HealthCheckResponse::SERVING);
  std::thread ending([this] { server_->Shutdown(absl::Seconds(5)); });
  ASSERT_TRUE(watch->Read(&response));
  EXPECT_EQ(response.status(), HealthCheckResponse::NOT_SERVING);
  EXPECT_FALSE(watch->Read(&response));
  EXPECT_EQ(watch->Finish().error_code(), grpc::StatusCode::UNAVAILABLE);
  ending.join();
}

TEST_F(ServedBesides, AnUnknownServiceIsWatchedAsUnknown) {
  const auto watch = Watch("ferrule.v1.Nothing");
  HealthCheckResponse response;
  ASSERT_TRUE(watch->Read(&response));
  EXPECT_EQ(response.status(), HealthCheckResponse::SERVICE_UNKNOWN);
  watching_.TryCancel();
  EXPECT_FALSE(watch->Read(&response));
  EXPECT_EQ(watch->Finish().error_code(), grpc::StatusCode::CANCELLED);
}

TEST_F(ServedBesides, ReflectionAnswersMessageByMessage) {
  const auto exchange = Reflect();
  ServerReflectionRequest request;
  request.set_list_services("*");
  std::vector<std::string> services;
  const ServerReflectionResponse list = Ask(*exchange, request);
  for (const auto& service : list.list_services_response().service()) {
    services.push_back(service.name());
  }
  EXPECT_THAT(services, ElementsAre("ferrule.v1.DepotService", "grpc.health.v1.Health",
                                    "grpc.reflection.v1alpha.ServerReflection"));

  request.set_file_containing_symbol("ferrule.v1.DepotService");
  std::vector<std::string> files = NamesOf(Ask(*exchange, request).file_descriptor_response());
  ASSERT_FALSE(files.empty());
  EXPECT_EQ(files[0], "ferrule/v1/depot_service.proto");
  EXPECT_THAT(files, Contains("ferrule/v1/states.proto"));
  EXPECT_EQ(std::set<std::string>(files.begin(), files.end()).size(), files.size());

  request.set_file_by_filename("ferrule/v1/common.proto");
  files = NamesOf(Ask(*exchange, request).file_descriptor_response());
  ASSERT_FALSE(files.empty());
  EXPECT_EQ(files[0], "ferrule/v1/common.proto");

  exchange->WritesDone();
  EXPECT_TRUE(exchange->Finish().ok());
}

TEST_F(ServedBesides, ReflectionSaysWhatItDoesNotKnow) {
  const auto exchange = Reflect();
  ServerReflectionRequest request;
  request.set_file_by_filename("nothing.proto");
  EXPECT_EQ(Ask(*exchange, request).error_response().error_code(), grpc::StatusCode::NOT_FOUND);
  request.set_file_containing_symbol("ferrule.v1.Nothing");
  EXPECT_EQ(Ask(*exchange, request).error_response().error_code(), grpc::StatusCode::NOT_FOUND);
  request.set_all_extension_numbers_of_type("ferrule.v1.Nothing");
  EXPECT_EQ(Ask(*exchange, request).error_response().error_code(), grpc::StatusCode::NOT_FOUND);
  EXPECT_EQ(Ask(*exchange, {}).error_response().error_code(), grpc::StatusCode::INVALID_ARGUMENT);
}

TEST_F(ServedBesides, AnIdleExchangeDoesNotHoldUpTheEnd) {
  const auto exchange = Reflect();
  ServerReflectionRequest request;
  request.set_list_services("*");
  Ask(*exchange, request);
  const absl::Time begun = absl::Now();
  server_->Shutdown(absl::Seconds(20));
  EXPECT_LT(absl::Now() - begun, absl::Seconds(10));
  ServerReflectionResponse response;
  EXPECT_FALSE(exchange->Read(&response));
}

}  // namespace
}  // namespace ferrule::service
