#include "core/access/competence.h"

#include <algorithm>
#include <string>

#include "core/access/dated.h"
#include "google/protobuf/descriptor.h"

namespace ferrule::access {
namespace {

bool Names(const google::protobuf::RepeatedPtrField<std::string>& kinds, std::string_view kind) {
  return std::find(kinds.begin(), kinds.end(), kind) != kinds.end();
}

}  // namespace

std::string_view KindOf(const v1::Fact& fact) {
  const auto* field = v1::Fact::descriptor()->FindFieldByNumber(fact.what_case());
  return field == nullptr ? std::string_view() : std::string_view(field->name());
}

bool IsKind(std::string_view kind) {
  const auto* field = v1::Fact::descriptor()->FindFieldByName(std::string(kind));
  return field != nullptr && field->containing_oneof() != nullptr;
}

bool IsOnRecord(const v1::AccessRules& rules, std::string_view kind) {
  return std::any_of(rules.competences().begin(), rules.competences().end(),
                     [&](const v1::Competence& one) { return Names(one.facts(), kind); });
}

bool MayHaveDone(const v1::AccessRules& rules, std::string_view person, std::string_view kind,
                 absl::CivilDay day) {
  if (!Names(rules.competence_for(), kind)) return true;
  return std::any_of(
      rules.competences().begin(), rules.competences().end(), [&](const v1::Competence& one) {
        return one.person() == person && Names(one.facts(), kind) && HoldsOn(one, day);
      });
}

}  // namespace ferrule::access
