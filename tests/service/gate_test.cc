// Tests service/gate.cc, service/branches.cc, service/quota.cc, service/room.cc,
// service/access_methods.cc and service/tls.cc as callers meet them, over TCP.
#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <sys/stat.h>

#include <algorithm>
#include <chrono>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <memory>
#include <mutex>
#include <sstream>
#include <string>
#include <thread>
#include <vector>

#include "absl/strings/escaping.h"
#include "absl/strings/str_cat.h"
#include "core/time/civil.h"
#include "ferrule/v1/access_service.grpc.pb.h"
#include "ferrule/v1/depot_service.grpc.pb.h"
#include "ferrule/v1/ledger_service.grpc.pb.h"
#include "ferrule/v1/trace_service.grpc.pb.h"
#include "google/protobuf/text_format.h"
#include "grpc/health/v1/health.pb.h"
#include "grpcpp/create_channel.h"
#include "grpcpp/impl/client_unary_call.h"
#include "grpcpp/security/credentials.h"
#include "service/depot_host.h"
#include "service/limits.h"
#include "tests/service/gated_depot.h"
#include "tests/service/served_depot.h"
#include "tests/support/entries.h"

namespace ferrule::service {
namespace {

using grpc::StatusCode;
using testing::DetailsOf;
using ::testing::ElementsAre;
using ::testing::HasSubstr;
using ::testing::Not;

using GateTest = GatedDepot;

TEST_F(GateTest, NobodyHasToSayWhoTheyAreBeforeATokenIsIssued) {
  Furnish();
  EXPECT_TRUE(GetUnit("", "K-north").ok());
  Issue("tech-ada");
  const grpc::Status status = GetUnit("", "K-north");
  EXPECT_EQ(status.error_code(), StatusCode::UNAUTHENTICATED);
  EXPECT_EQ(DetailsOf(status).info.reason(), "NOT_IDENTIFIED");
  EXPECT_THAT(status.error_message(), HasSubstr("--token-file"));
}

TEST_F(GateTest, ARoleReadsAndRecordsInItsBranchAlone) {
  Furnish();
  const std::string ada = Issue("tech-ada");
  EXPECT_TRUE(GetUnit(ada, "K-north").ok());
  EXPECT_EQ(GetUnit(ada, "K-west").error_code(), StatusCode::PERMISSION_DENIED);
  // Nothing tells whether a unit is elsewhere or nowhere.
  const grpc::Status elsewhere = GetUnit(ada, "K-west");
  const grpc::Status nowhere = GetUnit(ada, "K-nowhere");
  EXPECT_EQ(nowhere.error_code(), StatusCode::PERMISSION_DENIED);
  EXPECT_EQ(nowhere.error_message(), elsewhere.error_message());
  EXPECT_EQ(DetailsOf(nowhere).bytes, DetailsOf(elsewhere).bytes);
  EXPECT_THAT(log_, HasSubstr("turned away tech-ada from ipv4:127.0.0.1"));
  // What belongs to no branch is there for whoever may see its like somewhere.
  v1::GetSubjectRequest request;
  request.set_name("testers/T-1");
  v1::GetSubjectResponse response;
  const auto context = Context(ada);
  EXPECT_EQ(
      v1::DepotService::NewStub(Tcp())->GetSubject(context.get(), request, &response).error_code(),
      StatusCode::NOT_FOUND);
  EXPECT_TRUE(Record(Tcp(), ada, Moved("m-1", "K-north", "tech-ada")).ok());
  EXPECT_EQ(Record(Tcp(), ada, Moved("m-2", "K-west", "tech-ada")).error_code(),
            StatusCode::PERMISSION_DENIED);
}

TEST_F(GateTest, ARoleRecordsItsOwnKindsOfFactAlone) {
  Furnish();
  const std::string eve = Issue("audit-eve");
  const grpc::Status status = Record(Tcp(), eve, Moved("m-1", "K-north", "audit-eve"));
  EXPECT_EQ(status.error_code(), StatusCode::PERMISSION_DENIED);
  EXPECT_EQ(DetailsOf(status).info.metadata().at("right"), "RIGHT_RECORD_CUSTODY");
  EXPECT_TRUE(GetUnit(eve, "K-west").ok());
}

TEST_F(GateTest, WhoeverHasNoGrantMayNothing) {
  Furnish();
  const std::string zoe = Issue("zoe");
  EXPECT_EQ(GetUnit(zoe, "K-north").error_code(), StatusCode::PERMISSION_DENIED);
  EXPECT_EQ(Record(Tcp(), zoe, Moved("m-1", "K-north", "zoe")).error_code(),
            StatusCode::PERMISSION_DENIED);
  v1::GetCallerResponse caller;
  const auto context = Context(zoe);
  ASSERT_TRUE(v1::AccessService::NewStub(Tcp())
                  ->GetCaller(context.get(), v1::GetCallerRequest(), &caller)
                  .ok());
  EXPECT_EQ(caller.principal(), "zoe");
  EXPECT_EQ(caller.rights_size(), 0);
}

TEST_F(GateTest, WorkThatAsksForACompetenceIsReportedOfWhoeverHadItThatDay) {
  Furnish();
  const std::string rules = std::string(kRules) + R"(
      competence_for: 'repair_opened'
      competences { person: 'tech-ada' facts: 'repair_opened' to_date { year: 2026 month: 1 day: 1 } })";
  Rule(rules);
  const std::string ada = Issue("tech-ada");
  v1::Entry entry = testing::EntryOf("r-1", testing::kStartUs + 3 * testing::kHourUs,
                                     "repair_opened { unit: 'K-north' complaint: 'noisy' }",
                                     v1::ENTRY_MODE_OBSERVED);
  entry.set_actor("");
  const grpc::Status refused = Record(Tcp(), ada, entry);
  EXPECT_EQ(refused.error_code(), StatusCode::PERMISSION_DENIED);
  EXPECT_EQ(DetailsOf(refused).info.reason(), "NOT_COMPETENT");
  Rule(std::string(kRules) + R"(
      competence_for: 'repair_opened'
      competences { person: 'tech-ada' facts: 'repair_opened' })");
  const grpc::Status taken = Record(Tcp(), ada, entry);
  EXPECT_TRUE(taken.ok()) << taken.error_message();
}

TEST_F(GateTest, WhoReportsIsWhoeverTheTokenIs) {
  Furnish();
  const std::string ada = Issue("tech-ada");
  ASSERT_TRUE(Record(Tcp(), ada, Moved("m-1", "K-north", "")).ok());
  const grpc::Status other = Record(Tcp(), ada, Moved("m-2", "K-north", "tech-bo"));
  EXPECT_EQ(DetailsOf(other).info.reason(), "ACTOR_NOT_CALLER");
  v1::ListEntriesRequest request;
  request.set_subject("units/K-north");
  v1::ListEntriesResponse entries;
  const auto context = Context("");
  ASSERT_TRUE(
      v1::LedgerService::NewStub(Socket())->ListEntries(context.get(), request, &entries).ok());
  const v1::LedgerEntry& last = entries.entries(entries.entries_size() - 1);
  EXPECT_EQ(last.entry().actor(), "tech-ada");
  EXPECT_EQ(last.principal(), "tech-ada");
}

TEST_F(GateTest, PatientsAreMaskedWithoutTheRightAndTheReadIsKeptWithIt) {
  Furnish();
  std::string patient;
  const std::string eve = Issue("audit-eve");
  ASSERT_TRUE(GetOrder(eve, "R-north", &patient).ok());
  EXPECT_EQ(patient, "masked");
  EXPECT_EQ(Reads().reads_size(), 0);
  const std::string di = Issue("rep-di");
  ASSERT_TRUE(GetOrder(di, "R-north", &patient).ok());
  EXPECT_EQ(patient, "shown");
  // It is written with the next group, which need not be before the answer.
  v1::ListReadsResponse reads;
  for (int i = 0; i < 500 && reads.reads_size() == 0; ++i) {
    std::this_thread::sleep_for(std::chrono::milliseconds(10));
    reads = Reads();
  }
  ASSERT_EQ(reads.reads_size(), 1);
  EXPECT_EQ(reads.reads(0).principal(), "rep-di");
  EXPECT_EQ(reads.reads(0).resource(), "orders/R-north");
  EXPECT_THAT(reads.DebugString(), Not(HasSubstr("P-north")));
}

// An auditor sees all but who patients are: also in names of records and in page tokens.
TEST_F(GateTest, AnAuditorAsksWhatIsKeptAndWhoReadItWithoutSeeingPatients) {
  Furnish();
  for (const char* reference : {"P-north", "P-west"}) {
    v1::PutPatientRequest put;
    put.mutable_particulars()->set_patient(reference);
    v1::PutPatientResponse response;
    const auto context = Context("");
    ASSERT_TRUE(
        v1::PatientService::NewStub(Socket())->PutPatient(context.get(), put, &response).ok());
  }
  const auto records = [this](const std::string& token) {
    std::vector<std::string> all;
    v1::ListRecordsDueRequest request;
    request.set_kind(v1::RECORD_KIND_PATIENT);
    request.set_include_kept(true);
    request.set_page_size(1);
    v1::ListRecordsDueResponse page;
    do {
      const auto context = Context(token);
      const grpc::Status status =
          v1::TraceService::NewStub(Tcp())->ListRecordsDue(context.get(), request, &page);
      EXPECT_TRUE(status.ok()) << status.error_message();
      for (const v1::RecordDue& record : page.records()) all.push_back(record.resource());
      std::string key;
      EXPECT_TRUE(absl::WebSafeBase64Unescape(page.next_page_token(), &key));
      all.push_back("token" + key.substr(std::min<size_t>(key.size(), 9)));
      request.set_page_token(page.next_page_token());
    } while (!page.next_page_token().empty() && all.size() < 10);
    return all;
  };
  const std::string eve = Issue("audit-eve");
  const std::string fay = Issue("comp-fay");
  EXPECT_THAT(records(eve), ElementsAre("patients/masked", "token1", "patients/masked", "token"));
  EXPECT_THAT(records(fay),
              ElementsAre("patients/P-north", HasSubstr("P-north"), "patients/P-west", "token"));

  const auto trail = [this](const std::string& token, v1::ReportPatientTrailResponse* response) {
    v1::ReportPatientTrailRequest request;
    request.set_patient("P-north");
    const auto context = Context(token);
    return v1::TraceService::NewStub(Tcp())->ReportPatientTrail(context.get(), request, response);
  };
  v1::ReportPatientTrailResponse seen;
  ASSERT_TRUE(trail(fay, &seen).ok());
  EXPECT_THAT(seen.DebugString(), HasSubstr("patients/P-north"));
  ASSERT_TRUE(trail(eve, &seen).ok());
  EXPECT_THAT(seen.orders(), ElementsAre("orders/R-north"));
  EXPECT_THAT(seen.DebugString(), HasSubstr("patients/masked"));
  EXPECT_THAT(seen.DebugString(), Not(HasSubstr("P-north")));
  // That an auditor brought a reference along is kept.
  const auto asked = [this](const std::string& who) {
    const v1::ListReadsResponse reads = Reads();
    return std::any_of(reads.reads().begin(), reads.reads().end(), [&](const v1::ReadRecord& read) {
      return read.principal() == who && read.resource().starts_with("patients/");
    });
  };
  for (int i = 0; i < 500 && !asked("audit-eve"); ++i) {
    std::this_thread::sleep_for(std::chrono::milliseconds(10));
  }
  EXPECT_TRUE(asked("audit-eve"));
  EXPECT_TRUE(asked("comp-fay"));
  EXPECT_EQ(trail(Issue("rep-di"), &seen).error_code(), StatusCode::PERMISSION_DENIED);
}

TEST_F(GateTest, BrokenGlassNeedsAReasonAndLeavesATrace) {
  Furnish();
  std::string patient;
  const std::string ada = Issue("tech-ada");
  EXPECT_EQ(GetOrder(ada, "R-west", &patient).error_code(), StatusCode::PERMISSION_DENIED);
  EXPECT_EQ(GetOrder(ada, "R-west", &patient, "oops").error_code(), StatusCode::INVALID_ARGUMENT);
  EXPECT_EQ(Reads().reads_size(), 0);
  const std::string reason = "device pinches, must ring the home";
  ASSERT_TRUE(GetOrder(ada, "R-west", &patient, reason).ok());
  EXPECT_EQ(patient, "shown");
  ASSERT_GE(Reads().reads_size(), 1);
  EXPECT_EQ(Reads().reads(0).because(), reason);
  EXPECT_THAT(log_, HasSubstr("ALARM: tech-ada broke the glass"));
  // Whose role does not allow even that is turned away.
  EXPECT_EQ(GetOrder(Issue("rep-di"), "R-west", &patient, reason).error_code(),
            StatusCode::PERMISSION_DENIED);
}

TEST_F(GateTest, AWrongExpiredOrRevokedTokenIsNone) {
  Furnish();
  v1::TokenInfo info;
  const std::string ada = Issue("tech-ada", &info);
  std::string wrong = ada;
  wrong.back() = wrong.back() == '0' ? '1' : '0';
  EXPECT_EQ(DetailsOf(GetUnit(wrong, "K-north")).info.reason(), "TOKEN_UNKNOWN");
  Revoke(info.id());
  EXPECT_EQ(DetailsOf(GetUnit(ada, "K-north")).info.reason(), "TOKEN_REVOKED");
  const std::string next = Issue("tech-ada");
  EXPECT_TRUE(GetUnit(next, "K-north").ok());
  clock_.Set(clock_.NowMicros() + 2 * testing::kDayUs);
  EXPECT_EQ(DetailsOf(GetUnit(next, "K-north")).info.reason(), "TOKEN_EXPIRED");
  EXPECT_THAT(log_, Not(HasSubstr(ada)));
  EXPECT_THAT(log_, Not(HasSubstr(next)));
}

// A feed of "hub" that has begun, and how it ends.
class OpenFeed {
 public:
  OpenFeed(std::shared_ptr<grpc::Channel> channel, std::unique_ptr<grpc::ClientContext> context)
      : context_(std::move(context)),
        reader_(v1::LedgerService::NewStub(channel)->WatchEntries(context_.get(),
                                                                  v1::WatchEntriesRequest())) {}
  bool Begun() { return reader_->Read(&page_); }
  std::string Page() const { return page_.DebugString(); }
  grpc::Status End() {
    while (reader_->Read(&page_)) {
    }
    return reader_->Finish();
  }

