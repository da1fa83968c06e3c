// Subjects: what facts are about, and which subjects each kind of fact has. The one place that
// knows; the ledger's index, the folds and the feed all ask here.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "absl/functional/function_ref.h"
#include "absl/status/statusor.h"
#include "ferrule/v1/facts.pb.h"

namespace ferrule::fact {

// The numbers stand in stored rows.
enum class SubjectKind {
  kUnit = 1,
  kPart = 2,
  kLot = 3,
  kOrder = 4,
  kSettings = 5,
  kForecasts = 40,
  kTester = 45,
  kItem = 50,
  kTransfer = 51,
  kCount = 52,
  kRecall = 53,
  kPlace = 54,
  kComplaint = 55,
};

// "units/K-0417", "parts/...", "lots/...", "orders/...", "testers/T-3" and so on; the settings are
// "settings/depot", the kept forecasts of a branch "forecasts/north".
std::string SubjectName(SubjectKind kind, std::string_view id);
inline constexpr std::string_view kSettingsName = "settings/depot";

struct Subject {
  SubjectKind kind;
  std::string_view id;  // points into the parsed text
};
// Splits a full name; InvalidArgument says which form is right.
absl::StatusOr<Subject> ParseSubjectName(std::string_view name);

// The part of a full name behind the slash, "K-0417" of "units/K-0417"; what has no slash is an id
// already.
std::string BareId(std::string_view name);

// Whether a bare id is well formed (proto/ferrule/v1/common.proto says how).
inline constexpr size_t kMaxIdLength = 64;
bool IsValidId(std::string_view id);

// Visits a fact's subjects, each once, in a stable order, without allocating; the ids point into
// the fact. An empty id, or a reversal's malformed name, is no subject.
void ForEachSubject(const v1::Fact& fact,
                    absl::FunctionRef<void(SubjectKind, std::string_view id)> visit);

// Full names of a fact's subjects, in the same order.
std::vector<std::string> SubjectsOf(const v1::Fact& fact);

}  // namespace ferrule::fact
