#include "service/status.h"

#include <algorithm>
#include <optional>
#include <string>
#include <string_view>

#include "absl/strings/cord.h"
#include "absl/strings/str_cat.h"
#include "core/finding/catalog.h"
#include "core/ledger/ledger.h"
#include "core/store/connection.h"
#include "google/rpc/error_details.pb.h"
#include "google/rpc/status.pb.h"
#include "service/errors.h"
#include "service/limits.h"

namespace ferrule::service {
namespace {

// Room kept in the message for "; and 1234 more".
constexpr size_t kCountRoom = 32;
// A single finding that is too large keeps this much of each text.
constexpr size_t kShortText = 400;

// Bytes of a character in the encoded message: everything but plain ASCII is escaped.
size_t EncodedSize(char c) { return (c >= 0x20 && c < 0x7F && c != '%') ? 1 : 3; }

size_t EncodedSize(std::string_view text) {
  size_t size = 0;
  for (const char c : text) size += EncodedSize(c);
  return size;
}

// The longest beginning of whole UTF-8 characters that encodes into `room` bytes.
std::string_view Beginning(std::string_view text, size_t room) {
  size_t used = 0;
  size_t end = 0;
  for (size_t i = 0; i < text.size(); ++i) {
    if ((static_cast<unsigned char>(text[i]) & 0xC0) != 0x80) end = i;
    used += EncodedSize(text[i]);
    if (used > room) return text.substr(0, end);
  }
  return text;
}

template <class Message>
std::optional<Message> Payload(const absl::Status& status, const char* url) {
  const auto payload = status.GetPayload(url);
  if (!payload.has_value()) return std::nullopt;
  Message message;
  if (!message.ParseFromString(std::string(*payload))) return std::nullopt;
  return message;
}

std::string_view ReasonOfCode(absl::StatusCode code) {
  switch (code) {
    case absl::StatusCode::kCancelled:
      return "CANCELLED";
    case absl::StatusCode::kInvalidArgument:
      return "FIELD_INVALID";
    case absl::StatusCode::kDeadlineExceeded:
      return "DEADLINE";
    case absl::StatusCode::kNotFound:
      return "NOT_FOUND";
    case absl::StatusCode::kAlreadyExists:
      return "ALREADY_EXISTS";
    case absl::StatusCode::kResourceExhausted:
      return "STORAGE_FULL";
    case absl::StatusCode::kFailedPrecondition:
      return "STATE";
    case absl::StatusCode::kAborted:
      return "CONTENTION";
    case absl::StatusCode::kOutOfRange:
      return "OUT_OF_RANGE";
    case absl::StatusCode::kUnimplemented:
      return "UNIMPLEMENTED";
    case absl::StatusCode::kUnavailable:
      return "STORAGE_UNREACHABLE";
    case absl::StatusCode::kDataLoss:
      return "INTEGRITY";
    default:
      return "INCIDENT";
  }
}

std::string Sentence(const v1::Finding& finding) {
  if (finding.remedy().empty()) return finding.text();
  return absl::StrCat(finding.text(), " (", finding.remedy(), ")");
}

// The findings in one line, as many as fit, and the count of the rest.
std::string MessageOf(const v1::Refusal& refusal) {
  std::string message;
  int named = 0;
  for (const v1::Finding& finding : refusal.findings()) {
    const std::string sentence = absl::StrCat(named > 0 ? "; " : "", Sentence(finding));
    if (EncodedSize(message) + EncodedSize(sentence) > kMaxErrorMessageBytes - kCountRoom) break;
    message += sentence;
    ++named;
  }
  if (named == 0 && refusal.findings_size() > 0) {
    message = Beginning(Sentence(refusal.findings(0)), kMaxErrorMessageBytes - kCountRoom);
    named = 1;
  }
  const int rest = std::max(refusal.finding_count(), refusal.findings_size()) - named;
  if (rest > 0) absl::StrAppend(&message, "; and ", rest, " more");
  return message;
}

std::string MessageOf(const absl::Status& status) {
  const std::string text(status.message());
  if (EncodedSize(text) <= kMaxErrorMessageBytes) return text;
  const std::string_view begun = Beginning(text, kMaxErrorMessageBytes - kCountRoom);
  return absl::StrCat(std::string(begun), "; and ", text.size() - begun.size(), " bytes more");
}

// A finding without what makes it long.
v1::Finding Shortened(const v1::Finding& finding) {
  v1::Finding out = finding;
  out.clear_evidence();
  out.clear_values();
  out.set_text(std::string(Beginning(finding.text(), kShortText)));
  out.set_remedy(std::string(Beginning(finding.remedy(), kShortText)));
  return out;
}

google::rpc::ErrorInfo InfoOf(const absl::Status& status, const v1::Refusal* refusal) {
  if (auto info = Payload<google::rpc::ErrorInfo>(status, errors::kErrorInfoUrl)) return *info;
  google::rpc::ErrorInfo info;
  info.set_domain("ferrule");
  if (refusal == nullptr || refusal->findings().empty()) {
    info.set_reason(store::IsOutOfMemory(status) ? "NO_MEMORY"
                                                 : std::string(ReasonOfCode(status.code())));
    return info;
  }
  const v1::Finding& first = refusal->findings(0);
  info.set_reason(std::string(finding::ReasonString(first.reason())));
  auto& metadata = *info.mutable_metadata();
  metadata["subject"] = first.subject();
  metadata["finding_count"] = absl::StrCat(refusal->finding_count());
  for (const v1::FindingValue& value : first.values()) {
    metadata[value.key()] = std::string(Beginning(value.value(), kShortText));
  }
  return info;
}

// Collects details as long as they fit.
class Details {
 public:
  Details(absl::StatusCode code, std::string message) {
    status_.set_code(static_cast<int>(code));
    status_.set_message(std::move(message));
  }
  template <class Message>
  bool Add(const Message& detail) {
    status_.add_details()->PackFrom(detail);
    if (status_.ByteSizeLong() <= kMaxErrorDetailBytes) return true;
    status_.mutable_details()->RemoveLast();
    return false;
  }
  size_t Room() const { return kMaxErrorDetailBytes - status_.ByteSizeLong(); }
  const google::rpc::Status& status() const { return status_; }

