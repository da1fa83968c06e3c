// The one place where an absl::Status becomes what travels: a gRPC status with google.rpc details.
//
// Message and details are capped (limits.h); what does not fit is counted, never cut silently. Any
// code keeps its number. Details, each at most once: ErrorInfo (always), BadRequest (malformed
// fields), PreconditionFailure and ferrule.v1.Refusal (broken rules), RetryInfo (Unavailable and
// Aborted: send the same entry again).
#pragma once

#include "absl/functional/function_ref.h"
#include "absl/status/status.h"
#include "ferrule/v1/findings.pb.h"
#include "ferrule/v1/ledger_service.pb.h"
#include "grpcpp/support/status.h"

namespace ferrule::service {

// Puts one finding into words: text and remedy.
using WordsFn = absl::FunctionRef<void(v1::Finding*)>;

grpc::Status ToGrpc(const absl::Status& status, WordsFn words);

// The same for one entry of a batch. Precondition: not OK.
v1::Failure ToFailure(const absl::Status& status, WordsFn words);

}  // namespace ferrule::service