 private:
  std::unique_ptr<grpc::ClientContext> context_;
  std::unique_ptr<grpc::ClientReader<v1::WatchEntriesResponse>> reader_;
  v1::WatchEntriesResponse page_;
};

TEST_F(GateTest, ARevokedTokenEndsItsStreams) {
  Furnish();
  v1::TokenInfo info;
  const std::string hub = Issue("hub", &info);
  OpenFeed feed(Tcp(), Context(hub));
  ASSERT_TRUE(feed.Begun());
  EXPECT_THAT(feed.Page(), Not(HasSubstr("P-north")));
  Revoke(info.id());
  const auto began = std::chrono::steady_clock::now();
  const grpc::Status ended = feed.End();
  EXPECT_EQ(ended.error_code(), StatusCode::UNAUTHENTICATED);
  EXPECT_EQ(DetailsOf(ended).info.reason(), "TOKEN_REVOKED");
  EXPECT_LT(std::chrono::steady_clock::now() - began, std::chrono::seconds(5));
}

TEST_F(GateTest, AnEndedTokenAndARightThatWasTakenAwayEndStreamsToo) {
  Furnish();
  OpenFeed one(Tcp(), Context(Issue("hub")));
  ASSERT_TRUE(one.Begun());
  Rule("version: '2' grants { principal: 'hub' role: 'technician' }");
  EXPECT_EQ(one.End().error_code(), StatusCode::PERMISSION_DENIED);
  Rule(kRules);
  OpenFeed other(Tcp(), Context(Issue("hub")));
  ASSERT_TRUE(other.Begun());
  clock_.Set(clock_.NowMicros() + 2 * testing::kDayUs);
  EXPECT_EQ(DetailsOf(other.End()).info.reason(), "TOKEN_EXPIRED");
}

TEST_F(GateTest, TwoTokensOfOneNameAreGoodWhileItChangesOver) {
  Furnish();
  v1::TokenInfo old;
  const std::string first = Issue("tech-ada", &old);
  const std::string second = Issue("tech-ada");
  EXPECT_TRUE(GetUnit(first, "K-north").ok());
  EXPECT_TRUE(GetUnit(second, "K-north").ok());
  v1::IssueTokenRequest request;
  request.set_principal("tech-ada");
  time::SetMicros(clock_.NowMicros() + testing::kDayUs, request.mutable_expire_time());
  v1::IssueTokenResponse response;
  const auto context = Context("");
  const grpc::Status third =
      v1::AccessService::NewStub(Socket())->IssueToken(context.get(), request, &response);
  EXPECT_EQ(third.error_code(), StatusCode::FAILED_PRECONDITION);
  EXPECT_THAT(third.error_message(), HasSubstr("revoke one first"));
  Revoke(old.id());
  EXPECT_FALSE(GetUnit(first, "K-north").ok());
  EXPECT_TRUE(GetUnit(second, "K-north").ok());
}

TEST_F(GateTest, RightsThatWereGivenOrTakenCountAtTheNextCall) {
  Furnish();
  const std::string ada = Issue("tech-ada");
  EXPECT_TRUE(GetUnit(ada, "K-north").ok());
  EXPECT_FALSE(GetUnit(ada, "K-west").ok());
  Rule("version: '2' grants { principal: 'tech-ada' role: 'technician' branches: 'west' }");
  EXPECT_FALSE(GetUnit(ada, "K-north").ok());
  EXPECT_TRUE(GetUnit(ada, "K-west").ok());
}

TEST_F(GateTest, WrongTokensAndManyStreamsAreLimited) {
  Furnish();
  Issue("tech-ada");
  grpc::Status status;
  for (int i = 0; i <= static_cast<int>(kWrongTokensAtOnce); ++i)
    status = GetUnit("t-x.0", "K-north");
  EXPECT_EQ(status.error_code(), StatusCode::RESOURCE_EXHAUSTED);
  EXPECT_TRUE(DetailsOf(status).has_retry);
  const std::string hub = Issue("hub");
  EXPECT_TRUE(GetUnit(hub, "K-north").ok());
  std::vector<std::unique_ptr<grpc::ClientContext>> contexts;
  std::vector<std::unique_ptr<grpc::ClientReader<v1::WatchEntriesResponse>>> readers;
  const auto stub = v1::LedgerService::NewStub(Tcp());
  v1::WatchEntriesResponse page;
  for (int i = 0; i < kMaxStreamsPerPrincipal; ++i) {
    contexts.push_back(Context(hub));
    readers.push_back(stub->WatchEntries(contexts.back().get(), v1::WatchEntriesRequest()));
    ASSERT_TRUE(readers.back()->Read(&page));
  }
  const auto context = Context(hub);
  const auto more = stub->WatchEntries(context.get(), v1::WatchEntriesRequest());
  EXPECT_FALSE(more->Read(&page));
  EXPECT_EQ(DetailsOf(more->Finish()).info.reason(), "TOO_MANY_STREAMS");
  for (const auto& one : contexts) one->TryCancel();
}

TEST_F(GateTest, OneCallerWhoAsksTooOftenIsToldWhenToComeBack) {
  Furnish();
  const std::string ada = Issue("tech-ada");
  const std::string eve = Issue("audit-eve");
  const auto stub = v1::AccessService::NewStub(Tcp());
  grpc::Status status;
  // The clock stands still, so nothing is given back.
  for (int i = 0; i <= static_cast<int>(kCallsAtOnce) && status.ok(); ++i) {
    v1::GetCallerResponse response;
    const auto context = Context(ada);
    status = stub->GetCaller(context.get(), v1::GetCallerRequest(), &response);
  }
  EXPECT_EQ(status.error_code(), StatusCode::RESOURCE_EXHAUSTED);
  EXPECT_EQ(DetailsOf(status).info.reason(), "RATE");
  EXPECT_TRUE(DetailsOf(status).has_retry);
  EXPECT_TRUE(GetUnit(eve, "K-north").ok());
}

TEST_F(GateTest, HealthTellsThatItCannotWriteApartFromThatItIsAlive) {
  HostOptions options;
  options.disk_floor_bytes = INT64_MAX;
  options.require_identity = true;
  ASSERT_EQ(Open(options), absl::OkStatus());
  const auto health = [this](const char* name) {
    grpc::health::v1::HealthCheckRequest request;
    request.set_service(name);
    grpc::health::v1::HealthCheckResponse response;
    const auto context = Context("");
    EXPECT_TRUE((grpc::internal::BlockingUnaryCall<grpc::health::v1::HealthCheckRequest,
                                                   grpc::health::v1::HealthCheckResponse>(
                     Tcp().get(),
                     grpc::internal::RpcMethod("/grpc.health.v1.Health/Check",
                                               grpc::internal::RpcMethod::NORMAL_RPC),
                     context.get(), request, &response)
                     .ok()))
        << name;
    return response.status();
  };
  EXPECT_EQ(health("ferrule.v1.Write"), grpc::health::v1::HealthCheckResponse::NOT_SERVING);
  EXPECT_EQ(health(""), grpc::health::v1::HealthCheckResponse::SERVING);
  EXPECT_THAT(log_, HasSubstr("ALARM: only"));
  options.disk_floor_bytes = 0;
  ASSERT_EQ(Open(options), absl::OkStatus());
  EXPECT_EQ(health("ferrule.v1.Write"), grpc::health::v1::HealthCheckResponse::SERVING);
}

// A certificate authority with a server's and a client's certificate.
class TlsTest : public GateTest {
 protected:
  void SetUp() override {
    Run("openssl req -x509 -newkey ec -pkeyopt ec_paramgen_curve:P-256 -nodes -days 2 -keyout "
        "ca.key -out ca.pem -subj /CN=test-ca");
    Issued("server", "/CN=localhost", "DNS:localhost,IP:127.0.0.1");
    Issued("client", "/CN=some-device", "URI:ferrule:tech-ada");
    Run("openssl req -x509 -newkey ec -pkeyopt ec_paramgen_curve:P-256 -nodes -days 2 -keyout "
        "other.key -out other.pem -subj /CN=tech-ada");
  }
  void Run(const std::string& command) {
    ASSERT_EQ(std::system(("cd " + folder_ + " && " + command + " 2>/dev/null").c_str()), 0)
        << command;
  }
  void Issued(const std::string& name, const std::string& subject, const std::string& san) {
    std::ofstream(folder_ + "/" + name + ".ext") << "subjectAltName=" << san << "\n";
    Run(absl::StrCat("openssl req -newkey ec -pkeyopt ec_paramgen_curve:P-256 -nodes -keyout ",
                     name, ".key -out ", name, ".csr -subj ", subject));
    Run(absl::StrCat("openssl x509 -req -in ", name,
                     ".csr -CA ca.pem -CAkey ca.key "
                     "-CAcreateserial -days 2 -extfile ",
                     name, ".ext -out ", name, ".pem"));
    Run("chmod 600 " + name + ".key");
  }
  std::string Read(const std::string& name) {
    std::ifstream file(folder_ + "/" + name);
    std::stringstream text;
    text << file.rdbuf();
    return text.str();
  }
  HostOptions WithTls(bool clients) {
    HostOptions options;
    options.tls.certificate = folder_ + "/server.pem";
    options.tls.key = folder_ + "/server.key";
    if (clients) options.tls.client_ca = folder_ + "/ca.pem";
    return options;
  }
  std::shared_ptr<grpc::ChannelCredentials> Trusting(const std::string& client = "") {
    grpc::SslCredentialsOptions options;
    options.pem_root_certs = Read("ca.pem");
    if (!client.empty()) {
      options.pem_cert_chain = Read(client + ".pem");
      options.pem_private_key = Read(client + ".key");
    }
    return grpc::SslCredentials(options);
  }
  grpc::Status Caller(std::shared_ptr<grpc::ChannelCredentials> credentials,
                      const std::string& token, v1::GetCallerResponse* caller) {
    const auto context = Context(token);
    context->set_deadline(std::chrono::system_clock::now() + std::chrono::seconds(3));
    return v1::AccessService::NewStub(Tcp(std::move(credentials)))
        ->GetCaller(context.get(), v1::GetCallerRequest(), caller);
  }
};

TEST_F(TlsTest, ATokenIsTakenOverTlsAndPlainTextIsNot) {
  Furnish();
  const std::string ada = Issue("tech-ada");
  ASSERT_EQ(Open(WithTls(false)), absl::OkStatus());
  v1::GetCallerResponse caller;
  const grpc::Status status = Caller(Trusting(), ada, &caller);
  ASSERT_TRUE(status.ok()) << status.error_message();
  EXPECT_EQ(caller.principal(), "tech-ada");
  EXPECT_EQ(Caller(grpc::InsecureChannelCredentials(), ada, &caller).error_code(),
            StatusCode::UNAVAILABLE);
}

TEST_F(TlsTest, ACertificateSaysWhoCallsAndNoneOrAnothersIsRefused) {
  ASSERT_EQ(Open(WithTls(true)), absl::OkStatus());
  v1::GetCallerResponse caller;
  const grpc::Status status = Caller(Trusting("client"), "", &caller);
  ASSERT_TRUE(status.ok()) << status.error_message();
  EXPECT_EQ(caller.principal(), "tech-ada");
  EXPECT_EQ(caller.by(), "certificate");
  EXPECT_FALSE(Caller(Trusting(), "", &caller).ok());
  EXPECT_FALSE(Caller(Trusting("other"), "", &caller).ok());
}

TEST_F(TlsTest, OtherMachinesAreServedWithTlsAlone) {
  HostOptions plain;
  plain.listen = {"0.0.0.0:0"};
  const absl::Status refused = Open(plain);
  EXPECT_EQ(refused.code(), absl::StatusCode::kInvalidArgument);
  EXPECT_THAT(std::string(refused.message()), HasSubstr("--tls-certificate"));
  HostOptions tls = WithTls(false);
  tls.listen = {"0.0.0.0:0"};
  ASSERT_EQ(Open(tls), absl::OkStatus());
  // Even before a token was issued, others say who they are.
  v1::GetCallerResponse caller;
  EXPECT_EQ(Caller(Trusting(), "", &caller).error_code(), StatusCode::UNAUTHENTICATED);
}

TEST_F(TlsTest, FilesThatCannotBeUsedAreNamedWithWhatToDo) {
  HostOptions options = WithTls(false);
  options.tls.key = folder_ + "/client.key";
  EXPECT_THAT(std::string(Open(options).message()), HasSubstr("is not the key of"));
  options = WithTls(false);
  ASSERT_EQ(chmod((folder_ + "/server.key").c_str(), 0644), 0);
  EXPECT_THAT(std::string(Open(options).message()), HasSubstr("chmod 600"));
  options.tls.key = folder_ + "/none.key";
  EXPECT_THAT(std::string(Open(options).message()), HasSubstr("cannot be read"));
}

}  // namespace
}  // namespace ferrule::service
