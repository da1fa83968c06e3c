// The gate before every method: who calls, whether that caller may, what of the answer is hidden,
// and what is kept of the reading. The rules are core/access/table.h and the depot's access
// rules.
//
// Nobody has to say who they are as long as no token was ever issued, no client certificates are
// asked for and only this machine can connect. The owner of the depot's file, on its socket or in
// process, may everything.
#pragma once

#include <cstdint>
#include <functional>
#include <map>
#include <memory>
#include <mutex>
#include <string>
#include <string_view>

#include "absl/status/status.h"
#include "absl/status/statusor.h"
#include "core/access/rights.h"
#include "core/access/table.h"
#include "core/guard/patients.h"
#include "core/guard/rules.h"
#include "core/guard/tokens.h"
#include "core/ledger/ledger.h"
#include "google/protobuf/message.h"
#include "grpcpp/server_context.h"
#include "service/quota.h"

namespace ferrule::service {

// Who calls.
struct Caller {
  enum class By { kOpen, kOwner, kToken, kCertificate };
  std::string principal;  // empty for the owner and where nobody has to say
  By by = By::kOpen;
  std::string token_id;
  int64_t expire_us = 0;  // of the token; 0 when nothing ends
  std::string because;    // the reason given to look through broken glass
  bool sees_patients = true;
  access::Rights rights;

  // Whether rights are asked of this caller.
  bool limited() const { return by == By::kToken || by == By::kCertificate; }
};
using CallerPtr = std::shared_ptr<const Caller>;

struct GateOptions {
  // Callers from other processes say who they are even when no token was ever issued.
  bool required = false;
  // Takes one line for the operator: who was turned away.
  std::function<void(const std::string&)> log;
};

// Thread-safe.
class Gate {
 public:
  Gate(ledger::Ledger* ledger, GateOptions options);

  // Who calls, and whether that caller may call the method at all; before the request is read.
  // UNAUTHENTICATED, PERMISSION_DENIED, RESOURCE_EXHAUSTED.
  absl::StatusOr<CallerPtr> Enter(const grpc::ServerContext& context, std::string_view path,
                                  int64_t now_us);
  // Whether the caller may ask this, in the branches that the request names; NOT_FOUND for a branch
  // that no settings ever had. An entry without an actor gets the caller's name.
  absl::Status Admit(const Caller& caller, std::string_view path,
                     google::protobuf::Message* request);
  // Tells the operator who was refused what; gives the status back.
  absl::Status TurnAway(std::string_view peer, std::string_view principal, std::string_view path,
                        absl::Status status);
  // Hides what the caller may not see, and keeps that the rest was read. A response that is `lent`
  // in part, from states that others read as well, is hidden in a copy that takes its place.
  void Screen(const Caller& caller, std::string_view path, const google::protobuf::Message& request,
              bool lent, google::protobuf::Message* response);
  // Whether an answer may name patients in its text, where Screen finds nothing; keeps the read
  // when it may.
  bool ShowsPatients(const Caller& caller, std::string_view path,
                     const google::protobuf::Message& request);
  // Keeps that the caller asked about what the request names.
  void KeepRead(const Caller& caller, std::string_view path,
                const google::protobuf::Message& request);
  // Whether a caller who was let in may stay: OK, or what to end a stream with. Rights that were
  // taken away end it too.
  absl::Status StillGood(const Caller& caller, std::string_view path, int64_t now_us);
  // Asks the store for what other processes changed; called once a second, on a worker.
  void Refresh();
  // A stream of the caller begins or ends; RESOURCE_EXHAUSTED when there are too many.
  absl::Status BeginStream(const Caller& caller);
  void EndStream(const Caller& caller);

  guard::Tokens& tokens() { return tokens_; }
  guard::Patients& patients() { return patients_; }
  guard::AccessRulesBook& rules() { return rules_; }

 private:
  // A caller as known lately: worked out again every second and when tokens, access rules or
  // settings have changed.
  struct Known {
    CallerPtr caller;
    std::shared_ptr<const v1::AccessRulesVersion> rules;
    std::shared_ptr<const depot::SettingsBook> book;
    int64_t since_us = 0;
  };
  using KnownCallers = std::map<std::string, Known, std::less<>>;

  absl::StatusOr<CallerPtr> Identify(const grpc::ServerContext& context, int64_t now_us);
  absl::StatusOr<CallerPtr> Unnamed(const grpc::ServerContext& context);
  absl::StatusOr<CallerPtr> ByToken(std::string_view text, const grpc::ServerContext& context,
                                    int64_t now_us);
  absl::StatusOr<CallerPtr> Lately(KnownCallers* known, const std::string& key, int64_t now_us,
                                   const std::function<void(Caller*)>& name);
  absl::StatusOr<CallerPtr> BreakGlass(const access::MethodRule& rule, const Caller& caller,
                                       std::string because, int64_t now_us);
  absl::Status AdmitCaller(const Caller& caller, std::string_view path,
                           google::protobuf::Message* request);
  absl::Status KnowBranchOf(const google::protobuf::Message& request);
  absl::Status AdmitActor(const Caller& caller, google::protobuf::Message* message);
  absl::Status AdmitEntry(const Caller& caller, v1::Entry* entry);
  absl::Status AdmitFact(const Caller& caller, const v1::Entry& entry, int index);
  absl::Status AdmitWork(const v1::Entry& entry, const v1::Fact& fact);
  ledger::Ledger& ledger_;
  const GateOptions options_;
  guard::Tokens tokens_;
  guard::Patients patients_;
  guard::AccessRulesBook rules_;
  Quota quota_;
  std::mutex mutex_;
  KnownCallers by_token_;        // by the token's id
  KnownCallers by_certificate_;  // by name
};

}  // namespace ferrule::service
