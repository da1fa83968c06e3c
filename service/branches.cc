#include "service/branches.h"

#include <utility>
#include <vector>

#include "core/fact/subject.h"
#include "google/protobuf/descriptor.h"

namespace ferrule::service {
namespace {

using google::protobuf::FieldDescriptor;
using google::protobuf::Message;

std::string BranchOfPlace(ledger::Ledger& ledger, std::string_view place) {
  const auto book = ledger.Book();
  if (book == nullptr) return "";
  const v1::Branch* branch = book->At(ledger.clock().NowMicros()).BranchOfPlace(place);
  return branch == nullptr ? std::string() : branch->id();
}

bool BelongsToOne(std::string_view subject_name) {
  return subject_name.starts_with("units/") || subject_name.starts_with("orders/") ||
         subject_name.starts_with("places/");
}

void AddSubject(ledger::Ledger& ledger, std::string_view subject_name, Branches* out) {
  std::string branch = BranchOfSubject(ledger, subject_name);
  if (branch.empty()) {
    out->unknown = true;
  } else {
    out->names.insert(std::move(branch));
  }
}

// The fields of a message that name a branch or a place of one.
void AddNamed(ledger::Ledger& ledger, const Message& message, Branches* out) {
  std::vector<const FieldDescriptor*> fields;
  message.GetReflection()->ListFields(message, &fields);
  for (const FieldDescriptor* field : fields) {
    if (field->is_repeated() || field->cpp_type() != FieldDescriptor::CPPTYPE_STRING) continue;
    const std::string value = message.GetReflection()->GetString(message, field);
    const std::string_view name = field->name();
    if (name == "branch" || name.ends_with("_branch")) {
      out->names.insert(value);
    } else if (name == "place" || name.ends_with("_place")) {
      AddSubject(ledger, fact::SubjectName(fact::SubjectKind::kPlace, value), out);
    } else if (name == "unit") {
      AddSubject(ledger, fact::SubjectName(fact::SubjectKind::kUnit, value), out);
    } else if (name == "order") {
      AddSubject(ledger, fact::SubjectName(fact::SubjectKind::kOrder, value), out);
    } else if (name == "name" || name == "subject" || name == "holder") {
      if (BelongsToOne(value)) {
        AddSubject(ledger, value, out);
      } else if (const auto subject = fact::ParseSubjectName(value); subject.ok()) {
        if (subject->kind == fact::SubjectKind::kForecasts) {
          out->names.insert(std::string(subject->id));
        } else {
          out->of_none = true;
        }
      }
    }
  }
}

}  // namespace

std::string BranchOfSubject(ledger::Ledger& ledger, std::string_view subject_name) {
  const auto subject = fact::ParseSubjectName(subject_name);
  if (!subject.ok()) return "";
  if (subject->kind == fact::SubjectKind::kPlace) return BranchOfPlace(ledger, subject->id);
  const absl::StatusOr<ledger::StatePtr> state = ledger.Get(subject_name);
  if (!state.ok() || *state == nullptr) return "";
  if ((*state)->has_order()) return (*state)->order().details().branch();
  if (!(*state)->has_unit()) return "";
  const v1::UnitState& unit = (*state)->unit();
  if (std::string branch = BranchOfPlace(ledger, unit.place()); !branch.empty()) return branch;
  if (unit.order().empty()) return "";
  return BranchOfSubject(ledger, fact::SubjectName(fact::SubjectKind::kOrder, unit.order()));
}

Branches BranchesOf(ledger::Ledger& ledger, const Message& request) {
  Branches out;
  AddNamed(ledger, request, &out);
  return out;
}

Branches BranchesOf(ledger::Ledger& ledger, const v1::Fact& fact) {
  Branches out;
  fact::ForEachSubject(fact, [&](fact::SubjectKind kind, std::string_view id) {
    if (kind != fact::SubjectKind::kUnit && kind != fact::SubjectKind::kOrder) return;
    std::string branch = BranchOfSubject(ledger, fact::SubjectName(kind, id));
    if (!branch.empty()) out.names.insert(std::move(branch));
  });
  std::vector<const FieldDescriptor*> fields;
  fact.GetReflection()->ListFields(fact, &fields);
  for (const FieldDescriptor* field : fields) {
    if (field->containing_oneof() == nullptr || field->message_type() == nullptr) continue;
    const Message& what = fact.GetReflection()->GetMessage(fact, field);
    Branches named;
    AddNamed(ledger, what, &named);
    // Where a thing goes to may be another branch's place: whoever sends it needs the right where
    // it comes from.
    if (out.names.empty()) out.names = named.names;
    if (fact.has_order_taken()) {
      out.names.insert(fact.order_taken().details().branch());
      out.names.erase("");
    }
  }
  out.unknown = out.names.empty();
  return out;
}

}  // namespace ferrule::service
