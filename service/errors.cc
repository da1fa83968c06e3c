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

absl::Status NotIdentified() {
  return WithReason(absl::UnauthenticatedError(
                        "this depot asks who calls; send the header \"authorization: Bearer "
                        "TOKEN\", with ferrule --token-file FILE; the depot's administrator issues "
                        "tokens: ferrule token issue NAME"),
                    "NOT_IDENTIFIED");
}

absl::Status TokenUnknown() {
  return WithReason(absl::UnauthenticatedError(
                        "this token is not one of the depot's; check that it is whole, or ask the "
                        "depot's administrator for another"),
                    "TOKEN_UNKNOWN");
}

absl::Status TokenExpired(std::string_view id) {
  return WithReason(
      absl::UnauthenticatedError(absl::StrCat("token ", std::string(id),
                                              " has ended; ask the depot's administrator for "
                                              "another")),
      "TOKEN_EXPIRED", {{"token", std::string(id)}});
}

absl::Status TokenRevoked(std::string_view id) {
  return WithReason(absl::UnauthenticatedError(absl::StrCat(
                        "token ", std::string(id), " was revoked; ask the depot's administrator")),
                    "TOKEN_REVOKED", {{"token", std::string(id)}});
}

absl::Status NotAllowed(std::string_view principal, v1::Right right) {
  const std::string name = v1::Right_Name(right);
  return WithReason(
      absl::PermissionDeniedError(absl::StrCat(
          std::string(principal),
          " may not do this, or what is asked for does not exist; name one of your branches, or "
          "ask for a role with ",
          name, " in the access rules")),
      "NOT_ALLOWED", {{"principal", std::string(principal)}, {"right", name}});
}

absl::Status MethodNotListed(std::string_view path) {
  return WithReason(absl::PermissionDeniedError(absl::StrCat(
                        "nobody may call ", std::string(path),
                        ": no rule lists it; report this to whoever built the server")),
                    "METHOD_NOT_LISTED", {{"method", std::string(path)}});
}

absl::Status ActorNotCaller(std::string_view actor, std::string_view principal) {
  return WithReason(absl::PermissionDeniedError(absl::StrCat(
                        "the report names ", std::string(actor), " as its actor and comes from ",
                        std::string(principal), "; leave the actor out, or let ",
                        std::string(actor), " report with a token of their own")),
                    "ACTOR_NOT_CALLER",
                    {{"actor", std::string(actor)}, {"principal", std::string(principal)}});
}

absl::Status NotCompetent(std::string_view person, std::string_view kind, std::string_view day) {
  return WithReason(
      absl::PermissionDeniedError(absl::StrCat(
          std::string(person), " had no competence for ", std::string(kind), " on ",
          std::string(day),
          " by the access rules; let somebody do the work who has it, or have a competence that is "
          "missing entered in the rules")),
      "NOT_COMPETENT",
      {{"person", std::string(person)}, {"kind", std::string(kind)}, {"day", std::string(day)}});
}

absl::Status TooManyCalls(std::string_view principal, int64_t wait_us) {
  google::rpc::RetryInfo retry;
  retry.mutable_retry_delay()->set_seconds(wait_us / 1'000'000);
  retry.mutable_retry_delay()->set_nanos(static_cast<int32_t>(wait_us % 1'000'000) * 1'000);
  absl::Status status = absl::ResourceExhaustedError(
      principal.empty()
          ? std::string("too many wrong tokens came from this machine; wait a moment, and check "
                        "the token")
          : absl::StrCat(std::string(principal), " asks more than ", kCallsPerSecond,
                         " times a second; wait a moment, and send entries in batches"));
  status.SetPayload(kRetryInfoUrl, absl::Cord(retry.SerializeAsString()));
  return WithReason(std::move(status), "RATE", {{"principal", std::string(principal)}});
}

absl::Status TooManyStreams(std::string_view principal) {
  return WithReason(
      absl::ResourceExhaustedError(
          absl::StrCat(std::string(principal), " has ", kMaxStreamsPerPrincipal,
                       " streams open, which is the most; end some first")),
      "TOO_MANY_STREAMS",
      {{"principal", std::string(principal)}, {"limit", absl::StrCat(kMaxStreamsPerPrincipal)}});
}

absl::Status SlowConsumer(int64_t through) {
  Metadata metadata;
  std::string next = "read faster";
  if (through >= 0) {
    metadata.emplace_back("through_sequence", absl::StrCat(through));
    next = absl::StrCat("go on after ", through, " once you can take what comes");
  }
  return WithReason(
      absl::UnavailableError(absl::StrCat("nothing was taken from this stream for ",
                                          absl::FormatDuration(kSlowReader), "; ", next)),
      "SLOW_CONSUMER", metadata);
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
