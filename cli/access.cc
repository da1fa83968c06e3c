// Who may call: tokens, who the caller is, who read what, and particulars of patients.
#include "cli/access.h"

#include <cctype>
#include <fstream>
#include <sstream>
#include <utility>

#include "absl/strings/match.h"
#include "absl/strings/numbers.h"
#include "absl/strings/str_cat.h"
#include "cli/catalog.h"
#include "cli/render_table.h"
#include "cli/render_words.h"
#include "cli/session.h"
#include "cli/when.h"
#include "core/fact/counted.h"
#include "core/time/civil.h"
#include "ferrule/v1/access_service.grpc.pb.h"
#include "google/protobuf/io/tokenizer.h"
#include "google/protobuf/text_format.h"

namespace ferrule::cli {
namespace {

using Stub = v1::AccessService::StubInterface;
using PatientStub = v1::PatientService::StubInterface;

constexpr int kUsualDays = 90;
constexpr int kMostDays = 400;
constexpr int64_t kDayUs = int64_t{86'400} * 1'000'000;

std::string RightWord(int right) {
  std::string word = v1::Right_Name(static_cast<v1::Right>(right));
  if (absl::StartsWith(word, "RIGHT_")) word = word.substr(6);
  for (char& c : word) c = c == '_' ? ' ' : static_cast<char>(std::tolower(c));
  return word.empty() ? "other" : word;
}

std::string StateOf(const v1::TokenInfo& token, int64_t now_us) {
  if (token.has_revoke_time()) return "revoked";
  return time::ToMicros(token.expire_time()) <= now_us ? "ended" : "good";
}

absl::Status Issue(Session& session, const Line& line) {
  int days = kUsualDays;
  if (const auto typed = line.Get("--days"); typed.has_value()) {
    if (!absl::SimpleAtoi(*typed, &days) || days < 1 || days > kMostDays) {
      return absl::InvalidArgumentError(
          absl::StrCat("--days '", *typed, "': give 1 to ", kMostDays, " days"));
    }
  }
  v1::IssueTokenRequest request;
  request.set_principal(line.Arg("NAME"));
  request.set_note(line.Get("--note").value_or(""));
  time::SetMicros(session.now_us() + days * kDayUs, request.mutable_expire_time());
  v1::IssueTokenResponse response;
  const absl::Status asked = session.Ask(&Stub::IssueToken, request, &response);
  if (!asked.ok()) return asked;
  const absl::TimeZone zone = session.zones().OfBranch("");
  Table table({{"token"}, {"id"}, {"principal"}, {"ends"}});
  const std::string ends = Local(response.info().expire_time(), zone);
  table.Add({response.token(), response.info().id(), response.info().principal(), ends});
  session.Show(response, table, response.token() + "\n");
  session.Remark(absl::StrCat(
      "the token of ", response.info().principal(), ", good until ", ends,
      "; it is shown this once. Keep it in a file that nobody else may read (chmod 600), and name "
      "the file with --token-file or FERRULE_TOKEN_FILE. From now on others than the owner of the "
      "depot's file say who they are"));
  return absl::OkStatus();
}

absl::Status Revoke(Session& session, const Line& line) {
  v1::RevokeTokenRequest request;
  request.set_id(line.Arg("TOKEN"));
  if (absl::StrContains(request.id(), '.')) {
    return absl::InvalidArgumentError(
        "give the token's id, the part before the dot, and never the secret on a command line");
  }
  v1::RevokeTokenResponse response;
  const absl::Status asked = session.Ask(&Stub::RevokeToken, request, &response);
  if (!asked.ok()) return asked;
  Table table({{"id"}, {"principal"}, {"revoked"}});
  const std::string when = Local(response.info().revoke_time(), session.zones().OfBranch(""));
  table.Add({response.info().id(), response.info().principal(), when});
  session.Show(response, table,
               absl::StrCat("revoked ", response.info().id(), " of ", response.info().principal(),
                            ", ", when, "\n"));
  return absl::OkStatus();
}

absl::Status ListAll(Session& session, const Line& line) {
  v1::ListTokensRequest request;
  request.set_principal(line.Arg("NAME"));
  request.set_page_size(1000);
  v1::ListTokensResponse all;
  while (true) {
    v1::ListTokensResponse page;
    const absl::Status asked = session.Ask(&Stub::ListTokens, request, &page);
    if (!asked.ok()) return asked;
    all.mutable_tokens()->MergeFrom(page.tokens());
    if (page.next_page_token().empty()) break;
    request.set_page_token(page.next_page_token());
  }
  const absl::TimeZone zone = session.zones().OfBranch("");
  Table table({{"token"}, {"principal"}, {"state"}, {"issued"}, {"by"}, {"ends"}, {"note"}});
  for (const v1::TokenInfo& token : all.tokens()) {
    table.Add({token.id(), token.principal(), StateOf(token, session.now_us()),
               Local(token.create_time(), zone), token.issuer(), Local(token.expire_time(), zone),
               token.note()});
  }
  session.Show(all, table, table.empty() ? "no tokens were issued\n" : table.Text());
  return absl::OkStatus();
}

absl::Status WhoAmI(Session& session, const Line&) {
  v1::GetCallerResponse response;
  const absl::Status asked = session.Ask(&Stub::GetCaller, v1::GetCallerRequest(), &response);
  if (!asked.ok()) return asked;
  Table table({{"branch"}, {"right"}});
  std::string text = response.by() == "owner" ? "the owner of the depot's file, who may do all\n"
                     : response.by() == "open"
                         ? "nobody has to say who they are here\n"
                         : absl::StrCat(response.principal(), ", by a ", response.by(), "\n");
  for (const v1::BranchRights& in : response.rights()) {
    if (response.by() == "token" || response.by() == "certificate") {
      absl::StrAppend(&text, in.branch().empty() ? "in every branch" : "in " + in.branch(), ":\n");
    }
    for (const int right : in.rights()) {
      table.Add({in.branch(), RightWord(right)});
      if (response.by() == "token" || response.by() == "certificate") {
        absl::StrAppend(&text, "  ", RightWord(right), "\n");
      }
    }
  }
  if (response.rights().empty()) {
    absl::StrAppend(&text, "no role; the access rules give roles\n");
  }
  if (response.has_expire_time()) {
    absl::StrAppend(&text, "the token ends ",
                    Local(response.expire_time(), session.zones().OfBranch("")), "\n");
  }
  session.Show(response, table, text);
  return absl::OkStatus();
}

absl::Status ListReads(Session& session, const Line& line) {
  v1::ListReadsRequest request;
  request.set_principal(line.Get("--by").value_or(""));
  request.set_resource(line.Get("--of").value_or(""));
  request.set_page_size(1000);
  v1::ListReadsResponse all;
  while (true) {
    v1::ListReadsResponse page;
    const absl::Status asked = session.Ask(&Stub::ListReads, request, &page);
    if (!asked.ok()) return asked;
    all.mutable_reads()->MergeFrom(page.reads());
    if (page.next_page_token().empty()) break;
    request.set_page_token(page.next_page_token());
  }
  const absl::TimeZone zone = session.zones().OfBranch("");
  Table table({{"no", true}, {"when"}, {"who"}, {"method"}, {"resource"}, {"because"}});
  for (const v1::ReadRecord& read : all.reads()) {
    table.Add({absl::StrCat(read.number()), Local(read.time(), zone),
               read.principal().empty() ? "the owner" : read.principal(),
               read.method().substr(read.method().rfind('/') + 1), read.resource(),
               read.because()});
  }
  session.Show(all, table, table.empty() ? "nobody read anything about patients\n" : table.Text());
  return absl::OkStatus();
}

absl::Status PutPatient(Session& session, const Line& line) {
  v1::PutPatientRequest request;
  v1::PatientParticulars* p = request.mutable_particulars();
  p->set_patient(line.Arg("PATIENT"));
  p->set_display_name(line.Get("--name").value_or(""));
  p->set_address(line.Get("--address").value_or(""));
  p->set_phone(line.Get("--phone").value_or(""));
  p->set_contact(line.Get("--contact").value_or(""));
  p->set_directions(line.Get("--directions").value_or(""));
  v1::PutPatientResponse response;
  const absl::Status asked = session.Ask(&PatientStub::PutPatient, request, &response);
  if (!asked.ok()) return asked;
  Table table({{"patient"}, {"replaced"}});
  table.Add({p->patient(), response.replaced() ? "yes" : "no"});
  session.Show(response, table,
               absl::StrCat("kept beside the records",
                            response.replaced() ? ", in place of what "
                                                  "was kept before"
                                                : "",
                            "\n"));
  return absl::OkStatus();
}

absl::Status ShowPatient(Session& session, const Line& line) {
  v1::GetPatientRequest request;
  request.set_patient(line.Arg("PATIENT"));
  v1::GetPatientResponse response;
  const absl::Status asked = session.Ask(&PatientStub::GetPatient, request, &response);
  if (!asked.ok()) return asked;
  const v1::PatientParticulars& p = response.particulars();
  Table table({{"field"}, {"value"}});
  std::string text;
  for (const auto& [field, value] : {std::pair<const char*, std::string>{"patient", p.patient()},
                                     {"name", p.display_name()},
                                     {"address", p.address()},
                                     {"phone", p.phone()},
                                     {"contact", p.contact()},
                                     {"directions", p.directions()}}) {
    if (value.empty()) continue;
    table.Add({field, value});
    absl::StrAppend(&text, field, std::string(12 - std::string(field).size(), ' '),
                    Printable(value), "\n");
  }
  session.Show(response, table, text);
  session.Remark("this read is kept in the log of reads");
  return absl::OkStatus();
}

absl::Status ErasePatient(Session& session, const Line& line) {
  v1::ErasePatientRequest request;
  request.set_patient(line.Arg("PATIENT"));
  const auto because = line.Get("--because");
  if (!because.has_value()) {
    return absl::InvalidArgumentError(
        "--because is missing: say by which rule the particulars may go, for instance --because "
        "'retention has ended'");
  }
  request.set_because(*because);
  v1::ErasePatientResponse response;
  const absl::Status asked = session.Ask(&PatientStub::ErasePatient, request, &response);
  if (!asked.ok()) return asked;
  Table table({{"patient"}, {"erased"}});
  table.Add({request.patient(), Local(response.erase_time(), session.zones().OfBranch(""))});
  session.Show(
      response, table,
      absl::StrCat("erased the particulars of ", request.patient(),
                   "; the records stay as they are. Backups made before still hold them\n"));
  return absl::OkStatus();
}

// Positions in a rules file, as an editor counts them.
class Complaints final : public google::protobuf::io::ErrorCollector {
 public:
  explicit Complaints(std::string file) : file_(std::move(file)) {}
  void AddError(int line, google::protobuf::io::ColumnNumber, const std::string& message) override {
    if (first_.empty()) first_ = absl::StrCat(file_, ":", line + 1, ": ", message);
  }
  const std::string& first() const { return first_; }

 private:
  const std::string file_;
  std::string first_;
};

absl::StatusOr<v1::AccessRules> ReadRules(const std::string& path) {
  std::ifstream file(path);
  std::stringstream content;
  content << file.rdbuf();
  if (!file) {
    return absl::NotFoundError(absl::StrCat("cannot read ", path, "; check the name"));
  }
  v1::AccessRules rules;
  Complaints complaints(path);
  google::protobuf::TextFormat::Parser parser;
  parser.RecordErrorsTo(&complaints);
  if (parser.ParseFromString(content.str(), &rules)) return rules;
  return absl::InvalidArgumentError(complaints.first());
}

absl::Status Apply(Session& session, const Line& line) {
  const auto rules = ReadRules(line.Arg("FILE"));
  if (!rules.ok()) return rules.status();
  v1::PutAccessRulesRequest request;
  *request.mutable_rules() = *rules;
  request.set_validate_only(line.Has("--check"));
  if (const auto from = line.Get("--from"); from.has_value()) {
    const auto zone = session.TypedZone();
    if (!zone.ok()) return zone.status();
    const auto instant = ParseWhen(*from, session.now_us(), *zone);
    if (!instant.ok()) return instant.status();
    time::SetMicros(*instant, request.mutable_from_time());
  }
  v1::PutAccessRulesResponse response;
  const absl::Status asked = session.Ask(&Stub::PutAccessRules, request, &response);
  if (!asked.ok()) return asked;
  const std::string from = Local(response.version().from_time(), session.zones().OfBranch(""));
  Table table({{"version"}, {"from"}, {"roles", true}, {"grants", true}});
  table.Add({rules->version(), from, absl::StrCat(rules->roles_size()),
             absl::StrCat(rules->grants_size())});
  session.Show(
      response, table,
      absl::StrCat(request.validate_only() ? "valid" : "in force", ": access rules ",
                   rules->version(), " with ", fact::Counted(rules->roles_size(), "role", "roles"),
                   " and ", fact::Counted(rules->grants_size(), "grant", "grants"), ", from ", from,
                   "\n"));
  return absl::OkStatus();
}

absl::Status ShowRules(Session& session, const Line&) {
  v1::GetAccessRulesResponse response;
  const absl::Status asked =
      session.Ask(&Stub::GetAccessRules, v1::GetAccessRulesRequest(), &response);
  if (!asked.ok()) return asked;
  Table table({{"principal"}, {"role"}, {"branches"}, {"from"}, {"to"}});
  for (const v1::Grant& grant : response.version().rules().grants()) {
    table.Add({grant.principal(), grant.role(), Joined(grant.branches()), Day(grant.from_date()),
               Day(grant.to_date())});
  }
  std::string text;
  google::protobuf::TextFormat::PrintToString(response.version().rules(), &text);
  session.Show(response, table, response.has_version() ? text : "no access rules are in force\n");
  return absl::OkStatus();
}

void AddRules(Catalog* catalog) {
  constexpr auto kGroup = Group::kKeep;
  catalog->push_back(
      {"access apply",
       kGroup,
       Kind::kWorks,
       "put access rules in force: who has which role in which branch",
       {{"FILE", "the rules, in protobuf text"}},
       {{"--from", "TIME", "from when, default now"}, {"--check", "", "only check them"}},
       "ferrule access apply access.textproto",
       Apply});
  catalog->push_back({"access show",
                      kGroup,
                      Kind::kWorks,
                      "print the access rules in force",
                      {},
                      {},
                      "ferrule access show",
                      ShowRules});
}

void AddTokens(Catalog* catalog) {
  constexpr auto kGroup = Group::kKeep;
  catalog->push_back({"token issue",
                      kGroup,
                      Kind::kWorks,
                      "make a token by which somebody is known, and show it this once",
                      {{"NAME", "who is known by it"}},
                      {{"--days", "DAYS", "how long it is good, default 90, at most 400"},
                       {"--note", "TEXT", "what it is for"}},
                      "ferrule token issue tech-ada --days 90",
                      Issue});
  catalog->push_back({"token revoke",
                      kGroup,
                      Kind::kWorks,
                      "end a token, from the next call on",
                      {{"TOKEN", "the token's id"}},
                      {},
                      "ferrule token revoke t-4f2a0c11d87be290",
                      Revoke});
  catalog->push_back({"token list",
                      kGroup,
                      Kind::kWorks,
                      "list tokens, without their secrets",
                      {{"NAME", "of this name alone", Arity::kOptional}},
                      {},
                      "ferrule token list",
                      ListAll});
  catalog->push_back({"whoami",
                      kGroup,
                      Kind::kWorks,
                      "say who the depot takes you for, and what you may do",
                      {},
                      {},
                      "ferrule whoami --server depot.example:7443 --token-file token",
                      WhoAmI});
  catalog->push_back({"reads",
                      kGroup,
                      Kind::kWorks,
                      "list who read what about patients",
                      {},
                      {{"--by", "NAME", "reads of this one alone"},
                       {"--of", "RESOURCE", "of this alone, for instance patients/P-31"}},
                      "ferrule reads --of patients/P-31",
                      ListReads});
}

void AddPatients(Catalog* catalog) {
  constexpr auto kGroup = Group::kKeep;
  const Positional patient{"PATIENT", "the reference that orders carry"};
  catalog->push_back({"patient put",
                      kGroup,
                      Kind::kWorks,
                      "keep a patient's particulars beside the records",
                      {patient},
                      {{"--name", "TEXT", "name"},
                       {"--address", "TEXT", "address"},
                       {"--phone", "TEXT", "telephone"},
                       {"--contact", "TEXT", "who else may be rung"},
                       {"--directions", "TEXT", "what to mind at the door"}},
                      "ferrule patient put P-31 --address '1 Example Road'",
                      PutPatient});
  catalog->push_back({"patient show",
                      kGroup,
                      Kind::kWorks,
                      "show a patient's particulars; the read is kept",
                      {patient},
                      {},
                      "ferrule patient show P-31",
                      ShowPatient});
  catalog->push_back({"patient erase",
                      kGroup,
                      Kind::kWorks,
                      "erase a patient's particulars for good; the records stay as they are",
                      {patient},
                      {{"--because", "TEXT", "by which rule they may go"}},
                      "ferrule patient erase P-31 --because 'retention has ended'",
                      ErasePatient});
}

}  // namespace

void AddAccessCommands(Catalog* catalog) {
  AddTokens(catalog);
  AddRules(catalog);
  AddPatients(catalog);
}

}  // namespace ferrule::cli
