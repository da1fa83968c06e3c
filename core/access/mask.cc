#include "core/access/mask.h"

#include <map>
#include <set>
#include <string>
#include <vector>

#include "absl/container/flat_hash_map.h"
#include "google/protobuf/descriptor.h"

namespace ferrule::access {
namespace {

using google::protobuf::Descriptor;
using google::protobuf::FieldDescriptor;
using google::protobuf::Message;

bool IsReference(const FieldDescriptor& field) {
  return field.name() == "patient" && field.cpp_type() == FieldDescriptor::CPPTYPE_STRING &&
         !field.is_repeated();
}

bool Search(const Descriptor& type, std::set<const Descriptor*>* seen) {
  if (!seen->insert(&type).second) return false;
  for (int i = 0; i < type.field_count(); ++i) {
    const FieldDescriptor& field = *type.field(i);
    if (IsReference(field)) return true;
    if (field.message_type() != nullptr && Search(*field.message_type(), seen)) return true;
  }
  return false;
}

// Answers are walked on every call: what a type can hold is worked out once a thread.
bool Remembered(const Descriptor& type) {
  thread_local absl::flat_hash_map<const Descriptor*, bool> known;
  if (const auto it = known.find(&type); it != known.end()) return it->second;
  std::set<const Descriptor*> seen;
  return known[&type] = Search(type, &seen);
}

std::vector<const FieldDescriptor*> SetFields(const Message& message) {
  std::vector<const FieldDescriptor*> fields;
  if (Remembered(*message.GetDescriptor())) {
    message.GetReflection()->ListFields(message, &fields);
  }
  return fields;
}

}  // namespace

bool CanNamePatients(const Descriptor& type) { return Remembered(type); }

int MaskPatients(Message* message) {
  const google::protobuf::Reflection& reflection = *message->GetReflection();
  int found = 0;
  for (const FieldDescriptor* field : SetFields(*message)) {
    if (IsReference(*field)) {
      if (reflection.GetString(*message, field).empty()) continue;
      ++found;
      reflection.SetString(message, field, std::string(kMasked));
    } else if (field->message_type() == nullptr) {
      continue;
    } else if (!field->is_repeated()) {
      found += MaskPatients(reflection.MutableMessage(message, field));
    } else {
      for (int i = 0; i < reflection.FieldSize(*message, field); ++i) {
        found += MaskPatients(reflection.MutableRepeatedMessage(message, field, i));
      }
    }
  }
  return found;
}

// Apart from MaskPatients, because even the taking of a mutable message writes, and what is counted
// may be a state that others read.
int CountPatients(const Message& message) {
  const google::protobuf::Reflection& reflection = *message.GetReflection();
  int found = 0;
  for (const FieldDescriptor* field : SetFields(message)) {
    if (IsReference(*field)) {
      found += reflection.GetString(message, field).empty() ? 0 : 1;
    } else if (field->message_type() == nullptr) {
      continue;
    } else if (!field->is_repeated()) {
      found += CountPatients(reflection.GetMessage(message, field));
    } else {
      for (int i = 0; i < reflection.FieldSize(message, field); ++i) {
        found += CountPatients(reflection.GetRepeatedMessage(message, field, i));
      }
    }
  }
  return found;
}

}  // namespace ferrule::access
