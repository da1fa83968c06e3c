#include "core/trace/exposure.h"

#include <algorithm>
#include <string>

#include "absl/strings/match.h"
#include "absl/strings/str_cat.h"
#include "core/bench/replay.h"
#include "core/ledger/history.h"
#include "core/ledger/span_rows.h"
#include "core/time/civil.h"
#include "core/trace/queries.h"
#include "core/trace/spans.h"

namespace ferrule::trace {
namespace {

using store::Value;

constexpr int kMostRows = 1'000;

// The stretch [from, to) in which the unit was not clean.
struct Soiled {
  int64_t from_us = 0;
  int64_t to_us = fold::kLasts;
  bool found = false;
};

// The last such stretch that covers `at_us`, or the last one of all.
Soiled FindSoiled(const std::string& name, const ledger::History& history,
                  const depot::SettingsBook& book, int64_t at_us) {
  Soiled soiled;
  bool open = false;
  bench::Replay(name, history.views(), book, [&](const bench::Moment& moment) {
    const bool clean = moment.after.hygiene() == v1::HYGIENE_CLEANED;
    const int64_t us = moment.view.happened_us;
    // Every return begins a stretch of its own: other people's soil.
    const bool returned = !bench::Same(moment.before.returned(), moment.after.returned());
    const bool begins = !clean && (!open || returned);
    if (begins && us <= at_us) soiled = {us, fold::kLasts, true};
    if (clean && soiled.found && soiled.to_us == fold::kLasts && us >= soiled.from_us) {
      soiled.to_us = us;
    }
    open = !clean;
  });
  return soiled;
}

void AddBeside(const std::string& unit, const fold::Span& mine, const fold::Span& other,
               const std::string& other_name, v1::ReportExposureResponse* response) {
  if (other_name == unit) return;
  if (response->beside_size() == kMostRows) {
    response->set_left_out_count(response->left_out_count() + 1);
    return;
  }
  fold::Span both = other;
  both.from_us = std::max(mine.from_us, other.from_us);
  both.to_us = std::min(mine.to_us, other.to_us);
  if (both.from_us < both.to_us) PutSpan(other_name, both, response->add_beside());
}

}  // namespace

absl::StatusOr<v1::ReportExposureResponse> ReportExposure(ledger::Ledger& ledger,
                                                          const v1::ReportExposureRequest& request,
                                                          int64_t now_us) {
  const int64_t at_us = request.has_from_time() ? time::ToMicros(request.from_time()) : now_us;
  const auto book = ledger.Book();
  v1::ReportExposureResponse response;
  absl::Status status = ledger.WithReader([&](store::Connection& connection) -> absl::Status {
    absl::StatusOr<int64_t> id = SubjectId(connection, request.name());
    if (!id.ok()) return id.status();
    ledger::History history;
    absl::Status loaded = history.Load(connection, *id, ledger.head().sequence);
    if (!loaded.ok()) return loaded;
    const Soiled soiled = FindSoiled(request.name(), history, *book, at_us);
    if (!soiled.found || (request.has_from_time() && soiled.to_us <= at_us)) {
      return absl::InvalidArgumentError(
          absl::StrCat(request.name(),
                       " was not soiled then; give the time of a return, or leave "
                       "from_time out for the last one"));
    }
    time::SetMicros(soiled.from_us, response.mutable_from_time());
    if (soiled.to_us != fold::kLasts) time::SetMicros(soiled.to_us, response.mutable_to_time());
    auto spans = SpansOf(connection, *id, soiled.from_us, soiled.to_us);
    if (!spans.ok()) return spans.status();
    for (fold::Span& span : *spans) {
      if (span.kind != v1::SPAN_KIND_CUSTODY) continue;
      span.from_us = std::max(span.from_us, soiled.from_us);
      span.to_us = std::min(span.to_us, soiled.to_us);
      PutSpan(request.name(), span, response.add_holders());
      // A home is one patient's; in places and on transfers things stand side by side.
      if (absl::StartsWith(span.holder, "orders/") || span.holder == "nobody") continue;
      const Value parameters[] = {Value::Text(span.holder), Value::Int(span.from_us),
                                  Value::Int(span.to_us), Value::Int(INT64_MIN),
                                  Value::Int(INT64_MAX)};
      absl::Status beside =
          connection.Run(sql::kSpansOfHolder, parameters, [&](const store::Row& row) {
            AddBeside(request.name(), span, ledger::SpanFromRow(row, 0), std::string(row.Bytes(8)),
                      &response);
          });
      if (!beside.ok()) return beside;
    }
    return absl::OkStatus();
  });
  if (!status.ok()) return status;
  return response;
}

}  // namespace ferrule::trace
