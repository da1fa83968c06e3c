// Tests service/gate.cc over every method there is: each role may call what core/access/table.h and
// core/access/roles.h say and nothing else, in its branch alone; whoever may not see who patients
// are finds no reference in any answer, and nobody else's answer is changed by that.
#include <gtest/gtest.h>

#include <map>
#include <set>
#include <string>
#include <vector>

#include "core/access/roles.h"
#include "core/access/table.h"
#include "google/protobuf/descriptor.h"
#include "google/protobuf/message.h"
#include "grpcpp/impl/client_unary_call.h"
#include "tests/service/gated_depot.h"

namespace ferrule::service {
namespace {

using google::protobuf::Descriptor;
using google::protobuf::DescriptorPool;
using google::protobuf::FieldDescriptor;
using google::protobuf::Message;
using google::protobuf::MessageFactory;
using google::protobuf::MethodDescriptor;

constexpr char kReference[] = "P-north";

const MethodDescriptor* MethodOf(std::string_view path) {
  const size_t slash = path.rfind('/');
  const auto* service =
      DescriptorPool::generated_pool()->FindServiceByName(std::string(path.substr(1, slash - 1)));
  return service == nullptr ? nullptr
                            : service->FindMethodByName(std::string(path.substr(slash + 1)));
}

std::unique_ptr<Message> New(const Descriptor& type) {
  return std::unique_ptr<Message>(MessageFactory::generated_factory()->GetPrototype(&type)->New());
}

// Requests about a branch's order and unit, one for each value of the fields that choose what is
// answered: enough that many methods answer, and all that name patients.
std::vector<std::unique_ptr<Message>> RequestsOf(const Descriptor& type,
                                                 const std::string& branch) {
  const std::map<std::string, std::vector<std::string>> kTexts = {
      {"name", {"orders/R-" + branch, "units/K-" + branch}},
      {"subject", {"orders/R-" + branch}},
      {"holder", {"orders/R-" + branch}},
      {"order", {"R-" + branch}},
      {"unit", {"K-" + branch}},
      {"branch", {branch}},
      {"referrer", {"clinic"}},
      {"patient", {"P-" + branch}}};
  std::vector<std::unique_ptr<Message>> requests;
  requests.push_back(New(type));
  const auto fork = [&requests](const FieldDescriptor* field, int choices, const auto& set) {
    std::vector<std::unique_ptr<Message>> out;
    for (const auto& request : requests) {
      for (int i = 0; i < choices; ++i) {
        std::unique_ptr<Message> one(request->New());
        one->CopyFrom(*request);
        set(one.get(), field, i);
        out.push_back(std::move(one));
      }
    }
    requests = std::move(out);
  };
  for (int i = 0; i < type.field_count(); ++i) {
    const FieldDescriptor* field = type.field(i);
    if (field->is_repeated()) continue;
    const auto texts = kTexts.find(field->name());
    if (field->cpp_type() == FieldDescriptor::CPPTYPE_STRING && texts != kTexts.end()) {
      fork(field, static_cast<int>(texts->second.size()),
           [&](Message* one, const FieldDescriptor* f, int k) {
             one->GetReflection()->SetString(one, f, texts->second[k]);
           });
    }
    if (field->name() == "kind" || field->name() == "format") {
      if (field->cpp_type() != FieldDescriptor::CPPTYPE_ENUM) continue;
      fork(field, field->enum_type()->value_count(),
           [](Message* one, const FieldDescriptor* f, int k) {
             one->GetReflection()->SetEnum(one, f, f->enum_type()->value(k));
           });
    }
  }
  return requests;
}

class GateMethods : public GatedDepot {
 protected:
  grpc::Status Ask(const std::string& path, const std::string& token, const Message& request,
                   Message* response) {
    const auto context = Context(token);
    return grpc::internal::BlockingUnaryCall<Message, Message>(
        channel_.get(),
        grpc::internal::RpcMethod(path.c_str(), grpc::internal::RpcMethod::NORMAL_RPC),
        context.get(), request, response);
  }
  bool IsDenied(const MethodDescriptor& method, const std::string& path, const std::string& token,
                const std::string& branch) {
    const auto response = New(*method.output_type());
    // The clock stands still, so nothing of the quota would come back by itself.
    clock_.Set(clock_.NowMicros() + 10'000);
    const grpc::Status status =
        Ask(path, token, *RequestsOf(*method.input_type(), branch).front(), response.get());
    EXPECT_NE(status.error_code(), grpc::StatusCode::RESOURCE_EXHAUSTED) << path;
    return status.error_code() == grpc::StatusCode::PERMISSION_DENIED;
  }
  // Every right but that to see patients, for "blind", and every one for "sees".
  void Divide() {
    Furnish();
    v1::AccessRules rules;
    rules.set_version("2");
    for (const char* name : {"blind", "sees"}) {
      v1::Role* role = rules.add_roles();
      role->set_id(name);
      for (int i = 1; i < v1::Right_descriptor()->value_count(); ++i) {
        const auto right = static_cast<v1::Right>(v1::Right_descriptor()->value(i)->number());
        if (right == v1::RIGHT_READ_PATIENTS && role->id() == "blind") continue;
        role->add_rights(right);
      }
      v1::Grant* grant = rules.add_grants();
      grant->set_principal(name);
      grant->set_role(name);
    }
    Rule(rules.DebugString());
  }

  // Whether some answer of the method to this caller names the patient.
  bool Names(const MethodDescriptor& method, const std::string& path, const std::string& token) {
    bool named = false;
    for (const auto& request : RequestsOf(*method.input_type(), "north")) {
      const auto response = New(*method.output_type());
      const grpc::Status status = Ask(path, token, *request, response.get());
      answered_ += status.ok() ? 1 : 0;
      // A request that named the patient itself learns nothing from its own words.
      if (status.ok()) named |= Holds(*response);
    }
    return named;
  }
  static bool Holds(const Message& response) {
    return response.SerializeAsString().find(kReference) != std::string::npos;
  }

  std::shared_ptr<grpc::Channel> channel_;
  int answered_ = 0;
};

// Whether a request of the type can say which branch it is about.
bool NamesABranch(const Descriptor& type) {
  for (const char* name : {"name", "subject", "holder", "order", "unit", "branch"}) {
    const FieldDescriptor* field = type.FindFieldByName(name);
    if (field != nullptr && field->cpp_type() == FieldDescriptor::CPPTYPE_STRING &&
        !field->is_repeated()) {
      return true;
    }
  }
  return false;
}

// A method whose request a test can make, and its rule; facts are tested kind by kind elsewhere.
struct Asked {
  std::string path;
  const access::MethodRule* rule;
  const MethodDescriptor* method;
};
std::vector<Asked> UnaryMethods() {
  std::vector<Asked> out;
  for (const access::MethodRule& rule : access::MethodRules()) {
    const MethodDescriptor* method = MethodOf(rule.path);
    if (method == nullptr || method->server_streaming() || method->client_streaming()) continue;
    if (rule.scope == access::Scope::kOpen || rule.scope == access::Scope::kFacts) continue;
    out.push_back({std::string(rule.path), &rule, method});
  }
  return out;
}

TEST_F(GateMethods, EachRoleMayCallWhatTheTableGivesItInItsBranchAlone) {
  Furnish();
  v1::AccessRules rules;
  rules.set_version("2");
  for (const std::string_view role : access::BuiltInRoles()) {
    for (const bool all : {true, false}) {
      v1::Grant* grant = rules.add_grants();
      grant->set_principal(std::string(role) + (all ? "-all" : "-north"));
      grant->set_role(std::string(role));
      if (!all) grant->add_branches("north");
    }
  }
  Rule(rules.DebugString());
  channel_ = Tcp();
  int denied = 0;
  int asked = 0;
  for (const std::string_view role : access::BuiltInRoles()) {
    const std::string everywhere = Issue(std::string(role) + "-all");
    const std::string north = Issue(std::string(role) + "-north");
    const std::set<v1::Right> rights = access::RightsOfRole(rules, role);
    for (const Asked& one : UnaryMethods()) {
      const bool known = one.rule->scope == access::Scope::kKnown;
      const bool may = known || rights.contains(one.rule->right);
      const bool requested = one.rule->scope == access::Scope::kRequested;
      const bool may_north = may && one.rule->scope != access::Scope::kDepot &&
                             (!requested || NamesABranch(*one.method->input_type()));
      const std::string what = std::string(role) + " in " + one.path;
      EXPECT_EQ(IsDenied(*one.method, one.path, everywhere, "north"), !may) << what;
      EXPECT_EQ(IsDenied(*one.method, one.path, everywhere, "west"), !may) << what;
      EXPECT_EQ(IsDenied(*one.method, one.path, north, "north"), !may_north) << what;
      EXPECT_EQ(IsDenied(*one.method, one.path, north, "west"), !may_north || requested) << what;
      denied += may ? 0 : 1;
      ++asked;
    }
  }
  EXPECT_GT(asked, 800);
  EXPECT_GT(denied, 200);
}

// A misspelt branch is never answered with less than there is.
TEST_F(GateMethods, ABranchThatNeverWasIsNotFoundByAnyMethod) {
  Divide();
  const std::string sees = Issue("sees");
  channel_ = Tcp();
  int asked = 0;
  for (const Asked& one : UnaryMethods()) {
    const FieldDescriptor* field = one.method->input_type()->FindFieldByName("branch");
    if (field == nullptr) continue;
    const auto request = New(*one.method->input_type());
    request->GetReflection()->SetString(request.get(), field, "nroth");
    const auto response = New(*one.method->output_type());
    clock_.Set(clock_.NowMicros() + 10'000);
    const grpc::Status status = Ask(one.path, sees, *request, response.get());
    EXPECT_EQ(status.error_code(), grpc::StatusCode::NOT_FOUND) << one.path;
    EXPECT_EQ(status.error_message(), "there is no branch nroth; the branches are: north, west")
        << one.path;
    ++asked;
  }
  EXPECT_GE(asked, 27);
}

TEST_F(GateMethods, NoAnswerNamesThemToWhoeverMayNotSeeThem) {
  Divide();
  const std::string blind = Issue("blind");
  const std::string sees = Issue("sees");
  channel_ = Tcp();
  std::set<std::string> naming;
  for (const Asked& one : UnaryMethods()) {
    EXPECT_FALSE(Names(*one.method, one.path, blind)) << one.path;
    // The clock stands still, so nothing of the quota would come back by itself.
    clock_.Set(clock_.NowMicros() + 2'000'000);
    if (Names(*one.method, one.path, sees)) {
      naming.insert(one.path.substr(one.path.rfind('/') + 1));
    }
  }
  EXPECT_GT(answered_, 60);
  for (const char* method : {"GetOrder", "GetSubject", "ListEntries", "GetPaper", "GetDayLedger"}) {
    EXPECT_EQ(naming.count(method), 1u) << method << " names no patient even to whoever may see";
  }
}

TEST_F(GateMethods, HidingThemLeavesTheRecordsAsTheyAre) {
  Divide();
  std::string patient;
  const std::string blind = Issue("blind");
  const std::string sees = Issue("sees");
  for (int i = 0; i < 3; ++i) {
    ASSERT_TRUE(GetOrder(blind, "R-north", &patient).ok());
    EXPECT_EQ(patient, "masked");
    ASSERT_TRUE(GetOrder(sees, "R-north", &patient).ok());
    EXPECT_EQ(patient, "shown");
  }
}

}  // namespace
}  // namespace ferrule::service