 private:
  google::rpc::Status status_;
};

// Fills refusal and precondition failure side by side, finding by finding, as far as they fit.
void AddFindings(const v1::Refusal& all, bool precondition, Details* details) {
  constexpr size_t kEnvelope = 160;  // type URLs and lengths of both details
  const size_t room = details->Room() > kEnvelope ? details->Room() - kEnvelope : 0;
  v1::Refusal refusal;
  refusal.set_finding_count(std::max(all.finding_count(), all.findings_size()));
  refusal.set_repeated(all.repeated());
  google::rpc::PreconditionFailure failure;
  const auto add = [&](const v1::Finding& finding) {
    *refusal.add_findings() = finding;
    if (precondition) {
      auto* violation = failure.add_violations();
      violation->set_type(std::string(finding::ReasonString(finding.reason())));
      violation->set_subject(finding.subject());
      violation->set_description(finding.text());
    }
    if (refusal.ByteSizeLong() + failure.ByteSizeLong() <= room) return true;
    refusal.mutable_findings()->RemoveLast();
    if (precondition) failure.mutable_violations()->RemoveLast();
    return false;
  };
  for (const v1::Finding& finding : all.findings()) {
    if (refusal.findings_size() >= kMaxViolations) break;
    if (!add(finding) && !add(Shortened(finding))) break;
  }
  details->Add(refusal);
  if (failure.violations_size() > 0) details->Add(failure);
}

void AddBadRequest(google::rpc::BadRequest bad, Details* details) {
  while (bad.field_violations_size() > kMaxViolations) bad.mutable_field_violations()->RemoveLast();
  while (bad.field_violations_size() > 0 && !details->Add(bad)) {
    bad.mutable_field_violations()->RemoveLast();
  }
}

void AddRetry(const absl::Status& status, Details* details) {
  if (auto retry = Payload<google::rpc::RetryInfo>(status, errors::kRetryInfoUrl)) {
    details->Add(*retry);
    return;
  }
  const bool unavailable = status.code() == absl::StatusCode::kUnavailable;
  if (!unavailable && status.code() != absl::StatusCode::kAborted) return;
  google::rpc::RetryInfo retry;
  retry.mutable_retry_delay()->set_nanos(unavailable ? 500'000'000 : 100'000'000);
  details->Add(retry);
}

// The refusal that a status carries, in words.
std::optional<v1::Refusal> RefusalInWords(const absl::Status& status, WordsFn words) {
  absl::StatusOr<v1::Refusal> refusal = ledger::RefusalOf(status);
  if (!refusal.ok() || refusal->findings().empty()) return std::nullopt;
  for (v1::Finding& finding : *refusal->mutable_findings()) {
    if (finding.text().empty()) words(&finding);
  }
  if (refusal->finding_count() == 0) refusal->set_finding_count(refusal->findings_size());
  return *std::move(refusal);
}

}  // namespace

grpc::Status ToGrpc(const absl::Status& status, WordsFn words) {
  if (status.ok()) return grpc::Status::OK;
  const std::optional<v1::Refusal> refusal = RefusalInWords(status, words);
  const std::string message = refusal ? MessageOf(*refusal) : MessageOf(status);
  Details details(status.code(), message);
  google::rpc::ErrorInfo info = InfoOf(status, refusal ? &*refusal : nullptr);
  if (!details.Add(info)) {
    info.clear_metadata();
    details.Add(info);
  }
  AddRetry(status, &details);
  if (refusal) {
    AddFindings(*refusal, status.code() == absl::StatusCode::kFailedPrecondition, &details);
  }
  if (auto bad = Payload<google::rpc::BadRequest>(status, errors::kBadRequestUrl)) {
    AddBadRequest(*std::move(bad), &details);
  }
  return grpc::Status(static_cast<grpc::StatusCode>(status.code()), message,
                      details.status().SerializeAsString());
}

v1::Failure ToFailure(const absl::Status& status, WordsFn words) {
  v1::Failure failure;
  failure.set_code(static_cast<int>(status.code()));
  const std::optional<v1::Refusal> refusal = RefusalInWords(status, words);
  failure.set_message(refusal ? MessageOf(*refusal) : MessageOf(status));
  if (!refusal) return failure;
  v1::Refusal* kept = failure.mutable_refusal();
  kept->set_finding_count(refusal->finding_count());
  kept->set_repeated(refusal->repeated());
  for (const v1::Finding& finding : refusal->findings()) {
    if (kept->findings_size() >= kMaxViolations) break;
    *kept->add_findings() = finding;
    if (failure.ByteSizeLong() <= kMaxErrorDetailBytes) continue;
    *kept->mutable_findings(kept->findings_size() - 1) = Shortened(finding);
    if (failure.ByteSizeLong() <= kMaxErrorDetailBytes) continue;
    kept->mutable_findings()->RemoveLast();
    break;
  }
  return failure;
}

}  // namespace ferrule::service
