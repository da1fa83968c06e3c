#include "service/access_methods.h"

#include <string>
#include <utility>

#include "absl/strings/numbers.h"
#include "absl/strings/str_cat.h"
#include "core/access/mask.h"
#include "core/access/rules_check.h"
#include "core/fact/subject.h"
#include "core/fact/utf8.h"
#include "core/time/civil.h"
#include "core/trace/records_due.h"
#include "ferrule/v1/access_service.pb.h"
#include "service/errors.h"
#include "service/limits.h"
#include "service/method.h"
#include "service/page_token.h"
#include "service/requests.h"

namespace ferrule::service {
namespace {

constexpr size_t kLongestText = 200;
constexpr char kPatients[] = "patients/";

std::string Access(const char* method) {
  return absl::StrCat("/ferrule.v1.AccessService/", method);
}
std::string Patient(const char* method) {
  return absl::StrCat("/ferrule.v1.PatientService/", method);
}

absl::Status CheckId(const char* field, const std::string& id) {
  if (fact::IsValidId(id)) return absl::OkStatus();
  return errors::FieldInvalid(field, absl::StrCat("is \"", id,
                                                  "\"; give 1 to 64 letters, digits, dots, "
                                                  "underscores or hyphens"));
}

absl::Status CheckText(const std::string& field, const std::string& text, bool needed) {
  if (needed && text.empty()) return errors::FieldInvalid(field, "is missing");
  if (text.size() > kLongestText) {
    return errors::FieldInvalid(
        field, absl::StrCat("has ", text.size(), " bytes; give at most ", kLongestText));
  }
  for (const char c : text) {
    if (static_cast<unsigned char>(c) >= 0x20 && c != 0x7F) continue;
    return errors::FieldInvalid(field, "holds a control character; give plain text");
  }
  return fact::IsUtf8(text) ? absl::OkStatus() : errors::FieldInvalid(field, "is not UTF-8");
}

v1::TokenInfo InfoOf(const guard::Token& token) {
  v1::TokenInfo info;
  info.set_id(token.id);
  info.set_principal(token.principal);
  time::SetMicros(token.create_us, info.mutable_create_time());
  time::SetMicros(token.expire_us, info.mutable_expire_time());
  if (token.revoke_us != 0) time::SetMicros(token.revoke_us, info.mutable_revoke_time());
  info.set_note(token.note);
  info.set_issuer(token.issuer);
  return info;
}

const char* WordOf(Caller::By by) {
  switch (by) {
    case Caller::By::kOpen:
      return "open";
    case Caller::By::kOwner:
      return "owner";
    case Caller::By::kToken:
      return "token";
    case Caller::By::kCertificate:
      return "certificate";
  }
  return "";
}

Method GetCaller() {
  return Unary<v1::GetCallerRequest, v1::GetCallerResponse>(
      Access("GetCaller"), RunsOn::kLane,
      [](CallContext& context, const v1::GetCallerRequest&, v1::GetCallerResponse* response) {
        if (context.caller == nullptr) return absl::OkStatus();
        const Caller& caller = *context.caller;
        response->set_principal(caller.principal);
        response->set_by(WordOf(caller.by));
        for (const auto& [branch, rights] : caller.rights.by_branch()) {
          v1::BranchRights* in = response->add_rights();
          in->set_branch(branch);
          for (const v1::Right right : rights) in->add_rights(right);
        }
        if (caller.expire_us != 0) {
          time::SetMicros(caller.expire_us, response->mutable_expire_time());
        }
        return absl::OkStatus();
      });
}

absl::Status CheckLife(int64_t expire_us, int64_t now_us) {
  if (expire_us <= now_us) {
    return errors::FieldInvalid("expire_time", "has passed; give a later one");
  }
  if (expire_us - now_us > guard::kMostTokenLifeUs) {
    return errors::FieldInvalid("expire_time",
                                "is more than 400 days from now; give an earlier "
                                "one, and issue a new token in time");
  }
  return absl::OkStatus();
}

Method IssueToken(Gate* gate) {
  return Unary<v1::IssueTokenRequest, v1::IssueTokenResponse>(
      Access("IssueToken"), RunsOn::kPool,
      [gate](CallContext& context, const v1::IssueTokenRequest& request,
             v1::IssueTokenResponse* response) -> absl::Status {
        absl::Status good = CheckId("principal", request.principal());
        if (good.ok()) good = CheckText("note", request.note(), false);
        if (good.ok() && !request.has_expire_time()) {
          good = errors::FieldInvalid("expire_time", "is missing; every token ends");
        }
        if (!good.ok()) return good;
        const auto expire_us = InstantOf("expire_time", request.expire_time());
        if (!expire_us.ok()) return expire_us.status();
        if (good = CheckLife(*expire_us, context.now_us); !good.ok()) return good;
        guard::Token wanted;
        wanted.principal = request.principal();
        wanted.expire_us = *expire_us;
        wanted.note = request.note();
        wanted.issuer = context.principal;
        auto issued = gate->tokens().Issue(wanted, context.now_us);
        if (!issued.ok()) return issued.status();
        response->set_token(issued->text);
        *response->mutable_info() = InfoOf(issued->token);
        return absl::OkStatus();
      });
}

Method RevokeToken(Gate* gate) {
  return Unary<v1::RevokeTokenRequest, v1::RevokeTokenResponse>(
      Access("RevokeToken"), RunsOn::kPool,
      [gate](CallContext& context, const v1::RevokeTokenRequest& request,
             v1::RevokeTokenResponse* response) -> absl::Status {
        if (absl::Status good = CheckId("id", request.id()); !good.ok()) return good;
        const auto token = gate->tokens().Revoke(request.id(), context.now_us);
        if (!token.ok()) return token.status();
        *response->mutable_info() = InfoOf(*token);
        return absl::OkStatus();
      });
}

absl::Status Check(ledger::Ledger& ledger, const v1::AccessRules& rules, int64_t from_us) {
  static const v1::Settings kNone;
  const auto book = ledger.Book();
  const v1::Settings& settings = book == nullptr ? kNone : book->At(from_us).settings();
  const auto wrong = access::CheckRules(rules, settings);
  if (wrong.empty()) return absl::OkStatus();
  std::string all;
  for (size_t i = 0; i < wrong.size() && i < static_cast<size_t>(kMaxViolations); ++i) {
    absl::StrAppend(&all, i > 0 ? "; " : "", wrong[i].field, ": ", wrong[i].message);
  }
  return errors::FieldInvalid("rules", all);
}

Method PutAccessRules(Gate* gate, ledger::Ledger* ledger) {
  return Unary<v1::PutAccessRulesRequest, v1::PutAccessRulesResponse>(
      Access("PutAccessRules"), RunsOn::kPool,
      [gate, ledger](CallContext& context, const v1::PutAccessRulesRequest& request,
                     v1::PutAccessRulesResponse* response) -> absl::Status {
        int64_t from_us = context.now_us;
        if (request.has_from_time()) {
          const auto given = InstantOf("from_time", request.from_time());
          if (!given.ok()) return given.status();
          from_us = *given;
        }
        if (from_us < context.now_us) {
          return errors::FieldInvalid("from_time",
                                      "has passed; what was allowed then was decided then. Leave "
                                      "it out for now, or give a later one");
        }
        if (absl::Status good = Check(*ledger, request.rules(), from_us); !good.ok()) return good;
        v1::AccessRulesVersion* version = response->mutable_version();
        *version->mutable_rules() = request.rules();
        time::SetMicros(from_us, version->mutable_from_time());
        time::SetMicros(context.now_us, version->mutable_put_time());
        version->set_principal(context.principal);
        return request.validate_only() ? absl::OkStatus() : gate->rules().Put(*version);
      });
}

Method GetAccessRules(Gate* gate) {
  return Unary<v1::GetAccessRulesRequest, v1::GetAccessRulesResponse>(
      Access("GetAccessRules"), RunsOn::kPool,
      [gate](CallContext& context, const v1::GetAccessRulesRequest& request,
             v1::GetAccessRulesResponse* response) -> absl::Status {
        int64_t at_us = context.now_us;
        if (request.has_at_time()) {
          const auto given = InstantOf("at_time", request.at_time());
          if (!given.ok()) return given.status();
          at_us = *given;
        }
        const auto version = gate->rules().At(at_us);
        if (!version.ok()) return version.status();
        if (*version != nullptr) *response->mutable_version() = **version;
        return absl::OkStatus();
      });
}

// The key that a page token holds: how many rows came before. 0 for the first page.
absl::StatusOr<int64_t> CountBefore(const std::string& token,
                                    const google::protobuf::MessageLite& arguments) {
  const auto key = ReadPageToken(token, arguments);
  if (!key.ok()) return key.status();
  int64_t count = 0;
  if (!key->empty() && !absl::SimpleAtoi(*key, &count)) return errors::PageTokenMismatch();
  return count;
}

Method ListTokens(Gate* gate) {
  return Unary<v1::ListTokensRequest, v1::ListTokensResponse>(
      Access("ListTokens"), RunsOn::kPool,
      [gate](CallContext&, const v1::ListTokensRequest& request,
             v1::ListTokensResponse* response) -> absl::Status {
        v1::ListTokensRequest arguments = request;
        arguments.clear_page_token();
        arguments.clear_page_size();
        const auto size = PageSize(request.page_size(), kDefaultPageSize);
        const auto before = CountBefore(request.page_token(), arguments);
        if (!size.ok()) return size.status();
        if (!before.ok()) return before.status();
        const auto all = gate->tokens().All();
        if (!all.ok()) return all.status();
        int64_t seen = 0;
        for (const guard::Token& token : *all) {
          if (!request.principal().empty() && token.principal != request.principal()) continue;
          if (seen++ < *before) continue;
          if (response->tokens_size() == *size) {
            response->set_next_page_token(MakePageToken(absl::StrCat(*before + *size), arguments));
            break;
          }
          *response->add_tokens() = InfoOf(token);
        }
        return absl::OkStatus();
      });
}

Method ListReads(Gate* gate) {
  return Unary<v1::ListReadsRequest, v1::ListReadsResponse>(
      Access("ListReads"), RunsOn::kPool,
      [gate](CallContext& context, const v1::ListReadsRequest& request,
             v1::ListReadsResponse* response) -> absl::Status {
        v1::ListReadsRequest arguments = request;
        arguments.clear_page_token();
        arguments.clear_page_size();
        const auto size = PageSize(request.page_size(), kDefaultPageSize);
        const auto after = CountBefore(request.page_token(), arguments);
        if (!size.ok()) return size.status();
        if (!after.ok()) return after.status();
        auto reads =
            gate->patients().Reads(*after, request.principal(), request.resource(), *size + 1);
        if (!reads.ok()) return reads.status();
        const bool more = static_cast<int>(reads->size()) > *size;
        if (more) reads->pop_back();
        const bool shown = context.caller == nullptr || !context.caller->limited() ||
                           context.caller->rights.HasEverywhere(v1::RIGHT_READ_PATIENTS);
        for (v1::ReadRecord& read : *reads) {
          if (!shown && read.resource().starts_with(kPatients)) {
            read.set_resource(std::string(kPatients) + std::string(access::kMasked));
          }
          *response->add_reads() = std::move(read);
        }
        if (more) {
          response->set_next_page_token(
              MakePageToken(absl::StrCat(response->reads(*size - 1).number()), arguments));
        }
        return absl::OkStatus();
      });
}

guard::Read ReadOf(const CallContext& context, const char* method, const std::string& reference,
                   std::string because) {
  if (context.caller != nullptr && !context.caller->because.empty()) {
    because = context.caller->because;
  }
  return {context.now_us, context.principal, Patient(method), kPatients + reference,
          std::move(because)};
}

Method PutPatient(Gate* gate) {
  return Unary<v1::PutPatientRequest, v1::PutPatientResponse>(
      Patient("PutPatient"), RunsOn::kPool,
      [gate](CallContext& context, const v1::PutPatientRequest& request,
             v1::PutPatientResponse* response) -> absl::Status {
        const v1::PatientParticulars& p = request.particulars();
        absl::Status good = CheckId("particulars.patient", p.patient());
        for (const auto& [field, text] :
             {std::pair<const char*, const std::string&>{"display_name", p.display_name()},
              {"address", p.address()},
              {"phone", p.phone()},
              {"contact", p.contact()},
              {"directions", p.directions()}}) {
          if (good.ok()) good = CheckText(absl::StrCat("particulars.", field), text, false);
        }
        if (!good.ok()) return good;
        const auto replaced =
            gate->patients().Put(p, ReadOf(context, "PutPatient", p.patient(), ""));
        if (!replaced.ok()) return replaced.status();
        response->set_replaced(*replaced);
        return absl::OkStatus();
      });
}

Method GetPatient(Gate* gate) {
  return Unary<v1::GetPatientRequest, v1::GetPatientResponse>(
      Patient("GetPatient"), RunsOn::kPool,
      [gate](CallContext& context, const v1::GetPatientRequest& request,
             v1::GetPatientResponse* response) -> absl::Status {
        if (absl::Status good = CheckId("patient", request.patient()); !good.ok()) return good;
        auto particulars = gate->patients().Get(
            request.patient(), ReadOf(context, "GetPatient", request.patient(), ""));
        if (!particulars.ok()) return particulars.status();
        *response->mutable_particulars() = *std::move(particulars);
        return absl::OkStatus();
      });
}

Method ErasePatient(Gate* gate, ledger::Ledger* ledger) {
  return Unary<v1::ErasePatientRequest, v1::ErasePatientResponse>(
      Patient("ErasePatient"), RunsOn::kPool,
      [gate, ledger](CallContext& context, const v1::ErasePatientRequest& request,
                     v1::ErasePatientResponse* response) -> absl::Status {
        absl::Status good = CheckId("patient", request.patient());
        if (good.ok()) good = CheckText("because", request.because(), true);
        if (!good.ok()) return good;
        good = trace::NotHeld(*ledger, v1::RECORD_KIND_PATIENT,
                              absl::StrCat(kPatients, request.patient()), context.now_us);
        if (!good.ok()) return good;
        good = gate->patients().Erase(
            request.patient(),
            ReadOf(context, "ErasePatient", request.patient(), request.because()));
        if (!good.ok()) return good;
        time::SetMicros(context.now_us, response->mutable_erase_time());
        return absl::OkStatus();
      });
}

}  // namespace

std::vector<Method> AccessMethods(Gate* gate, ledger::Ledger* ledger) {
  return {GetCaller(),         IssueToken(gate), RevokeToken(gate),
          ListTokens(gate),    ListReads(gate),  PutAccessRules(gate, ledger),
          GetAccessRules(gate)};
}

std::vector<Method> PatientMethods(Gate* gate, ledger::Ledger* ledger) {
  return {PutPatient(gate), GetPatient(gate), ErasePatient(gate, ledger)};
}

}  // namespace ferrule::service
