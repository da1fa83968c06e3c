#include "core/trace/spans.h"

#include <algorithm>
#include <utility>

#include "absl/strings/numbers.h"
#include "absl/strings/str_cat.h"
#include "absl/strings/str_split.h"
#include "core/fold/fold.h"
#include "core/ledger/history.h"
#include "core/ledger/span_rows.h"
#include "core/time/civil.h"
#include "core/trace/queries.h"

namespace ferrule::trace {
namespace {

using store::Value;

constexpr int kMostPathRows = 2'000;

// Where a page begins: at the spans that begin at an instant, after the first few of them.
struct Position {
  int64_t from_us = INT64_MIN;
  int skip = 0;
};

absl::StatusOr<Position> ParseToken(const std::string& token) {
  Position position;
  if (token.empty()) return position;
  const std::vector<std::string> parts = absl::StrSplit(token, ':');
  if (parts.size() != 2 || !absl::SimpleAtoi(parts[0], &position.from_us) ||
      !absl::SimpleAtoi(parts[1], &position.skip) || position.skip < 0) {
    return absl::InvalidArgumentError("page_token is not one that an earlier answer gave");
  }
  return position;
}

// The token for the page after `shown`, spans in the order of their beginnings.
template <typename Spans>
std::string TokenAfter(const Spans& shown, const Position& at) {
  const int64_t last_us = time::ToMicros(shown.rbegin()->from_time());
  int same = 0;
  for (auto it = shown.rbegin(); it != shown.rend(); ++it) {
    if (time::ToMicros(it->from_time()) != last_us) break;
    ++same;
  }
  const bool all_same = last_us == at.from_us;
  return absl::StrCat(last_us, ":", same + (all_same ? at.skip : 0));
}

template <typename Request>
std::pair<int64_t, int64_t> Window(const Request& request) {
  return {request.has_from_time() ? time::ToMicros(request.from_time()) : INT64_MIN,
          request.has_to_time() ? time::ToMicros(request.to_time()) : INT64_MAX};
}

bool BeginsBefore(const fold::Span& a, const fold::Span& b) {
  if (a.from_us != b.from_us) return a.from_us < b.from_us;
  return a < b;
}

absl::StatusOr<std::vector<fold::Span>> KnownSpans(store::Connection& connection, int64_t id,
                                                   const std::string& name, int64_t known_us,
                                                   int64_t head_sequence,
                                                   const depot::SettingsBook& book) {
  auto through = ledger::SequenceKnownAt(connection, known_us, head_sequence);
  if (!through.ok()) return through.status();
  ledger::History history;
  if (absl::Status loaded = history.Load(connection, id, *through); !loaded.ok()) return loaded;
  fold::SpanChanges spans;
  v1::SubjectState state;
  fold::Fold(name, history.views(), book, &state, &spans);
  return std::move(spans.begun);
}

}  // namespace

absl::StatusOr<int64_t> SubjectId(store::Connection& connection, const std::string& name) {
  int64_t id = 0;
  const Value parameters[] = {Value::Text(name)};
  absl::Status status =
      connection.Run(sql::kSubjectId, parameters, [&](const store::Row& row) { id = row.Int(0); });
  if (!status.ok()) return status;
  if (id != 0) return id;
  return absl::NotFoundError(absl::StrCat("nothing is recorded about ", name,
                                          "; check the number, or list what there is"));
}

absl::StatusOr<std::vector<fold::Span>> SpansOf(store::Connection& connection, int64_t subject_id,
                                                int64_t from_us, int64_t to_us) {
  std::vector<fold::Span> spans;
  const Value parameters[] = {Value::Int(subject_id), Value::Int(to_us), Value::Int(from_us)};
  absl::Status status =
      connection.Run(sql::kSpansOfSubject, parameters,
                     [&](const store::Row& row) { spans.push_back(ledger::SpanFromRow(row, 0)); });
  if (!status.ok()) return status;
  std::sort(spans.begin(), spans.end(), BeginsBefore);
  return spans;
}

void PutSpan(const std::string& subject, const fold::Span& span, v1::Span* out) {
  out->set_kind(span.kind);
  out->set_subject(subject);
  out->set_holder(span.holder);
  out->set_detail(span.detail);
  out->set_lot(span.lot);
  out->set_piece_count(span.piece_count);
  time::SetMicros(span.from_us, out->mutable_from_time());
  if (span.to_us != fold::kLasts) time::SetMicros(span.to_us, out->mutable_to_time());
}

absl::StatusOr<v1::ListHoldersResponse> ListHolders(ledger::Ledger& ledger,
                                                    const v1::ListHoldersRequest& request,
                                                    int64_t /*now_us*/) {
  absl::StatusOr<Position> at = ParseToken(request.page_token());
  if (!at.ok()) return at.status();
  const auto [from_us, to_us] = Window(request);
  const auto book = ledger.Book();
  v1::ListHoldersResponse response;
  std::vector<fold::Span> spans;
  absl::Status status = ledger.WithReader([&](store::Connection& connection) -> absl::Status {
    absl::StatusOr<int64_t> id = SubjectId(connection, request.name());
    if (!id.ok()) return id.status();
    auto found = request.has_known_time() ? KnownSpans(connection, *id, request.name(),
                                                       time::ToMicros(request.known_time()),
                                                       ledger.head().sequence, *book)
                                          : SpansOf(connection, *id, from_us, to_us);
    if (!found.ok()) return found.status();
    spans = *std::move(found);
    return absl::OkStatus();
  });
  if (!status.ok()) return status;
  std::sort(spans.begin(), spans.end(), BeginsBefore);
  int skip = at->skip;
  for (const fold::Span& span : spans) {
    if (span.from_us >= to_us || span.to_us <= from_us || span.from_us < at->from_us) continue;
    if (span.from_us == at->from_us && skip-- > 0) continue;
    if (response.spans_size() == request.page_size()) {
      response.set_next_page_token(TokenAfter(response.spans(), *at));
      break;
    }
    PutSpan(request.name(), span, response.add_spans());
  }
  return response;
}

absl::StatusOr<v1::ListHeldResponse> ListHeld(ledger::Ledger& ledger,
                                              const v1::ListHeldRequest& request,
                                              int64_t /*now_us*/) {
  absl::StatusOr<Position> at = ParseToken(request.page_token());
  if (!at.ok()) return at.status();
  const auto [from_us, to_us] = Window(request);
  v1::ListHeldResponse response;
  int skip = at->skip;
  bool more = false;
  const Value parameters[] = {Value::Text(request.holder()), Value::Int(from_us), Value::Int(to_us),
                              Value::Int(at->from_us),
                              Value::Int(int64_t{request.page_size()} + at->skip + 1)};
  absl::Status status = ledger.WithReader([&](store::Connection& connection) {
    return connection.Run(sql::kSpansOfHolder, parameters, [&](const store::Row& row) {
      const fold::Span span = ledger::SpanFromRow(row, 0);
      if (span.from_us == at->from_us && skip-- > 0) return;
      if (response.spans_size() == request.page_size()) {
        more = true;
        return;
      }
      PutSpan(std::string(row.Bytes(8)), span, response.add_spans());
    });
  });
  if (!status.ok()) return status;
  if (more) response.set_next_page_token(TokenAfter(response.spans(), *at));
  return response;
}

absl::StatusOr<v1::ReportPathResponse> ReportPath(ledger::Ledger& ledger,
                                                  const v1::ReportPathRequest& request,
                                                  int64_t /*now_us*/) {
  if (request.name().empty() == request.part_lot().empty()) {
    return absl::InvalidArgumentError(
        "name a part, for instance parts/PEN-88, or a lot of parts: one of the two");
  }
  v1::ReportPathResponse response;
  const bool by_lot = request.name().empty();
  const Value parameters[] = {Value::Text(by_lot ? request.part_lot() : request.name()),
                              Value::Int(INT64_MAX)};
  absl::Status status = ledger.WithReader([&](store::Connection& connection) -> absl::Status {
    if (!by_lot) {
      absl::StatusOr<int64_t> id = SubjectId(connection, request.name());
      if (!id.ok()) return id.status();
    }
    return connection.Run(by_lot ? sql::kPathOfLot : sql::kPathOfPart, parameters,
                          [&](const store::Row& row) {
                            if (response.rows_size() == kMostPathRows) {
                              response.set_left_out_count(response.left_out_count() + 1);
                              return;
                            }
                            v1::PathRow* out = response.add_rows();
                            out->set_part(std::string(row.Bytes(0).substr(6)));
                            out->set_lot(std::string(row.Bytes(1)));
                            out->set_unit(std::string(row.Bytes(2).substr(6)));
                            out->set_position(std::string(row.Bytes(3)));
                            out->set_holder(std::string(row.Bytes(4)));
                            const int64_t from = std::max(row.Int(5), row.Int(7));
                            const int64_t to = std::min(row.Int(6), row.Int(8));
                            time::SetMicros(from, out->mutable_from_time());
                            if (to != fold::kLasts) time::SetMicros(to, out->mutable_to_time());
                          });
  });
  if (!status.ok()) return status;
  return response;
}

}  // namespace ferrule::trace
