// Protobuf JSON, stable: every field that has a place, in the order of the proto.
#pragma once

#include <string>

#include "google/protobuf/message.h"

namespace ferrule::cli {

// Over several lines, with a line break at the end.
std::string Json(const google::protobuf::Message& message);
// On one line, with a line break at the end: one record of a stream.
std::string JsonLine(const google::protobuf::Message& message);

}  // namespace ferrule::cli
