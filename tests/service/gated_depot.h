// A depot behind the gate with two branches, served over TCP and to its owner over its socket.
#pragma once

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <chrono>
#include <cstdlib>
#include <filesystem>
#include <memory>
#include <mutex>
#include <string>
#include <utility>

#include "absl/strings/str_cat.h"
#include "core/time/civil.h"
#include "ferrule/v1/access_service.grpc.pb.h"
#include "ferrule/v1/depot_service.grpc.pb.h"
#include "ferrule/v1/ledger_service.grpc.pb.h"
#include "google/protobuf/text_format.h"
#include "grpcpp/create_channel.h"
#include "grpcpp/security/credentials.h"
#include "service/depot_host.h"
#include "tests/service/served_depot.h"
#include "tests/support/entries.h"

namespace ferrule::service {

inline constexpr char kRules[] = R"(version: '1'
  grants { principal: 'tech-ada' role: 'technician' branches: 'north' }
  grants { principal: 'intake-cy' role: 'intake' }
  grants { principal: 'rep-di' role: 'rep' branches: 'north' }
  grants { principal: 'audit-eve' role: 'auditor' }
  grants { principal: 'comp-fay' role: 'compliance' }
  grants { principal: 'hub' role: 'integrator' }
  grants { principal: 'boss-gil' role: 'manager' }
  grants { principal: 'admin-hal' role: 'administrator' })";

class GatedDepot : public ::testing::Test {
 protected:
  GatedDepot() : clock_(testing::kStartUs + 30 * testing::kDayUs) {
    std::string pattern = (std::filesystem::temp_directory_path() / "ferrule-XXXXXX").string();
    folder_ = ::mkdtemp(pattern.data());
  }
  ~GatedDepot() override {
    host_.reset();
    std::filesystem::remove_all(folder_);
  }

  absl::Status Open(HostOptions options = {}) {
    host_.reset();
    options.sqlite_path = folder_ + "/depot.ferrule";
    options.create = true;
    if (options.listen.empty()) options.listen = {"127.0.0.1:0"};
    options.socket = true;
    options.clock = &clock_;
    options.log = [this](const std::string& line) {
      const std::lock_guard lock(mutex_);
      log_ += line + "\n";
    };
    auto host = OpenDepot(std::move(options));
    if (!host.ok()) return host.status();
    host_ = *std::move(host);
    return absl::OkStatus();
  }

  std::shared_ptr<grpc::Channel> Tcp(
      std::shared_ptr<grpc::ChannelCredentials> credentials = grpc::InsecureChannelCredentials()) {
    grpc::ChannelArguments arguments;
    arguments.SetInt(GRPC_ARG_USE_LOCAL_SUBCHANNEL_POOL, 1);
    return grpc::CreateCustomChannel(absl::StrCat("localhost:", host_->ports()[0]), credentials,
                                     arguments);
  }
  std::shared_ptr<grpc::Channel> Socket() {
    return grpc::CreateChannel("unix:" + host_->socket_path(), grpc::InsecureChannelCredentials());
  }

  std::unique_ptr<grpc::ClientContext> Context(const std::string& token) {
    auto context = std::make_unique<grpc::ClientContext>();
    context->set_deadline(std::chrono::system_clock::now() + std::chrono::seconds(20));
    if (!token.empty()) context->AddMetadata("authorization", "Bearer " + token);
    return context;
  }

