// The .proto files of package ferrule.v1 with their comments, parsed for the tests of this folder.
#pragma once

#include <string>
#include <vector>

#include "google/protobuf/descriptor.h"

namespace ferrule::words {

// Every file of the package; a file comes after those that it imports.
const std::vector<const google::protobuf::FileDescriptor*>& Files();

// Every message and every enum of the package, nested ones included.
std::vector<const google::protobuf::Descriptor*> Messages();
std::vector<const google::protobuf::EnumDescriptor*> Enums();
std::vector<const google::protobuf::MethodDescriptor*> Methods();

// The comment before a thing in its file; empty when there is none.
template <typename Descriptor>
std::string CommentOf(const Descriptor& descriptor) {
  google::protobuf::SourceLocation location;
  if (!descriptor.GetSourceLocation(&location)) return "";
  return location.leading_comments;
}

// What must stay as it is for old bytes and old clients to be understood: one line a field, enum
// value and method, sorted.
std::vector<std::string> Lines();

}  // namespace ferrule::words
