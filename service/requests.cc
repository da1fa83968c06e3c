#include "service/requests.h"

#include "absl/strings/str_cat.h"
#include "core/time/civil.h"
#include "google/protobuf/util/time_util.h"
#include "service/errors.h"

namespace ferrule::service {
namespace {

using google::protobuf::util::TimeUtil;

const char* Example(fact::SubjectKind kind) {
  switch (kind) {
    case fact::SubjectKind::kUnit:
      return "a unit, for instance units/K-0417";
    case fact::SubjectKind::kPart:
      return "a part, for instance parts/PEN-88";
    case fact::SubjectKind::kLot:
      return "a lot, for instance lots/PAD-2231";
    case fact::SubjectKind::kOrder:
      return "an order, for instance orders/R-2001";
    case fact::SubjectKind::kSettings:
      return "settings/depot";
    case fact::SubjectKind::kForecasts:
      return "a branch's forecasts, for instance forecasts/north";
    case fact::SubjectKind::kTester:
      return "a tester, for instance testers/T-3";
    case fact::SubjectKind::kItem:
      return "an item of the stores, for instance items/walker";
    case fact::SubjectKind::kTransfer:
      return "a transfer, for instance transfers/T-4";
    case fact::SubjectKind::kCount:
      return "a stocktake, for instance counts/C-7";
    case fact::SubjectKind::kRecall:
      return "a recall, for instance recalls/N-7";
    case fact::SubjectKind::kComplaint:
      return "a complaint, for instance complaints/B-31";
    case fact::SubjectKind::kPlace:
      return "a place, for instance places/north-closet";
  }
  return "a subject";
}

}  // namespace

absl::StatusOr<int64_t> InstantOf(std::string_view field, const google::protobuf::Timestamp& time) {
  if (time.seconds() < TimeUtil::kTimestampMinSeconds ||
      time.seconds() > TimeUtil::kTimestampMaxSeconds || time.nanos() < 0 ||
      time.nanos() > 999'999'999) {
    return errors::FieldInvalid(field,
                                "is no instant; give seconds within the years 1 to 9999 and nanos "
                                "from 0 to 999,999,999");
  }
  return time::ToMicros(time);
}

absl::StatusOr<ledger::StatePtr> FindSubject(ledger::Ledger& ledger, const SubjectQuery& query) {
  const absl::StatusOr<fact::Subject> subject = fact::ParseSubjectName(query.name);
  if (!subject.ok()) {
    return errors::FieldInvalid("name", std::string(subject.status().message()));
  }
  if (query.kind.has_value() && subject->kind != *query.kind) {
    return errors::FieldInvalid(
        "name", absl::StrCat("is \"", query.name, "\"; give the name of ", Example(*query.kind)));
  }
  absl::StatusOr<ledger::StatePtr> state = absl::UnknownError("");
  if (query.known_time == nullptr) {
    state = ledger.Get(query.name);
  } else {
    const absl::StatusOr<int64_t> known_us = InstantOf("known_time", *query.known_time);
    if (!known_us.ok()) return known_us.status();
    state = ledger.GetKnownAt(query.name, *known_us);
  }
  if (absl::IsNotFound(state.status())) {
    return errors::WithReason(state.status(), "SUBJECT_UNKNOWN", {{"name", query.name}});
  }
  return state;
}

absl::StatusOr<std::shared_ptr<const depot::SettingsBook>> FindBook(
    ledger::Ledger& ledger, const google::protobuf::Timestamp* known_time) {
  if (known_time == nullptr) return ledger.Book();
  const absl::StatusOr<int64_t> known_us = InstantOf("known_time", *known_time);
  if (!known_us.ok()) return known_us.status();
  return ledger.BookKnownAt(*known_us);
}

}  // namespace ferrule::service
