#include "service/gate.h"

#include <algorithm>
#include <utility>
#include <vector>

#include "absl/strings/escaping.h"
#include "absl/strings/match.h"
#include "absl/strings/str_cat.h"
#include "absl/strings/str_join.h"
#include "core/access/mask.h"
#include "core/fact/subject.h"
#include "core/fact/utf8.h"
#include "ferrule/v1/intake_service.pb.h"
#include "ferrule/v1/ledger_service.pb.h"
#include "service/branches.h"
#include "service/errors.h"
#include "service/limits.h"

namespace ferrule::service {
namespace {

using access::Scope;
using google::protobuf::FieldDescriptor;
using google::protobuf::Message;

constexpr std::string_view kBearer = "Bearer ";
constexpr std::string_view kCertificateName = "ferrule:";
constexpr char kAuthorization[] = "authorization";
constexpr char kBreakGlass[] = "ferrule-break-glass";

std::string Header(const grpc::ServerContext& context, const char* name) {
  const auto found = context.client_metadata().find(name);
  return found == context.client_metadata().end()
             ? std::string()
             : std::string(found->second.data(), found->second.size());
}

// The depot's own socket and calls in process are the owner's: the one is for the file's owner
// alone, the other has no peer at all.
bool IsOwner(std::string_view peer) {
  return peer.starts_with("unix:") || peer == "unknown" || peer == "inproc";
}

// "ipv4:192.0.2.7" of "ipv4:192.0.2.7:4711": one caller may use many ports.
std::string_view HostOf(std::string_view peer) { return peer.substr(0, peer.rfind(':')); }

// The name in a certificate that was checked: a URI "ferrule:NAME", else the common name.
std::string NameIn(const grpc::ServerContext& context) {
  const auto checked = context.auth_context();
  if (checked == nullptr || !checked->IsPeerAuthenticated()) return "";
  for (const grpc::string_ref& name :
       checked->FindPropertyValues("x509_subject_alternative_name")) {
    const std::string_view text(name.data(), name.size());
    if (!text.starts_with(kCertificateName)) continue;
    const std::string_view id = text.substr(kCertificateName.size());
    if (fact::IsValidId(id)) return std::string(id);
  }
  for (const grpc::string_ref& name : checked->FindPropertyValues("x509_common_name")) {
    const std::string_view text(name.data(), name.size());
    if (fact::IsValidId(text)) return std::string(text);
  }
  return "";
}

bool HasControl(std::string_view text) {
  return std::any_of(text.begin(), text.end(),
                     [](char c) { return static_cast<unsigned char>(c) < 0x20 || c == 0x7F; });
}

// What a request is about, for the log of reads: the names that it gives, never what it asks for.
std::string ResourceOf(const Message& request) {
  std::vector<std::string> parts;
  for (const char* name : {"name", "subject", "patient", "order", "unit", "holder", "branch"}) {
    const FieldDescriptor* field = request.GetDescriptor()->FindFieldByName(name);
    if (field == nullptr || field->is_repeated() ||
        field->cpp_type() != FieldDescriptor::CPPTYPE_STRING) {
      continue;
    }
    const std::string value = request.GetReflection()->GetString(request, field);
    if (value.empty()) continue;
    parts.push_back(absl::StrContains(value, '/') ? value : absl::StrCat(name, "s/", value));
  }
  return absl::StrJoin(parts, " ");
}

bool MayIn(const access::Rights& rights, v1::Right right, const Branches& branches) {
  if (rights.HasEverywhere(right)) return true;
  if (branches.unknown || branches.names.empty()) return false;
  for (const std::string& branch : branches.names) {
    if (!rights.Has(right, branch)) return false;
  }
  return true;
}

bool SeesPatients(ledger::Ledger& ledger, const Caller& caller, const Message& request) {
  if (!caller.sees_patients) return false;
  if (!caller.limited() || !caller.because.empty()) return true;
  if (caller.rights.HasEverywhere(v1::RIGHT_READ_PATIENTS)) return true;
  return MayIn(caller.rights, v1::RIGHT_READ_PATIENTS, BranchesOf(ledger, request));
}

}  // namespace

Gate::Gate(ledger::Ledger* ledger, GateOptions options)
    : ledger_(*ledger),
      options_(std::move(options)),
      tokens_(ledger),
      patients_(ledger),
      rules_(ledger) {}

absl::StatusOr<access::Rights> Gate::RightsNow(std::string_view principal, int64_t now_us) {
  const auto version = rules_.At(now_us);
  if (!version.ok()) return version.status();
  const auto book = ledger_.Book();
  if (*version == nullptr || book == nullptr) return access::Rights();
  return access::Rights((*version)->rules(), book->At(now_us), principal, now_us);
}

// One line for whoever looks after the server; what a caller sent is escaped, so that one line
// stays one line, and no token is ever written.
absl::Status Gate::TurnAway(std::string_view peer, std::string_view principal,
                            std::string_view path, absl::Status status) {
  if (options_.log) {
    options_.log(absl::StrCat("turned away ", principal.empty() ? "a caller" : "",
                              absl::CEscape(std::string(principal)), " from ",
                              absl::CEscape(std::string(HostOf(peer))), " in ", std::string(path),
                              ": ", absl::StatusCodeToString(status.code())));
  }
  return status;
}

absl::StatusOr<std::shared_ptr<Caller>> Gate::ByToken(std::string_view text, std::string_view peer,
                                                      int64_t now_us) {
  const auto shown = tokens_.Check(text, now_us);
  if (!shown.ok()) return shown.status();
  if (shown->verdict == guard::Verdict::kUnknown) {
    if (absl::Status enough = quota_.TakeFailure(HostOf(peer), now_us); !enough.ok()) return enough;
    return errors::TokenUnknown();
  }
  if (shown->verdict == guard::Verdict::kExpired) return errors::TokenExpired(shown->token.id);
  if (shown->verdict == guard::Verdict::kRevoked) return errors::TokenRevoked(shown->token.id);
  auto caller = std::make_shared<Caller>();
  caller->by = Caller::By::kToken;
  caller->principal = shown->token.principal;
  caller->token_id = shown->token.id;
  caller->expire_us = shown->token.expire_us;
  return caller;
}

absl::StatusOr<std::shared_ptr<Caller>> Gate::Identify(const grpc::ServerContext& context,
                                                       int64_t now_us) {
  const std::string peer = context.peer();
  const std::string authorization = Header(context, kAuthorization);
  std::shared_ptr<Caller> caller;
  if (!authorization.empty()) {
    if (!absl::StartsWith(authorization, "Bearer ")) return errors::TokenUnknown();
    auto known = ByToken(std::string_view(authorization).substr(kBearer.size()), peer, now_us);
    if (!known.ok()) return known.status();
    caller = *std::move(known);
  } else if (std::string name = NameIn(context); !name.empty()) {
    caller = std::make_shared<Caller>();
    caller->by = Caller::By::kCertificate;
    caller->principal = std::move(name);
  } else {
    caller = std::make_shared<Caller>();
    caller->by = Caller::By::kOpen;
    if (IsOwner(peer)) {
      caller->by = Caller::By::kOwner;
    } else if (options_.required) {
      return errors::NotIdentified();
    } else {
      const auto any = tokens_.any();
      if (!any.ok()) return any.status();
      if (*any) return errors::NotIdentified();
    }
    caller->rights = access::Rights::All();
    return caller;
  }
  auto rights = RightsNow(caller->principal, now_us);
  if (!rights.ok()) return rights.status();
  caller->rights = *std::move(rights);
  caller->sees_patients = caller->rights.HasAnywhere(v1::RIGHT_READ_PATIENTS);
  return caller;
}

// In an emergency somebody reads what the role does not allow: never without a reason, never
// without a trace, and nothing but reading.
absl::Status Gate::BreakGlass(const access::MethodRule& rule, std::string_view path, int64_t now_us,
                              Caller* caller) {
  if (!caller->rights.HasAnywhere(v1::RIGHT_BREAK_GLASS) || !access::IsReading(rule.right)) {
    return errors::NotAllowed(caller->principal, v1::RIGHT_BREAK_GLASS, "");
  }
  if (caller->because.size() < kLeastReason || caller->because.size() > kMostReason) {
    return errors::FieldInvalid(
        kBreakGlass, absl::StrCat("holds ", caller->because.size(), " characters; say in ",
                                  kLeastReason, " to ", kMostReason, " why it cannot wait"));
  }
  if (!fact::IsUtf8(caller->because) || HasControl(caller->because)) {
    return errors::FieldInvalid(kBreakGlass, "holds control characters; give plain text");
  }
  guard::Read read{now_us, caller->principal, std::string(path), "", caller->because};
  if (absl::Status kept = patients_.Note(read); !kept.ok()) return kept;
  if (options_.log) {
    options_.log(absl::StrCat("ALARM: ", caller->principal, " broke the glass in ",
                              std::string(path), ": ", absl::CEscape(caller->because)));
  }
  caller->sees_patients = true;
  return absl::OkStatus();
}

absl::StatusOr<CallerPtr> Gate::Enter(const grpc::ServerContext& context, std::string_view path,
                                      int64_t now_us) {
  const access::MethodRule* rule = access::RuleOf(path);
  if (rule == nullptr) return errors::MethodNotListed(path);
  if (rule->scope == Scope::kOpen) return std::make_shared<const Caller>();
  auto known = Identify(context, now_us);
  if (!known.ok()) return TurnAway(context.peer(), "", path, known.status());
  Caller& caller = **known;
  if (!caller.limited()) return CallerPtr(*std::move(known));
  if (absl::Status enough = quota_.TakeCall(caller.principal, now_us); !enough.ok()) return enough;
  caller.because = Header(context, kBreakGlass);
  if (!caller.because.empty()) {
    absl::Status broken = BreakGlass(*rule, path, now_us, &caller);
    if (!broken.ok()) return TurnAway(context.peer(), caller.principal, path, broken);
    return CallerPtr(*std::move(known));
  }
  const bool may = rule->scope == Scope::kKnown ||
                   (rule->scope == Scope::kFacts
                        ? !caller.rights.empty()
                        : (rule->scope == Scope::kDepot ? caller.rights.HasEverywhere(rule->right)
                                                        : caller.rights.HasAnywhere(rule->right)));
  if (!may) {
    return TurnAway(context.peer(), caller.principal, path,
                    errors::NotAllowed(caller.principal, rule->right, ""));
  }
  return CallerPtr(*std::move(known));
}

absl::Status Gate::AdmitFact(const Caller& caller, const v1::Entry& entry, int index) {
  const v1::Fact& fact = entry.facts(index);
  const v1::Right right = access::RightFor(fact.what_case());
  if (right == v1::RIGHT_UNSPECIFIED) return absl::OkStatus();  // malformed: the ledger says so
  const Branches branches = BranchesOf(ledger_, fact);
  // Settings are the whole depot's; a fact of no branch, for instance about a test instrument, may
  // be recorded by whoever may record its like somewhere.
  const bool may = right != v1::RIGHT_RECORD_SETTINGS && branches.names.empty()
                       ? caller.rights.HasAnywhere(right)
                       : MayIn(caller.rights, right, branches);
  if (!may) return errors::NotAllowed(caller.principal, right, absl::StrJoin(branches.names, ", "));
  if (!fact.overrides().empty() && !caller.rights.HasAnywhere(v1::RIGHT_OVERRIDE)) {
    return errors::NotAllowed(caller.principal, v1::RIGHT_OVERRIDE, "");
  }
  return absl::OkStatus();
}

absl::Status Gate::AdmitEntry(const Caller& caller, v1::Entry* entry) {
  if (absl::Status named = AdmitActor(caller, entry); !named.ok()) return named;
  for (int i = 0; i < entry->facts_size(); ++i) {
    if (absl::Status may = AdmitFact(caller, *entry, i); !may.ok()) return may;
  }
  return absl::OkStatus();
}

// Who reports is who was let in, save for stations and systems that report for others.
absl::Status Gate::AdmitActor(const Caller& caller, Message* message) {
  const FieldDescriptor* field = message->GetDescriptor()->FindFieldByName("actor");
  if (field == nullptr) return absl::OkStatus();
  const std::string actor = message->GetReflection()->GetString(*message, field);
  if (actor.empty()) {
    message->GetReflection()->SetString(message, field, caller.principal);
    return absl::OkStatus();
  }
  if (actor == caller.principal || caller.rights.HasAnywhere(v1::RIGHT_REPORT_FOR_OTHERS)) {
    return absl::OkStatus();
  }
  return errors::ActorNotCaller(actor, caller.principal);
}

absl::Status Gate::Admit(const Caller& caller, std::string_view path, Message* request) {
  if (!caller.limited()) return absl::OkStatus();
  if (auto* record = dynamic_cast<v1::RecordRequest*>(request)) {
    return AdmitEntry(caller, record->mutable_entry());
  }
  if (auto* batch = dynamic_cast<v1::RecordBatchRequest*>(request)) {
    for (v1::Entry& entry : *batch->mutable_entries()) {
      if (absl::Status may = AdmitEntry(caller, &entry); !may.ok()) return may;
    }
    return absl::OkStatus();
  }
  const access::MethodRule* rule = access::RuleOf(path);
  if (rule == nullptr) return errors::MethodNotListed(path);
  if (absl::Status named = AdmitActor(caller, request); !named.ok()) return named;
  if (rule->scope != Scope::kRequested || !caller.because.empty()) return absl::OkStatus();
  if (caller.rights.HasEverywhere(rule->right)) return absl::OkStatus();
  const Branches branches = BranchesOf(ledger_, *request);
  if (MayIn(caller.rights, rule->right, branches)) return absl::OkStatus();
  return errors::NotAllowed(caller.principal, rule->right, absl::StrJoin(branches.names, ", "));
}

void Gate::Screen(const Caller& caller, std::string_view path, const Message& request,
                  Message* response) {
  if (!caller.limited()) return;
  auto* message = dynamic_cast<v1::GetMessageResponse*>(response);
  const bool content = message != nullptr && !message->message().content().empty();
  if (!content && access::CountPatients(*response) == 0) return;
  if (!SeesPatients(ledger_, caller, request)) {
    access::MaskPatients(response);
    if (content) message->mutable_message()->clear_content();
    return;
  }
  // What GetPatient gives is kept by the method itself, before it answers.
  if (path.ends_with("/GetPatient")) return;
  patients_.NoteLater({ledger_.clock().NowMicros(), caller.principal, std::string(path),
                       ResourceOf(request), caller.because});
}

absl::Status Gate::StillGood(const Caller& caller, int64_t now_us) {
  if (caller.by != Caller::By::kToken) return absl::OkStatus();
  const auto verdict = tokens_.Still(caller.token_id, now_us);
  // A store that is away for a moment ends no stream.
  if (!verdict.ok() || *verdict == guard::Verdict::kGood) return absl::OkStatus();
  return *verdict == guard::Verdict::kExpired ? errors::TokenExpired(caller.token_id)
                                              : errors::TokenRevoked(caller.token_id);
}

absl::Status Gate::BeginStream(const Caller& caller) {
  return caller.limited() ? quota_.BeginStream(caller.principal) : absl::OkStatus();
}

void Gate::EndStream(const Caller& caller) {
  if (caller.limited()) quota_.EndStream(caller.principal);
}

}  // namespace ferrule::service
