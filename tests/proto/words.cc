#include "tests/proto/words.h"

#include <algorithm>
#include <cstdio>
#include <cstdlib>
#include <fstream>

#include "google/protobuf/descriptor.pb.h"

namespace ferrule::words {
namespace {

namespace pb = google::protobuf;

struct Parsed {
  pb::DescriptorPool pool;
  std::vector<const pb::FileDescriptor*> files;
};

// Reads the descriptors that the build made of the .proto files, comments included; files come
// after those that they import.
const Parsed& Parse() {
  static const Parsed* parsed = [] {
    auto* p = new Parsed;
    std::ifstream in(FERRULE_DESCRIPTOR_SET, std::ios::binary);
    pb::FileDescriptorSet set;
    if (!set.ParseFromIstream(&in)) {
      std::fprintf(stderr, "no descriptors in %s\n", FERRULE_DESCRIPTOR_SET);
      std::abort();
    }
    for (const pb::FileDescriptorProto& proto : set.file()) {
      const pb::FileDescriptor* file = p->pool.BuildFile(proto);
      if (file == nullptr) std::abort();  // protobuf has said why on stderr
      if (file->package() == "ferrule.v1") p->files.push_back(file);
    }
    return p;
  }();
  return *parsed;
}

void AddNested(const pb::Descriptor* message, std::vector<const pb::Descriptor*>* out) {
  out->push_back(message);
  for (int i = 0; i < message->nested_type_count(); ++i) {
    AddNested(message->nested_type(i), out);
  }
}

std::string TypeName(const pb::FieldDescriptor& field) {
  if (field.message_type() != nullptr) return field.message_type()->full_name();
  if (field.enum_type() != nullptr) return field.enum_type()->full_name();
  return field.type_name();
}

}  // namespace

const std::vector<const pb::FileDescriptor*>& Files() { return Parse().files; }

std::vector<const pb::Descriptor*> Messages() {
  std::vector<const pb::Descriptor*> out;
  for (const pb::FileDescriptor* file : Files()) {
    for (int i = 0; i < file->message_type_count(); ++i) AddNested(file->message_type(i), &out);
  }
  return out;
}

std::vector<const pb::EnumDescriptor*> Enums() {
  std::vector<const pb::EnumDescriptor*> out;
  for (const pb::FileDescriptor* file : Files()) {
    for (int i = 0; i < file->enum_type_count(); ++i) out.push_back(file->enum_type(i));
  }
  for (const pb::Descriptor* message : Messages()) {
    for (int i = 0; i < message->enum_type_count(); ++i) out.push_back(message->enum_type(i));
  }
  return out;
}

std::vector<const pb::MethodDescriptor*> Methods() {
  std::vector<const pb::MethodDescriptor*> out;
  for (const pb::FileDescriptor* file : Files()) {
    for (int i = 0; i < file->service_count(); ++i) {
      for (int k = 0; k < file->service(i)->method_count(); ++k) {
        out.push_back(file->service(i)->method(k));
      }
    }
  }
  return out;
}

std::vector<std::string> Lines() {
  std::vector<std::string> lines;
  for (const pb::Descriptor* message : Messages()) {
    for (int i = 0; i < message->field_count(); ++i) {
      const pb::FieldDescriptor& field = *message->field(i);
      std::string line = field.full_name() + " = " + std::to_string(field.number()) + " " +
                         (field.is_repeated() ? "repeated " : "") +
                         (field.has_optional_keyword() ? "optional " : "") + TypeName(field);
      if (const pb::OneofDescriptor* oneof = field.real_containing_oneof(); oneof != nullptr) {
        line += " in " + oneof->name();
      }
      lines.push_back(std::move(line));
    }
  }
  for (const pb::EnumDescriptor* one : Enums()) {
    for (int i = 0; i < one->value_count(); ++i) {
      lines.push_back(one->full_name() + "." + one->value(i)->name() + " = " +
                      std::to_string(one->value(i)->number()));
    }
  }
  for (const pb::MethodDescriptor* method : Methods()) {
    lines.push_back(method->full_name() + " (" + method->input_type()->full_name() + ") returns " +
                    (method->server_streaming() ? "stream " : "") +
                    method->output_type()->full_name());
  }
  std::sort(lines.begin(), lines.end());
  return lines;
}

}  // namespace ferrule::words
