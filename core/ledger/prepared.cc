#include "core/ledger/prepared.h"

#include <utility>

#include "absl/strings/cord.h"
#include "absl/strings/str_cat.h"
#include "core/depot/settings_text.h"
#include "core/fact/subject.h"
#include "core/fact/validate.h"
#include "core/finding/catalog.h"
#include "core/ledger/chain.h"
#include "core/ledger/ledger.h"
#include "core/time/civil.h"
#include "google/protobuf/io/coded_stream.h"
#include "google/protobuf/io/zero_copy_stream_impl_lite.h"
#include "google/rpc/error_details.pb.h"

namespace ferrule::ledger {
namespace {

constexpr char kRefusalType[] = "type.googleapis.com/ferrule.v1.Refusal";
constexpr char kBadRequestType[] = "type.googleapis.com/google.rpc.BadRequest";
constexpr int kMostViolations = 20;

std::string Canonical(const v1::Entry& entry) {
  std::string out;
  out.reserve(entry.ByteSizeLong());
  {
    google::protobuf::io::StringOutputStream stream(&out);
    google::protobuf::io::CodedOutputStream coded(&stream);
    coded.SetSerializationDeterministic(true);
    entry.SerializeToCodedStream(&coded);
  }
  return out;
}

// An override that can never count is said outright, so that nobody believes a rule set aside.
void CheckOverrides(const v1::Entry& entry,
                    std::vector<std::pair<std::string, std::string>>* violations) {
  for (int i = 0; i < entry.facts_size(); ++i) {
    for (int j = 0; j < entry.facts(i).overrides_size(); ++j) {
      const v1::Reason rule = entry.facts(i).overrides(j).rule();
      const bool known = v1::Reason_IsValid(rule) && rule != v1::REASON_UNSPECIFIED;
      if (!known || finding::MayOverride(rule)) continue;
      violations->emplace_back(absl::StrCat("entry.facts[", i, "].overrides[", j, "].rule"),
                               std::string(finding::ReasonString(rule)) +
                                   " may not be set aside; leave the override out and do what the "
                                   "refusal says instead");
    }
  }
}

absl::Status CheckForm(const v1::Entry& entry) {
  std::vector<std::pair<std::string, std::string>> violations;
  for (const fact::Violation& v : fact::Validate(entry)) {
    violations.emplace_back(v.field, v.description);
  }
  CheckOverrides(entry, &violations);
  for (int i = 0; i < entry.facts_size(); ++i) {
    if (!entry.facts(i).has_settings_put()) continue;
    for (const depot::SettingsError& e :
         depot::ValidateSettings(entry.facts(i).settings_put().settings())) {
      violations.emplace_back(absl::StrCat("entry.facts[", i, "].settings_put.settings.", e.field),
                              e.message);
    }
  }
  if (violations.empty()) return absl::OkStatus();
  return MalformedEntry(violations);
}

}  // namespace

fact::FactView ViewOf(const v1::Entry& entry, int index, int64_t recorded_us, int64_t sequence) {
  fact::FactView view;
  view.entry = &entry;
  view.index = index;
  view.happened_us = time::ToMicros(entry.facts(index).happened_time());
  view.recorded_us = recorded_us;
  view.sequence = sequence;
  return view;
}

Prepared Prepare(v1::Entry entry) {
  Prepared out;
  out.entry = std::move(entry);
  out.malformed = CheckForm(out.entry);
  if (!out.malformed.ok()) return out;
  out.bytes = Canonical(out.entry);
  out.key = EntryKey(out.entry.entry_id());
  for (const v1::Fact& fact : out.entry.facts()) {
    out.subjects.push_back(fact::SubjectsOf(fact));
    out.happened_us.push_back(time::ToMicros(fact.happened_time()));
    for (const std::string& name : out.subjects.back()) {
      if (name == fact::kSettingsName) out.touches_settings = true;
    }
  }
  return out;
}

absl::Status MalformedEntry(const std::vector<std::pair<std::string, std::string>>& violations) {
  google::rpc::BadRequest details;
  for (const auto& [field, description] : violations) {
    if (details.field_violations_size() == kMostViolations) break;
    auto* v = details.add_field_violations();
    v->set_field(field);
    v->set_description(description);
  }
  std::string message = absl::StrCat(violations.front().first, ": ", violations.front().second);
  if (violations.size() > 1) {
    absl::StrAppend(&message, " (and ", violations.size() - 1, " more)");
  }
  absl::Status status = absl::InvalidArgumentError(message);
  status.SetPayload(kBadRequestType, absl::Cord(details.SerializeAsString()));
  return status;
}

absl::Status RefusedStatus(const v1::Refusal& refusal) {
  const v1::Finding& first = refusal.findings(0);
  std::string message = absl::StrCat("refused: ", first.text());
  if (refusal.finding_count() > 1) {
    absl::StrAppend(&message, " (and ", refusal.finding_count() - 1, " more)");
  }
  absl::Status status(finding::CodeOf(first.reason()), message);
  status.SetPayload(kRefusalType, absl::Cord(refusal.SerializeAsString()));
  return status;
}

absl::StatusOr<v1::Refusal> RefusalOf(const absl::Status& status) {
  auto payload = status.GetPayload(kRefusalType);
  v1::Refusal refusal;
  if (!payload.has_value() || !refusal.ParseFromString(std::string(*payload))) {
    return absl::NotFoundError("the status carries no refusal");
  }
  return refusal;
}

std::string RememberedForm(const absl::Status& status) {
  v1::Failure failure;
  failure.set_code(static_cast<int>(status.code()));
  failure.set_message(std::string(status.message()));
  absl::StatusOr<v1::Refusal> refusal = RefusalOf(status);
  if (refusal.ok()) *failure.mutable_refusal() = *refusal;
  return failure.SerializeAsString();
}

absl::Status StatusFromRemembered(std::string_view bytes) {
  v1::Failure failure;
  if (!failure.ParseFromArray(bytes.data(), static_cast<int>(bytes.size()))) {
    return absl::DataLossError("a remembered refusal cannot be read; run: ferruled verify");
  }
  failure.mutable_refusal()->set_repeated(true);
  absl::Status status(static_cast<absl::StatusCode>(failure.code()), failure.message());
  status.SetPayload(kRefusalType, absl::Cord(failure.refusal().SerializeAsString()));
  return status;
}

}  // namespace ferrule::ledger
