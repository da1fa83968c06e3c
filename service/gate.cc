#include "service/gate.h"

#include <algorithm>
#include <utility>
#include <vector>

#include "absl/strings/escaping.h"
#include "absl/strings/match.h"
#include "absl/strings/str_cat.h"
#include "absl/strings/str_join.h"
#include "core/access/competence.h"
#include "core/access/mask.h"
#include "core/depot/known.h"
#include "core/fact/subject.h"
#include "core/fact/utf8.h"
#include "core/time/civil.h"
#include "ferrule/v1/intake_service.pb.h"
#include "ferrule/v1/ledger_service.pb.h"
#include "service/branches.h"
#include "service/errors.h"
#include "service/limits.h"
#include "service/requests.h"

namespace ferrule::service {
namespace {

using access::Scope;
using google::protobuf::FieldDescriptor;
using google::protobuf::Message;

constexpr std::string_view kBearer = "Bearer ";
constexpr std::string_view kCertificateName = "ferrule:";
constexpr char kAuthorization[] = "authorization";
// How long a caller's rights are taken as they were worked out; a right's days begin and end so
// much late at most.
constexpr int64_t kLatelyUs = 1'000'000;
// Callers remembered at once; beyond, all are worked out again.
constexpr size_t kMostKnown = 10'000;
constexpr char kBreakGlass[] = "ferrule-break-glass";

std::string_view Header(const grpc::ServerContext& context, const char* name) {
  const auto found = context.client_metadata().find(name);
  if (found == context.client_metadata().end()) return {};
  return {found->second.data(), found->second.size()};
}

CallerPtr Unlimited(Caller::By by) {
  auto caller = std::make_shared<Caller>();
  caller->by = by;
  caller->rights = access::Rights::All();
  return caller;
}

// Made once: nobody is told apart by them.
const CallerPtr& Owner() {
  static const CallerPtr& caller = *new CallerPtr(Unlimited(Caller::By::kOwner));
  return caller;
}
const CallerPtr& Anybody() {
  static const CallerPtr& caller = *new CallerPtr(Unlimited(Caller::By::kOpen));
  return caller;
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
  if (branches.unknown) return false;
  if (branches.names.empty()) return branches.of_none && rights.HasAnywhere(right);
  for (const std::string& branch : branches.names) {
    if (!rights.Has(right, branch)) return false;
  }
  return true;
}

// Whether the method may be called at all, whatever is asked.
bool MayCall(const access::MethodRule& rule, const access::Rights& rights) {
  switch (rule.scope) {
    case Scope::kOpen:
    case Scope::kKnown:
      return true;
    case Scope::kFacts:
      return !rights.empty();
    case Scope::kDepot:
      return rights.HasEverywhere(rule.right);
    case Scope::kAnyBranch:
    case Scope::kRequested:
      return rights.HasAnywhere(rule.right);
  }
  return false;
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

// What was worked out lately, or anew. `name` fills in who it is.
absl::StatusOr<CallerPtr> Gate::Lately(KnownCallers* known, const std::string& key, int64_t now_us,
                                       const std::function<void(Caller*)>& name) {
  const auto rules = rules_.At(now_us);
  if (!rules.ok()) return rules.status();
  auto book = ledger_.Book();
  {
    const std::lock_guard lock(mutex_);
    const auto found = known->find(key);
    if (found != known->end() && found->second.rules == *rules && found->second.book == book &&
        now_us >= found->second.since_us && now_us - found->second.since_us < kLatelyUs) {
      return found->second.caller;
    }
  }
  auto caller = std::make_shared<Caller>();
  name(caller.get());
  if (*rules != nullptr && book != nullptr) {
    caller->rights = access::Rights((*rules)->rules(), book->At(now_us), caller->principal, now_us);
  }
  caller->sees_patients = caller->rights.HasAnywhere(v1::RIGHT_READ_PATIENTS);
  const std::lock_guard lock(mutex_);
  if (known->size() >= kMostKnown) known->clear();
  (*known)[key] = Known{caller, *rules, std::move(book), now_us};
  return caller;
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

absl::StatusOr<CallerPtr> Gate::ByToken(std::string_view text, const grpc::ServerContext& context,
                                        int64_t now_us) {
  const auto shown = tokens_.Check(text, now_us);
  if (!shown.ok()) return shown.status();
  if (shown->verdict == guard::Verdict::kUnknown) {
    const std::string peer = context.peer();
    if (absl::Status enough = quota_.TakeFailure(HostOf(peer), now_us); !enough.ok()) return enough;
    return errors::TokenUnknown();
  }
  const guard::Token& token = *shown->token;
  if (shown->verdict == guard::Verdict::kExpired) return errors::TokenExpired(token.id);
  if (shown->verdict == guard::Verdict::kRevoked) return errors::TokenRevoked(token.id);
  return Lately(&by_token_, token.id, now_us, [&token](Caller* caller) {
    caller->by = Caller::By::kToken;
    caller->principal = token.principal;
    caller->token_id = token.id;
    caller->expire_us = token.expire_us;
  });
}

// A caller who shows nothing: the file's owner, or anybody where nobody has to say who they are.
absl::StatusOr<CallerPtr> Gate::Unnamed(const grpc::ServerContext& context) {
  if (IsOwner(context.peer())) return Owner();
  if (options_.required) return errors::NotIdentified();
  const auto any = tokens_.any();
  if (!any.ok()) return any.status();
  if (*any) return errors::NotIdentified();
  return Anybody();
}

absl::StatusOr<CallerPtr> Gate::Identify(const grpc::ServerContext& context, int64_t now_us) {
  const std::string_view authorization = Header(context, kAuthorization);
  if (!authorization.empty()) {
    if (!authorization.starts_with(kBearer)) return errors::TokenUnknown();
    return ByToken(authorization.substr(kBearer.size()), context, now_us);
  }
  const std::string name = NameIn(context);
  if (name.empty()) return Unnamed(context);
  return Lately(&by_certificate_, name, now_us, [&name](Caller* caller) {
    caller->by = Caller::By::kCertificate;
    caller->principal = name;
  });
}

// In an emergency somebody reads what the role does not allow: never without a reason, never
// without a trace, and nothing but reading.
absl::StatusOr<CallerPtr> Gate::BreakGlass(const access::MethodRule& rule, const Caller& caller,
                                           std::string because, int64_t now_us) {
  if (!caller.rights.HasAnywhere(v1::RIGHT_BREAK_GLASS) || !access::IsReading(rule.right)) {
    return errors::NotAllowed(caller.principal, v1::RIGHT_BREAK_GLASS);
  }
  if (because.size() < kLeastReason || because.size() > kMostReason) {
    return errors::FieldInvalid(
        kBreakGlass, absl::StrCat("holds ", because.size(), " characters; say in ", kLeastReason,
                                  " to ", kMostReason, " why it cannot wait"));
  }
  if (!fact::IsUtf8(because) || HasControl(because)) {
    return errors::FieldInvalid(kBreakGlass, "holds control characters; give plain text");
  }
  const guard::Read read{now_us, caller.principal, std::string(rule.path), "", because};
  if (absl::Status kept = patients_.Note(read); !kept.ok()) return kept;
  if (options_.log) {
    options_.log(absl::StrCat("ALARM: ", caller.principal, " broke the glass in ",
                              std::string(rule.path), ": ", absl::CEscape(because)));
  }
  auto broken = std::make_shared<Caller>(caller);
  broken->because = std::move(because);
  broken->sees_patients = true;
  return broken;
}

absl::StatusOr<CallerPtr> Gate::Enter(const grpc::ServerContext& context, std::string_view path,
                                      int64_t now_us) {
  const access::MethodRule* rule = access::RuleOf(path);
  if (rule == nullptr) return errors::MethodNotListed(path);
  if (rule->scope == Scope::kOpen) return Anybody();
  absl::StatusOr<CallerPtr> known = Identify(context, now_us);
  if (!known.ok()) return TurnAway(context.peer(), "", path, known.status());
  const Caller& caller = **known;
  if (!caller.limited()) return known;
  if (absl::Status enough = quota_.TakeCall(caller.principal, now_us); !enough.ok()) return enough;
  if (const std::string_view because = Header(context, kBreakGlass); !because.empty()) {
    auto broken = BreakGlass(*rule, caller, std::string(because), now_us);
    if (broken.ok()) return broken;
    return TurnAway(context.peer(), caller.principal, path, broken.status());
  }
  if (MayCall(*rule, caller.rights)) return known;
  return TurnAway(context.peer(), caller.principal, path,
                  errors::NotAllowed(caller.principal, rule->right));
}

absl::Status Gate::AdmitFact(const Caller& caller, const v1::Entry& entry, int index) {
  const v1::Fact& fact = entry.facts(index);
  const v1::Right right = access::RightFor(fact.what_case());
  if (right == v1::RIGHT_UNSPECIFIED) return absl::OkStatus();  // malformed: the ledger says so
  if (!caller.rights.HasEverywhere(right)) {
    const Branches branches = BranchesOf(ledger_, fact);
    // Settings are the whole depot's; a fact of no branch, for instance about a test instrument,
    // may be recorded by whoever may record its like somewhere.
    const bool may = right != v1::RIGHT_RECORD_SETTINGS && branches.names.empty()
                         ? caller.rights.HasAnywhere(right)
                         : MayIn(caller.rights, right, branches);
    if (!may) {
      return errors::NotAllowed(caller.principal, right);
    }
  }
  if (!fact.overrides().empty() && !caller.rights.HasAnywhere(v1::RIGHT_OVERRIDE)) {
    return errors::NotAllowed(caller.principal, v1::RIGHT_OVERRIDE);
  }
  return AdmitWork(entry, fact);
}

// Whether whoever did the work was able to, on the day of the work and by the rules of now: what
// was entered since then counts.
absl::Status Gate::AdmitWork(const v1::Entry& entry, const v1::Fact& fact) {
  const auto version = rules_.At(ledger_.clock().NowMicros());
  if (!version.ok()) return version.status();
  if (*version == nullptr || (*version)->rules().competence_for().empty()) return absl::OkStatus();
  const auto book = ledger_.Book();
  if (book == nullptr) return absl::OkStatus();  // nothing but settings can be recorded yet
  const auto us = InstantOf("happened_time", fact.happened_time());
  if (!us.ok()) return us.status();
  const depot::Rules& places = book->At(*us);
  const Branches branches = BranchesOf(ledger_, fact);
  const std::string branch = !branches.names.empty() ? *branches.names.begin()
                             : places.settings().branches().empty()
                                 ? std::string()
                                 : places.settings().branches(0).id();
  const absl::CivilDay day = time::LocalDay(*us, places.ZoneOf(branch));
  const std::string& person = entry.actor();
  if (access::MayHaveDone((*version)->rules(), person, access::KindOf(fact), day)) {
    return absl::OkStatus();
  }
  return errors::NotCompetent(person, access::KindOf(fact), time::FormatDay(day));
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
  absl::Status may = AdmitCaller(caller, path, request);
  if (!may.ok()) return may;
  return KnowBranchOf(*request);
}

// A misspelt branch would get an answer with nothing in it.
absl::Status Gate::KnowBranchOf(const Message& request) {
  const FieldDescriptor* field = request.GetDescriptor()->FindFieldByName("branch");
  if (field == nullptr || field->is_repeated() ||
      field->cpp_type() != FieldDescriptor::CPPTYPE_STRING) {
    return absl::OkStatus();
  }
  const std::string branch = request.GetReflection()->GetString(request, field);
  return branch.empty() ? absl::OkStatus() : depot::KnowBranchEver(*ledger_.Book(), branch);
}

absl::Status Gate::AdmitCaller(const Caller& caller, std::string_view path, Message* request) {
  if (!caller.limited()) return absl::OkStatus();
  const access::MethodRule* rule = access::RuleOf(path);
  if (rule == nullptr) return errors::MethodNotListed(path);
  if (rule->scope == Scope::kFacts) {
    if (auto* record = dynamic_cast<v1::RecordRequest*>(request)) {
      return AdmitEntry(caller, record->mutable_entry());
    }
    auto* batch = dynamic_cast<v1::RecordBatchRequest*>(request);
    if (batch == nullptr) return errors::MethodNotListed(path);  // of facts that nobody looks at
    for (v1::Entry& entry : *batch->mutable_entries()) {
      if (absl::Status may = AdmitEntry(caller, &entry); !may.ok()) return may;
    }
    return absl::OkStatus();
  }
  if (absl::Status named = AdmitActor(caller, request); !named.ok()) return named;
  if (rule->scope != Scope::kRequested || !caller.because.empty()) return absl::OkStatus();
  if (caller.rights.HasEverywhere(rule->right)) return absl::OkStatus();
  const Branches branches = BranchesOf(ledger_, *request);
  if (MayIn(caller.rights, rule->right, branches)) return absl::OkStatus();
  return errors::NotAllowed(caller.principal, rule->right);
}

void Gate::Screen(const Caller& caller, std::string_view path, const Message& request, bool lent,
                  Message* response) {
  if (!caller.limited()) return;
  auto* message = response->GetDescriptor() == v1::GetMessageResponse::descriptor()
                      ? static_cast<v1::GetMessageResponse*>(response)
                      : nullptr;
  const bool content = message != nullptr && !message->message().content().empty();
  if (!content && access::CountPatients(*response) == 0) return;
  if (!SeesPatients(ledger_, caller, request)) {
    if (lent) {
      Message* own = response->New(response->GetArena());
      own->CopyFrom(*response);
      response->GetReflection()->Swap(response, own);
    }
    access::MaskPatients(response);
    if (content) message->mutable_message()->clear_content();
    return;
  }
  // What GetPatient gives is kept by the method itself, before it answers.
  if (!path.ends_with("/GetPatient")) KeepRead(caller, path, request);
}

void Gate::KeepRead(const Caller& caller, std::string_view path, const Message& request) {
  patients_.NoteLater({ledger_.clock().NowMicros(), caller.principal, std::string(path),
                       ResourceOf(request), caller.because});
}

bool Gate::ShowsPatients(const Caller& caller, std::string_view path, const Message& request) {
  if (!caller.limited()) return true;
  if (!SeesPatients(ledger_, caller, request)) return false;
  KeepRead(caller, path, request);
  return true;
}

absl::Status Gate::StillGood(const Caller& caller, std::string_view path, int64_t now_us) {
  if (!caller.limited()) return absl::OkStatus();
  if (caller.by == Caller::By::kToken) {
    const auto verdict = tokens_.Still(caller.token_id, now_us);
    // A store that is away for a moment ends no stream.
    if (!verdict.ok()) return absl::OkStatus();
    if (*verdict == guard::Verdict::kExpired) return errors::TokenExpired(caller.token_id);
    if (*verdict != guard::Verdict::kGood) return errors::TokenRevoked(caller.token_id);
  }
  const bool token = caller.by == Caller::By::kToken;
  const auto now =
      Lately(token ? &by_token_ : &by_certificate_, token ? caller.token_id : caller.principal,
             now_us, [&caller](Caller* again) {
               again->by = caller.by;
               again->principal = caller.principal;
               again->token_id = caller.token_id;
               again->expire_us = caller.expire_us;
             });
  if (!now.ok() || !caller.because.empty()) return absl::OkStatus();
  const access::MethodRule* rule = access::RuleOf(path);
  const bool may = rule != nullptr && MayCall(*rule, (*now)->rights) &&
                   (*now)->rights.HasEverywhere(v1::RIGHT_READ_PATIENTS) >=
                       caller.rights.HasEverywhere(v1::RIGHT_READ_PATIENTS);
  if (may) return absl::OkStatus();
  return errors::NotAllowed(caller.principal,
                            rule == nullptr ? v1::RIGHT_UNSPECIFIED : rule->right);
}

void Gate::Refresh() {
  if (ledger_.engine().starts_with("sqlite")) return;  // no other process changes anything
  // What cannot be asked for stays as it was; tokens_ knows how long that may do.
  (void)tokens_.Refresh();
  (void)rules_.Refresh();
}

absl::Status Gate::BeginStream(const Caller& caller) {
  return caller.limited() ? quota_.BeginStream(caller.principal) : absl::OkStatus();
}

void Gate::EndStream(const Caller& caller) {
  if (caller.limited()) quota_.EndStream(caller.principal);
}

}  // namespace ferrule::service
