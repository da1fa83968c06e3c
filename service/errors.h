// The service's own errors, each a function; rules have theirs in core/finding/catalog.cc. Every
// status here carries a google.rpc.ErrorInfo whose reason never changes its meaning; clients look
// at the reason and never at the text.
#pragma once

#include <cstddef>
#include <cstdint>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "absl/status/status.h"
#include "ferrule/v1/access.pb.h"

namespace ferrule::service::errors {

// The type URLs of details that a status may carry as payloads.
inline constexpr char kErrorInfoUrl[] = "type.googleapis.com/google.rpc.ErrorInfo";
inline constexpr char kBadRequestUrl[] = "type.googleapis.com/google.rpc.BadRequest";
inline constexpr char kRetryInfoUrl[] = "type.googleapis.com/google.rpc.RetryInfo";

using Metadata = std::vector<std::pair<std::string, std::string>>;

// Gives a status its reason and the values its text names.
absl::Status WithReason(absl::Status status, std::string_view reason,
                        const Metadata& metadata = {});

// One malformed field of a request: FIELD_INVALID.
absl::Status FieldInvalid(std::string_view field, std::string_view description);
// The bytes are no message of the type: MESSAGE_MALFORMED.
absl::Status MalformedMessage(std::string_view type);
// A page token that this list did not give for these arguments: PAGE_TOKEN_MISMATCH.
absl::Status PageTokenMismatch();
// No such settings version: SETTINGS_VERSION_UNKNOWN.
absl::Status SettingsVersionUnknown(std::string_view version);
// No settings were ever applied: SETTINGS_MISSING.
absl::Status NoSettings();
// No such service whose health could be told: SERVICE_UNKNOWN.
absl::Status ServiceUnknown(std::string_view service);
// The answer is larger than a message may be: MESSAGE_TOO_LARGE.
absl::Status AnswerTooLarge(size_t bytes);
// The feed is asked from beyond the ledger's end: SEQUENCE_BEYOND_HEAD.
absl::Status SequenceBeyondHead(int64_t asked, int64_t head);
// Too many feeds: TOO_MANY_WATCHES.
absl::Status TooManyWatches();
// Too many reports wait: BUSY.
absl::Status TooBusy();
// The time allowed is over: DEADLINE.
absl::Status TooLate();
// Nobody said who calls: NOT_IDENTIFIED.
absl::Status NotIdentified();
// A token that nobody was given: TOKEN_UNKNOWN. TOKEN_EXPIRED and TOKEN_REVOKED name its id.
absl::Status TokenUnknown();
absl::Status TokenExpired(std::string_view id);
absl::Status TokenRevoked(std::string_view id);
// The access rules give the caller no such right, there or at all: NOT_ALLOWED. Where "there" is
// stays unsaid: it may be more than the caller knew.
absl::Status NotAllowed(std::string_view principal, v1::Right right);
// A method that no rule lists: METHOD_NOT_LISTED.
absl::Status MethodNotListed(std::string_view path);
// The entry names another reporter than the caller: ACTOR_NOT_CALLER.
absl::Status ActorNotCaller(std::string_view actor, std::string_view principal);
// The access rules ask a competence for this work that the person did not have that day:
// NOT_COMPETENT.
absl::Status NotCompetent(std::string_view person, std::string_view kind, std::string_view day);
// Too many calls, or wrong tokens, of one caller: RATE, with the time to wait.
absl::Status TooManyCalls(std::string_view principal, int64_t wait_us);
// Too many streams of one caller at once: TOO_MANY_STREAMS.
absl::Status TooManyStreams(std::string_view principal);
// A feed's reader takes nothing: SLOW_CONSUMER. `through` is the last position it took.
absl::Status SlowConsumer(int64_t through);
// The server ends: DRAINING. `through` is the last position that a feed sent, -1 for other calls.
absl::Status Draining(int64_t through);
// A fault of the program, told by number only: INCIDENT.
absl::Status Incident(std::string_view incident);

}  // namespace ferrule::service::errors
