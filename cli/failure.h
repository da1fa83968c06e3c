// Why a command failed: exit codes, and errors of the service in words.
#pragma once

#include <string>

#include "absl/status/status.h"
#include "grpcpp/support/status.h"

namespace ferrule::cli {

enum class Exit {
  kDone = 0,
  kRefused = 1,      // a rule forbids it
  kUsage = 2,        // wrong words, or a malformed report
  kNotFound = 3,     // nothing of that name
  kUnavailable = 4,  // no depot, no server, or an unknown outcome
};

// The service's status with its details kept.
absl::Status FromGrpc(const grpc::Status& status);

// Marks a status as "the depot cannot be had", whatever its code.
absl::Status CannotReach(const absl::Status& status);

Exit ExitOf(const absl::Status& status);

// Whether it is open if the report was recorded: the answer was lost, not the question.
bool OutcomeUnknown(const absl::Status& status);

// Every reason with what to do next, for people; ends with a line break.
std::string FailureText(const absl::Status& status);
// The same as one JSON object: code, message, exit_code, findings, violations.
std::string FailureJson(const absl::Status& status);

}  // namespace ferrule::cli
