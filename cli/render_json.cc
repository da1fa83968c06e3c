#include "cli/render_json.h"

#include "google/protobuf/util/json_util.h"

namespace ferrule::cli {
namespace {

std::string Print(const google::protobuf::Message& message, bool over_lines) {
  google::protobuf::util::JsonPrintOptions options;
  options.add_whitespace = over_lines;
  options.always_print_primitive_fields = true;
  std::string json;
  // Messages out of our own protos always have a JSON form; only an Any of an unknown type has not.
  const auto status = google::protobuf::util::MessageToJsonString(message, &json, options);
  if (!status.ok()) json = "{}";
  if (json.empty() || json.back() != '\n') json += '\n';
  return json;
}

}  // namespace

std::string Json(const google::protobuf::Message& message) { return Print(message, true); }
std::string JsonLine(const google::protobuf::Message& message) { return Print(message, false); }

}  // namespace ferrule::cli