  // The owner puts settings and rules, takes two orders and receives a unit in each branch.
  void Furnish() {
    ASSERT_EQ(Open(), absl::OkStatus());
    Owner(testing::SettingsEntry());
    for (const char* branch : {"north", "west"}) {
      const std::string place = absl::StrCat(branch, "-shelf");
      Owner(testing::EntryOf(absl::StrCat("unit-", branch), testing::kStartUs + testing::kHourUs,
                             absl::StrCat("unit_received { unit: 'K-", branch,
                                          "' model: 'knee-a' place: '", place, "' }"),
                             v1::ENTRY_MODE_OBSERVED));
      Owner(testing::EntryOf(
          absl::StrCat("order-", branch), testing::kStartUs + 2 * testing::kHourUs,
          absl::StrCat("order_taken { order: 'R-", branch, "' details { patient: 'P-", branch,
                       "' branch: '", branch, "' device_class: 'knee' } }"),
          v1::ENTRY_MODE_OBSERVED));
    }
    Rule(kRules);
  }
  // The owner puts access rules in force at once.
  void Rule(const std::string& rules) {
    v1::PutAccessRulesRequest request;
    ASSERT_TRUE(google::protobuf::TextFormat::ParseFromString(rules, request.mutable_rules()));
    v1::PutAccessRulesResponse response;
    const auto context = Context("");
    const grpc::Status put =
        v1::AccessService::NewStub(Socket())->PutAccessRules(context.get(), request, &response);
    ASSERT_TRUE(put.ok()) << put.error_message();
  }
  void Owner(const v1::Entry& entry) {
    const grpc::Status recorded = Record(Socket(), "", entry);
    ASSERT_TRUE(recorded.ok()) << recorded.error_message();
  }

  std::string Issue(const std::string& who, v1::TokenInfo* info = nullptr) {
    v1::IssueTokenRequest request;
    request.set_principal(who);
    time::SetMicros(clock_.NowMicros() + testing::kDayUs, request.mutable_expire_time());
    v1::IssueTokenResponse response;
    const auto context = Context("");
    const grpc::Status issued =
        v1::AccessService::NewStub(Socket())->IssueToken(context.get(), request, &response);
    EXPECT_TRUE(issued.ok()) << issued.error_message();
    if (info != nullptr) *info = response.info();
    return response.token();
  }
  void Revoke(const std::string& id) {
    v1::RevokeTokenRequest request;
    request.set_id(id);
    v1::RevokeTokenResponse response;
    const auto context = Context("");
    ASSERT_TRUE(
        v1::AccessService::NewStub(Socket())->RevokeToken(context.get(), request, &response).ok());
  }

  grpc::Status Record(std::shared_ptr<grpc::Channel> channel, const std::string& token,
                      const v1::Entry& entry) {
    v1::RecordRequest request;
    *request.mutable_entry() = entry;
    v1::RecordResponse response;
    const auto context = Context(token);
    return v1::LedgerService::NewStub(channel)->Record(context.get(), request, &response);
  }
  grpc::Status GetUnit(const std::string& token, const std::string& unit) {
    v1::GetUnitRequest request;
    request.set_name("units/" + unit);
    v1::GetUnitResponse response;
    const auto context = Context(token);
    return v1::DepotService::NewStub(Tcp())->GetUnit(context.get(), request, &response);
  }
  grpc::Status GetOrder(const std::string& token, const std::string& order, std::string* patient,
                        const std::string& because = "") {
    v1::GetOrderRequest request;
    request.set_name("orders/" + order);
    v1::GetOrderResponse response;
    const auto context = Context(token);
    if (!because.empty()) context->AddMetadata("ferrule-break-glass", because);
    const grpc::Status status =
        v1::DepotService::NewStub(Tcp())->GetOrder(context.get(), request, &response);
    const std::string all = response.DebugString();
    *patient = all.find("P-") != std::string::npos       ? "shown"
               : all.find("masked") != std::string::npos ? "masked"
                                                         : "absent";
    return status;
  }
  v1::ListReadsResponse Reads() {
    v1::ListReadsRequest request;
    v1::ListReadsResponse response;
    const auto context = Context("");
    EXPECT_TRUE(
        v1::AccessService::NewStub(Socket())->ListReads(context.get(), request, &response).ok());
    return response;
  }
  v1::Entry Moved(const std::string& id, const std::string& unit, const std::string& actor) {
    v1::Entry entry = testing::EntryOf(
        id, testing::kStartUs + 3 * testing::kHourUs,
        "unit_moved { unit: '" + unit + "' to_place: 'north-bench' }", v1::ENTRY_MODE_OBSERVED);
    entry.set_actor(actor);
    return entry;
  }

  time::ManualClock clock_;
  std::string folder_;
  std::mutex mutex_;
  std::string log_;
  std::unique_ptr<DepotHost> host_;
};

}  // namespace ferrule::service
