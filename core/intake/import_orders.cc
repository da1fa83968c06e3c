// Rows of orders taken in: each goes the way of a message, kept with its header line.
#include <algorithm>
#include <set>
#include <utility>

#include "core/intake/import_part.h"
#include "core/intake/intake.h"
#include "core/time/civil.h"

namespace ferrule::intake {

absl::StatusOr<v1::GetImportResponse> Intake::ImportState(const v1::GetImportRequest& request) {
  auto row = reader_.Import(ImportId(request.file_sha256(), request.kind(), request.sender()));
  if (!row.ok()) return row.status();
  v1::GetImportResponse response;
  response.set_offset_bytes(row->offset);
  response.set_next_line(row->next_line);
  *response.mutable_totals() = row->totals;
  if (row->update_us != 0) time::SetMicros(row->update_us, response.mutable_update_time());
  return response;
}

absl::StatusOr<v1::ImportRowsResponse> Intake::Import(const v1::ImportRowsRequest& request,
                                                      const std::string& principal) {
  return request.kind() == v1::IMPORT_KIND_ORDERS ? ImportOrders(request, principal)
                                                  : ImportFacts(request, principal);
}

// The rows of a part under way: messages are begun one after the other and settled together, which
// makes their commits few; a row about an order under way waits for it.
struct Intake::OrderRows {
  struct Row {
    int64_t line;
    std::shared_ptr<Pending> pending;
  };
  std::vector<Row> under_way;
  std::set<std::string> busy;  // orders, contents and messages under way
  v1::ImportRowsResponse* response;

  void Count(int64_t line, const v1::IntakeMessage& message) const {
    const bool queued = message.state() == v1::MESSAGE_STATE_QUEUED;
    const bool rejected = message.state() == v1::MESSAGE_STATE_REJECTED;
    CountRows(response->mutable_totals(), !queued && !rejected, 0, queued, rejected);
    if (!queued && !rejected) return;
    v1::BadRow bad = MakeBadRow(line, {message.troubles().begin(), message.troubles().end()});
    if (queued) bad.set_message(message.name());
    *response->add_bad_rows() = std::move(bad);
  }
  bool Meets(const Evaluation& e) const {
    const auto is_busy = [&](const std::string& key) { return busy.count(key) != 0; };
    return is_busy(e.message.name()) ||
           std::any_of(e.message.orders().begin(), e.message.orders().end(), is_busy) ||
           std::any_of(e.numbers.begin(), e.numbers.end(),
                       [&](const NumberRow& n) { return is_busy(n.content_key); });
  }
};

absl::Status Intake::SettleRows(OrderRows* rows, const std::string& principal) {
  std::vector<std::string> orders;
  for (OrderRows::Row& row : rows->under_way) {
    auto message = Finish(*row.pending);
    if (!message.ok()) return message.status();
    rows->Count(row.line, *message);
    if (message->state() != v1::MESSAGE_STATE_APPLIED) continue;
    orders.insert(orders.end(), message->orders().begin(), message->orders().end());
  }
  rows->under_way.clear();
  rows->busy.clear();
  return TakeWaiting(orders, principal);
}

absl::Status Intake::ImportOrder(const v1::SubmitMessageRequest& row, int64_t line,
                                 bool validate_only, const std::string& principal,
                                 OrderRows* rows) {
  auto evaluation = Evaluate(row, {}, false);
  if (!evaluation.ok()) return evaluation.status();
  if (!validate_only && rows->Meets(*evaluation)) {
    absl::Status settled = SettleRows(rows, principal);
    if (!settled.ok()) return settled;
    evaluation = Evaluate(row, {}, false);
    if (!evaluation.ok()) return evaluation.status();
  }
  const std::string& name = evaluation->message.name();
  auto known = reader_.Find(MessageId(name));
  if (!known.ok()) return known.status();
  if (known->has_value() || (validate_only && rows->busy.count(name) != 0)) {
    CountRows(rows->response->mutable_totals(), 0, 1, 0, 0);
    return absl::OkStatus();
  }
  rows->busy.insert(name);
  if (validate_only) {
    constexpr int kMostChanges = 500;
    auto changes = WouldChange(*evaluation);
    if (!changes.ok()) return changes.status();
    for (v1::OrderChange& change : *changes) {
      if (rows->response->changes_size() == kMostChanges) break;
      *rows->response->add_changes() = std::move(change);
    }
    rows->Count(line, evaluation->message);
    return absl::OkStatus();
  }
  rows->busy.insert(evaluation->message.orders().begin(), evaluation->message.orders().end());
  for (const NumberRow& number : evaluation->numbers) {
    if (!number.content_key.empty()) rows->busy.insert(number.content_key);
  }
  rows->under_way.push_back({line, Begin(*std::move(evaluation), row.content(), true, principal)});
  return absl::OkStatus();
}

absl::StatusOr<v1::ImportRowsResponse> Intake::ImportOrders(const v1::ImportRowsRequest& request,
                                                            const std::string& principal) {
  const auto book = ledger_.Book();
  auto part = CutPart(request, book->At(ledger_.clock().NowMicros()).settings());
  if (!part.ok()) return part.status();
  v1::ImportRowsResponse response;
  OrderRows rows;
  rows.response = &response;
  const Locks locks = LockAll();
  for (const exchange::CsvRecord& record : part->records) {
    v1::SubmitMessageRequest row;
    row.set_kind(v1::MESSAGE_KIND_CSV_ORDER);
    row.set_sender(request.sender());
    row.set_mapping(part->mapping.id());
    const auto from = static_cast<size_t>(record.offset - request.offset_bytes());
    const auto to = static_cast<size_t>(record.end - request.offset_bytes());
    row.set_content(request.header() + request.rows().substr(from, to - from));
    absl::Status taken = ImportOrder(row, record.line, request.validate_only(), principal, &rows);
    if (!taken.ok()) return taken;
  }
  absl::Status settled = SettleRows(&rows, principal);
  if (!settled.ok()) return settled;
  const RowPlace end = EndOf(request);
  response.set_next_offset_bytes(end.offset);
  response.set_next_line(end.line);
  if (request.validate_only()) return response;
  const ImportRow progress = ProgressOf(response, ledger_.clock().NowMicros());
  const std::string id = ImportId(request.file_sha256(), request.kind(), request.sender());
  std::vector<absl::StatusOr<v1::Receipt>> none;
  absl::Status put = WriteBeside(
      {}, principal, [&](store::Connection& c, const auto&) { return PutImport(c, id, progress); },
      &none);
  if (!put.ok()) return put;
  return response;
}

}  // namespace ferrule::intake
