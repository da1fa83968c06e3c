// What the depot's methods check in a request before core is asked.
#pragma once

#include <optional>
#include <string>

#include "absl/status/statusor.h"
#include "core/fact/subject.h"
#include "core/ledger/ledger.h"
#include "google/protobuf/timestamp.pb.h"

namespace ferrule::service {

// An instant that a request names. FIELD_INVALID when it is outside the years 1 to 9999.
absl::StatusOr<int64_t> InstantOf(std::string_view field, const google::protobuf::Timestamp& time);

// The subject that a request names, now or as known then. FIELD_INVALID when the name is malformed
// or of another kind; NotFound with reason SUBJECT_UNKNOWN when nothing is recorded about it.
struct SubjectQuery {
  const std::string& name;
  std::optional<fact::SubjectKind> kind;                    // any, when not given
  const google::protobuf::Timestamp* known_time = nullptr;  // now, when null
};
absl::StatusOr<ledger::StatePtr> FindSubject(ledger::Ledger& ledger, const SubjectQuery& query);

// The settings book, now or as known then.
absl::StatusOr<std::shared_ptr<const depot::SettingsBook>> FindBook(
    ledger::Ledger& ledger, const google::protobuf::Timestamp* known_time);

}  // namespace ferrule::service
