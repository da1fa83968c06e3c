// Who had what, from when to when, in true time.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "absl/status/statusor.h"
#include "core/fold/spans.h"
#include "core/ledger/ledger.h"
#include "ferrule/v1/trace_service.pb.h"

namespace ferrule::trace {

// The row of a subject in the states; NotFound when nothing is recorded about it.
absl::StatusOr<int64_t> SubjectId(store::Connection& connection, const std::string& name);
// Spans of a subject that overlap [from_us, to_us), in the order of their beginnings.
absl::StatusOr<std::vector<fold::Span>> SpansOf(store::Connection& connection, int64_t subject_id,
                                                int64_t from_us, int64_t to_us);
// The message that a span travels as.
void PutSpan(const std::string& subject, const fold::Span& span, v1::Span* out);

// NotFound when nothing is recorded about the subject.
absl::StatusOr<v1::ListHoldersResponse> ListHolders(ledger::Ledger& ledger,
                                                    const v1::ListHoldersRequest& request,
                                                    int64_t now_us);
// A holder that had nothing gives an empty list.
absl::StatusOr<v1::ListHeldResponse> ListHeld(ledger::Ledger& ledger,
                                              const v1::ListHeldRequest& request, int64_t now_us);
// InvalidArgument when neither a part nor a lot of parts is named.
absl::StatusOr<v1::ReportPathResponse> ReportPath(ledger::Ledger& ledger,
                                                  const v1::ReportPathRequest& request,
                                                  int64_t now_us);

}  // namespace ferrule::trace
