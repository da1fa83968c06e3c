#include "service/errors.h"

#include "absl/strings/cord.h"
#include "absl/strings/str_cat.h"
#include "absl/time/time.h"
#include "google/rpc/error_details.pb.h"
#include "service/limits.h"

namespace ferrule::service::errors {

absl::Status WithReason(absl::Status status, std::string_view reason, const Metadata& metadata) {
  google::rpc::ErrorInfo info;
  info.set_reason(std::string(reason));
  info.set_domain("ferrule");
  for (const auto& [key, value] : metadata) (*info.mutable_metadata())[key] = value;
  status.SetPayload(kErrorInfoUrl, absl::Cord(info.SerializeAsString()));
  return status;
}

absl::Status FieldInvalid(std::string_view field, std::string_view description) {
  google::rpc::BadRequest bad;
  auto* violation = bad.add_field_violations();
  violation->set_field(std::string(field));
  violation->set_description(std::string(description));
  absl::Status status =
      absl::InvalidArgumentError(absl::StrCat(std::string(field), ": ", std::string(description)));
  status.SetPayload(kBadRequestUrl, absl::Cord(bad.SerializeAsString()));
  return WithReason(std::move(status), "FIELD_INVALID", {{"field", std::string(field)}});
}

absl::Status MalformedMessage(std::string_view type) {
  return WithReason(absl::InvalidArgumentError(absl::StrCat(
                        "the request's bytes are no ", std::string(type),
                        "; build it with the published messages, and send text as valid UTF-8")),
                    "MESSAGE_MALFORMED", {{"type", std::string(type)}});
}

absl::Status PageTokenMismatch() {
  return WithReason(absl::InvalidArgumentError(
                        "page_token was not given for these arguments; ask for the first page "
                        "again with an empty page_token"),
                    "PAGE_TOKEN_MISMATCH");
}

absl::Status SettingsVersionUnknown(std::string_view version) {
  return WithReason(
      absl::NotFoundError(absl::StrCat("there are no settings of version \"", std::string(version),
                                       "\"; GetSettings without a version lists them all")),
      "SETTINGS_VERSION_UNKNOWN", {{"version", std::string(version)}});
}

absl::Status NoSettings() {
  return WithReason(absl::NotFoundError("the depot has no settings yet; write a settings file and "
                                        "apply it: ferrule settings apply FILE"),
                    "SETTINGS_MISSING");
}

absl::Status ServiceUnknown(std::string_view service) {
  return WithReason(
      absl::NotFoundError(absl::StrCat("no service is called \"", std::string(service),
                                       "\"; leave the name empty to ask after the whole server")),
      "SERVICE_UNKNOWN", {{"service", std::string(service)}});
}

absl::Status AnswerTooLarge(size_t bytes) {
  return WithReason(absl::ResourceExhaustedError(absl::StrCat(
                        "the answer has ", bytes, " bytes and a message at most ", kMaxMessageBytes,
                        "; ask for a smaller page or for one branch")),
                    "MESSAGE_TOO_LARGE",
                    {{"bytes", absl::StrCat(bytes)}, {"limit", absl::StrCat(kMaxMessageBytes)}});
}

absl::Status SequenceBeyondHead(int64_t asked, int64_t head) {
  return WithReason(
      absl::OutOfRangeError(absl::StrCat(
          "entries after ", asked, " were asked for, and the ledger ends at ", head,
          "; if it was restored from a backup, start again from 0, otherwise check the number")),
      "SEQUENCE_BEYOND_HEAD",
      {{"after_sequence", absl::StrCat(asked)}, {"head_sequence", absl::StrCat(head)}});
}

absl::Status TooManyWatches() {
  return WithReason(
      absl::ResourceExhaustedError(absl::StrCat(
          kMaxWatches, " feeds are open, which is the most; close some, or use ListEntries")),
      "TOO_MANY_WATCHES", {{"limit", absl::StrCat(kMaxWatches)}});
}

absl::Status TooBusy() {
  return WithReason(absl::UnavailableError("too many reports wait already; try again in a moment"),
                    "BUSY");
}

absl::Status TooLate() {
  return WithReason(
      absl::DeadlineExceededError(absl::StrCat(
          "not done within the time the caller gave or ", absl::FormatDuration(kDeadlineCeiling),
          "; an entry may have been recorded: send the same entry again to learn what became of "
          "it")),
      "DEADLINE");
}

absl::Status Draining(int64_t through) {
  Metadata metadata;
  std::string next = "connect again";
  if (through >= 0) {
    metadata.emplace_back("through_sequence", absl::StrCat(through));
    absl::StrAppend(&next, " and go on after ", through);
  }
  return WithReason(absl::UnavailableError(absl::StrCat("the server is ending; ", next)),
                    "DRAINING", metadata);
}

absl::Status Incident(std::string_view incident) {
  return WithReason(
      absl::InternalError(absl::StrCat("a fault of the program, incident ", std::string(incident),
                                       "; report that number: the server's log has the rest")),
      "INCIDENT", {{"incident", std::string(incident)}});
}

}  // namespace ferrule::service::errors
