#include "service/words.h"

#include "core/finding/catalog.h"
#include "core/fold/zone.h"

namespace ferrule::service {

absl::TimeZone ZoneOfSubject(ledger::Ledger& ledger, std::string_view subject_name) {
  const auto book = ledger.Book();
  if (book == nullptr) return absl::UTCTimeZone();
  const depot::Rules& rules = book->At(ledger.clock().NowMicros());
  const absl::StatusOr<ledger::StatePtr> state = ledger.Get(subject_name);
  return fold::ZoneOf(state.ok() ? state->get() : nullptr, rules);
}

void PutIntoWords(ledger::Ledger& ledger, v1::Finding* finding) {
  if (!finding->text().empty()) return;
  finding::PutIntoWords(ZoneOfSubject(ledger, finding->subject()), finding);
}

bool HasFindings(const v1::SubjectState& state) {
  return !state.questions().empty() || !state.overrides().empty();
}

void PutIntoWords(ledger::Ledger& ledger, v1::SubjectState* state) {
  for (v1::Finding& question : *state->mutable_questions()) PutIntoWords(ledger, &question);
  for (v1::OverrideUsed& used : *state->mutable_overrides()) {
    PutIntoWords(ledger, used.mutable_finding());
  }
}

}  // namespace ferrule::service
