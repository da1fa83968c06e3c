#include "core/access/rules_check.h"

#include <algorithm>
#include <set>
#include <utility>

#include "absl/strings/str_cat.h"
#include "absl/strings/str_join.h"
#include "core/access/competence.h"
#include "core/access/roles.h"
#include "core/fact/subject.h"
#include "core/time/civil.h"

namespace ferrule::access {
namespace {

class Check {
 public:
  Check(const v1::AccessRules& rules, const v1::Settings& settings)
      : rules_(rules), settings_(settings) {}

  std::vector<RulesError> Run() {
    Id("version", rules_.version(), "2026-01");
    Roles();
    for (int i = 0; i < rules_.grants_size(); ++i) Grant(i);
    Kinds("competence_for", rules_.competence_for());
    for (int i = 0; i < rules_.competences_size(); ++i) Competence(i);
    return std::move(errors_);
  }

 private:
  void Wrong(std::string field, std::string message) {
    errors_.push_back({std::move(field), std::move(message)});
  }

  void Id(const std::string& path, const std::string& id, const char* example) {
    if (fact::IsValidId(id)) return;
    Wrong(path, absl::StrCat("\"", id, "\" is no id: give one, for instance \"", example, "\""));
  }

  void Roles() {
    std::set<std::string> seen;
    for (int i = 0; i < rules_.roles_size(); ++i) {
      const v1::Role& role = rules_.roles(i);
      const std::string path = absl::StrCat("roles[", i, "]");
      Id(path + ".id", role.id(), "technician");
      if (!seen.insert(role.id()).second) {
        Wrong(path + ".id", absl::StrCat("\"", role.id(), "\" is given twice: give each id once"));
      }
      for (int k = 0; k < role.rights_size(); ++k) {
        if (v1::Right_IsValid(role.rights(k)) && role.rights(k) != v1::RIGHT_UNSPECIFIED) continue;
        Wrong(absl::StrCat(path, ".rights[", k, "]"),
              "is no right: give one of those that proto/ferrule/v1/access.proto lists");
      }
    }
  }

  template <class Dated>
  void Days(const std::string& path, const Dated& dated) {
    if (dated.has_from_date() && !time::IsValid(dated.from_date())) {
      return Wrong(path + ".from_date", "is no day: give year, month and day");
    }
    if (!dated.has_to_date()) return;
    if (!time::IsValid(dated.to_date())) {
      return Wrong(path + ".to_date", "is no day: give year, month and day");
    }
    if (dated.has_from_date() && time::ToDay(dated.to_date()) < time::ToDay(dated.from_date())) {
      Wrong(path + ".to_date", "is before from_date: give a later day");
    }
  }

  void Grant(int index) {
    const v1::Grant& grant = rules_.grants(index);
    const std::string path = absl::StrCat("grants[", index, "]");
    Id(path + ".principal", grant.principal(), "tech-ada");
    if (!IsRole(rules_, grant.role())) {
      Wrong(path + ".role",
            absl::StrCat("\"", grant.role(), "\" is no role: give one of ",
                         absl::StrJoin(BuiltInRoles(), ", ", Append), ", or add it to roles"));
    }
    for (int i = 0; i < grant.branches_size(); ++i) {
      const bool known =
          std::any_of(settings_.branches().begin(), settings_.branches().end(),
                      [&](const v1::Branch& branch) { return branch.id() == grant.branches(i); });
      if (known) continue;
      Wrong(absl::StrCat(path, ".branches[", i, "]"),
            absl::StrCat("there is no branch \"", grant.branches(i),
                         "\": give one of the settings' branches"));
    }
    Days(path, grant);
  }

  void Kinds(const std::string& path,
             const google::protobuf::RepeatedPtrField<std::string>& kinds) {
    for (int i = 0; i < kinds.size(); ++i) {
      if (IsKind(kinds.Get(i))) continue;
      Wrong(absl::StrCat(path, "[", i, "]"),
            absl::StrCat("\"", kinds.Get(i),
                         "\" is no kind of fact: give one as facts.proto names it, for instance "
                         "\"repair_closed\""));
    }
  }

  void Competence(int index) {
    const v1::Competence& one = rules_.competences(index);
    const std::string path = absl::StrCat("competences[", index, "]");
    Id(path + ".person", one.person(), "tech-ada");
    if (one.facts().empty()) {
      Wrong(path + ".facts", "is missing: give kinds of fact, for instance \"repair_closed\"");
    }
    Kinds(path + ".facts", one.facts());
    Days(path, one);
  }

  static void Append(std::string* out, std::string_view text) { out->append(text); }

  const v1::AccessRules& rules_;
  const v1::Settings& settings_;
  std::vector<RulesError> errors_;
};

}  // namespace

std::vector<RulesError> CheckRules(const v1::AccessRules& rules, const v1::Settings& settings) {
  return Check(rules, settings).Run();
}

}  // namespace ferrule::access
