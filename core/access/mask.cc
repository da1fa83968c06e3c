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

int Walk(Message* message, bool hide) {
  if (!Remembered(*message->GetDescriptor())) return 0;
  const google::protobuf::Reflection& reflection = *message->GetReflection();
  std::vector<const FieldDescriptor*> fields;
  reflection.ListFields(*message, &fields);
  int found = 0;
  for (const FieldDescriptor* field : fields) {
    if (IsReference(*field)) {
      if (reflection.GetString(*message, field).empty()) continue;
      ++found;
      if (hide) reflection.SetString(message, field, std::string(kMasked));
    } else if (field->message_type() == nullptr) {
      continue;
    } else if (!field->is_repeated()) {
      found += Walk(reflection.MutableMessage(message, field), hide);
    } else {
      for (int i = 0; i < reflection.FieldSize(*message, field); ++i) {
        found += Walk(reflection.MutableRepeatedMessage(message, field, i), hide);
      }
    }
  }
  return found;
}

}  // namespace

bool CanNamePatients(const Descriptor& type) { return Remembered(type); }

int MaskPatients(Message* message) { return Walk(message, true); }

// Reading alone changes nothing: Walk writes only when it hides.
int CountPatients(const Message& message) { return Walk(const_cast<Message*>(&message), false); }

}  // namespace ferrule::access
