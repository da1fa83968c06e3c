#include "cli/failure.h"

#include <algorithm>
#include <optional>

#include "absl/strings/cord.h"
#include "absl/strings/str_cat.h"
#include "absl/strings/str_split.h"
#include "cli/render_findings.h"
#include "cli/render_json.h"
#include "cli/render_table.h"
#include "core/fact/counted.h"
#include "ferrule/v1/findings.pb.h"
#include "google/rpc/error_details.pb.h"
#include "google/rpc/status.pb.h"
#include "nlohmann/json.hpp"

namespace ferrule::cli {
namespace {

constexpr char kDetails[] = "ferrule.cli/details";
constexpr char kUnreachable[] = "ferrule.cli/unreachable";

struct Details {
  std::optional<v1::Refusal> refusal;
  std::optional<google::rpc::BadRequest> bad_request;
};

Details DetailsOf(const absl::Status& status) {
  Details details;
  const absl::optional<absl::Cord> bytes = status.GetPayload(kDetails);
  google::rpc::Status rich;
  if (!bytes.has_value() || !rich.ParseFromString(std::string(*bytes))) return details;
  for (const google::protobuf::Any& any : rich.details()) {
    if (any.Is<v1::Refusal>()) any.UnpackTo(&details.refusal.emplace());
    if (any.Is<google::rpc::BadRequest>()) any.UnpackTo(&details.bad_request.emplace());
  }
  return details;
}

// "entry.facts[0].unit_moved.to_place" reads better without the way to it.
std::string ShortField(const std::string& field) {
  const size_t dot = field.rfind('.');
  return dot == std::string::npos ? field : field.substr(dot + 1);
}

// The message of a refusal says the same as its findings, in one long line: the list reads better.
std::string RefusalLines(const v1::Refusal& refusal) {
  const int count = std::max(refusal.finding_count(), refusal.findings_size());
  std::string text = absl::StrCat("refused, ", fact::Counted(count, "reason", "reasons"), ":\n",
                                  FindingLines(refusal.findings()));
  if (count > refusal.findings_size()) {
    absl::StrAppend(&text, "  and ", count - refusal.findings_size(), " more\n");
  }
  if (refusal.repeated()) {
    text +=
        "It was refused before under this entry id and stays so. Once the reasons are cured, "
        "report it without\n--entry-id.\n";
  }
  return text;
}

}  // namespace

absl::Status FromGrpc(const grpc::Status& status) {
  if (status.ok()) return absl::OkStatus();
  std::string message = status.error_message();
  // The library's own words, which do not say what to do; the server's come with details.
  if (status.error_code() == grpc::StatusCode::UNAVAILABLE && status.error_details().empty()) {
    message +=
        "; check the address and that the server runs, and where it speaks TLS --tls-ca and the "
        "certificate that it asks for";
  }
  absl::Status converted(static_cast<absl::StatusCode>(status.error_code()), message);
  if (!status.error_details().empty()) {
    converted.SetPayload(kDetails, absl::Cord(status.error_details()));
  }
  return converted;
}

absl::Status CannotReach(const absl::Status& status) {
  absl::Status marked = status;
  marked.SetPayload(kUnreachable, absl::Cord("1"));
  return marked;
}

Exit ExitOf(const absl::Status& status) {
  if (status.GetPayload(kUnreachable).has_value()) return Exit::kUnavailable;
  switch (status.code()) {
    case absl::StatusCode::kOk:
      return Exit::kDone;
    case absl::StatusCode::kInvalidArgument:
      return DetailsOf(status).refusal.has_value() ? Exit::kRefused : Exit::kUsage;
    case absl::StatusCode::kNotFound:
      return Exit::kNotFound;
    case absl::StatusCode::kFailedPrecondition:
    case absl::StatusCode::kAlreadyExists:
    case absl::StatusCode::kPermissionDenied:
    case absl::StatusCode::kOutOfRange:
      return Exit::kRefused;
    default:
      return Exit::kUnavailable;
  }
}

bool OutcomeUnknown(const absl::Status& status) {
  if (status.GetPayload(kUnreachable).has_value()) return false;
  switch (status.code()) {
    case absl::StatusCode::kUnavailable:
    case absl::StatusCode::kDeadlineExceeded:
    case absl::StatusCode::kUnknown:
    case absl::StatusCode::kInternal:
    case absl::StatusCode::kCancelled:
      return true;
    default:
      return false;
  }
}

std::string FailureText(const absl::Status& status) {
  const Details details = DetailsOf(status);
  std::string text = "ferrule: ";
  if (details.refusal.has_value()) {
    text += RefusalLines(*details.refusal);
  } else if (details.bad_request.has_value()) {
    text += "what was asked is malformed:\n";  // the message repeats the violations
  } else {
    for (absl::string_view line : absl::StrSplit(status.message(), '\n')) {
      absl::StrAppend(&text, Printable(std::string(line)), "\n");
    }
  }
  if (details.bad_request.has_value()) {
    for (const auto& violation : details.bad_request->field_violations()) {
      absl::StrAppend(&text, "  ", Printable(ShortField(violation.field())), ": ",
                      Printable(violation.description()), "\n");
    }
  }
  return text;
}

std::string FailureJson(const absl::Status& status) {
  const Details details = DetailsOf(status);
  nlohmann::ordered_json json;
  json["code"] = absl::StatusCodeToString(status.code());
  json["message"] = std::string(status.message());
  json["exitCode"] = static_cast<int>(ExitOf(status));
  if (details.refusal.has_value()) {
    json["refusal"] = nlohmann::ordered_json::parse(Json(*details.refusal));
  }
  if (details.bad_request.has_value()) {
    json["badRequest"] = nlohmann::ordered_json::parse(Json(*details.bad_request));
  }
  return json.dump(2, ' ', false, nlohmann::json::error_handler_t::replace) + "\n";
}

}  // namespace ferrule::cli
