#include "core/stores/goods.h"

#include <algorithm>
#include <tuple>
#include <utility>

#include "absl/strings/str_cat.h"
#include "core/depot/known.h"
#include "core/fact/subject.h"
#include "core/stock/book.h"
#include "core/stores/queries.h"
#include "core/time/civil.h"

namespace ferrule::stores {
namespace {

using fact::SubjectKind;
using store::Value;

// Days that are not there come last.
int64_t DayOf(const v1::StockRow& row) {
  return time::IsValid(row.expiry_date()) ? time::DayNumber(time::ToDay(row.expiry_date()))
                                          : INT64_MAX;
}

std::string KeyOf(const v1::StockRow& row) {
  return absl::StrCat(row.lot().empty() ? "items/" : "lots/",
                      row.lot().empty() ? row.item() : row.lot(), "|", row.place());
}

// Whether somebody asks about what there is.
template <typename Request>
absl::Status KnowWhereabouts(const depot::Rules& rules, const Request& request) {
  absl::Status known = depot::KnowBranch(rules, request.branch());
  return known.ok() ? depot::KnowPlace(rules, request.place()) : known;
}

absl::Status UnknownItem(const std::string& item) {
  return absl::NotFoundError(absl::StrCat("neither the settings nor the records have an item ",
                                          item, "; ferrule stock lists the goods on the books"));
}

}  // namespace

absl::Status EachBook(
    store::Connection& connection,
    absl::FunctionRef<void(const std::string&, const std::string&, const v1::StockBook&)> visit) {
  for (SubjectKind kind : {SubjectKind::kItem, SubjectKind::kLot}) {
    bool readable = true;
    v1::SubjectState state;
    const Value parameters[] = {Value::Int(static_cast<int>(kind)), Value::Text("")};
    absl::Status status =
        connection.Run(sql::kStatesOfKind, parameters, [&](const store::Row& row) {
          const std::string_view bytes = row.Bytes(1);
          readable &= state.ParseFromArray(bytes.data(), static_cast<int>(bytes.size()));
          if (state.has_lot()) {
            visit(state.lot().lot(), state.lot().item(), state.lot().book());
          } else if (state.has_item()) {
            visit("", state.item().item(), state.item().book());
          }
        });
    if (!status.ok()) return status;
    if (!readable) {
      return absl::DataLossError("a stored state cannot be read; run: ferruled rebuild");
    }
  }
  return absl::OkStatus();
}

std::vector<v1::StockRow> RowsOf(const std::string& lot, const std::string& item,
                                 const v1::StockBook& book, const depot::Rules& rules,
                                 int64_t now_us) {
  std::vector<v1::StockRow> rows;
  for (const v1::StockAtPlace& at : book.at()) {
    v1::StockRow& row = rows.emplace_back();
    row.set_item(item);
    row.set_lot(lot);
    row.set_place(at.place());
    if (const v1::Branch* branch = rules.BranchOfPlace(at.place())) row.set_branch(branch->id());
    row.set_piece_count(at.piece_count());
    if (book.has_expiry_date()) *row.mutable_expiry_date() = book.expiry_date();
    row.set_expired(stock::ExpiredAt(book, rules, at.place(), now_us));
  }
  return rows;
}

bool TakenBefore(const v1::StockRow& a, const v1::StockRow& b) {
  return std::tuple(DayOf(a), std::string_view(a.lot()), std::string_view(a.place())) <
         std::tuple(DayOf(b), std::string_view(b.lot()), std::string_view(b.place()));
}

absl::StatusOr<v1::ListStockResponse> ListStock(ledger::Ledger& ledger,
                                                const v1::ListStockRequest& request,
                                                int64_t now_us) {
  const auto book = ledger.Book();
  const depot::Rules& rules = book->At(now_us);
  if (absl::Status known = KnowWhereabouts(rules, request); !known.ok()) return known;
  bool item_known = request.item().empty() || depot::NamesItem(rules, request.item());
  const int64_t by_day = request.has_expires_by_date()
                             ? time::DayNumber(time::ToDay(request.expires_by_date()))
                             : INT64_MAX;
  v1::ListStockResponse response;
  absl::Status status = ledger.WithReader([&](store::Connection& connection) {
    return EachBook(connection, [&](const std::string& lot, const std::string& item,
                                    const v1::StockBook& goods) {
      if (!request.item().empty() && item != request.item()) return;
      item_known = true;
      for (v1::StockRow& row : RowsOf(lot, item, goods, rules, now_us)) {
        if (!request.place().empty() && row.place() != request.place()) continue;
        if (!request.branch().empty() && row.branch() != request.branch()) continue;
        if (request.has_expires_by_date() && DayOf(row) > by_day) continue;
        if (KeyOf(row) <= request.page_token()) continue;
        if (response.rows_size() == request.page_size()) {
          response.set_next_page_token(KeyOf(*response.rows().rbegin()));
          return;
        }
        *response.add_rows() = std::move(row);
      }
    });
  });
  if (!status.ok()) return status;
  if (!item_known) return UnknownItem(request.item());
  return response;
}

absl::StatusOr<v1::ReportPickingResponse> ReportPicking(ledger::Ledger& ledger,
                                                        const v1::ReportPickingRequest& request,
                                                        int64_t now_us) {
  if (request.item().empty()) {
    return absl::InvalidArgumentError("item is missing; name an item of the stores");
  }
  if (request.piece_count() < 0) {
    return absl::InvalidArgumentError("piece_count is negative; give 1 or more");
  }
  const auto book = ledger.Book();
  const depot::Rules& rules = book->At(now_us);
  if (absl::Status known = KnowWhereabouts(rules, request); !known.ok()) return known;
  bool item_known = depot::NamesItem(rules, request.item());
  std::vector<v1::StockRow> rows;
  v1::ReportPickingResponse response;
  absl::Status status = ledger.WithReader([&](store::Connection& connection) {
    return EachBook(connection, [&](const std::string& lot, const std::string& item,
                                    const v1::StockBook& goods) {
      if (item != request.item()) return;
      item_known = true;
      for (v1::StockRow& row : RowsOf(lot, item, goods, rules, now_us)) {
        if (row.piece_count() <= 0) continue;
        if (!request.place().empty() && row.place() != request.place()) continue;
        if (!request.branch().empty() && row.branch() != request.branch()) continue;
        rows.push_back(std::move(row));
      }
    });
  });
  if (!status.ok()) return status;
  if (!item_known) return UnknownItem(request.item());
  std::sort(rows.begin(), rows.end(), TakenBefore);
  int64_t needed = std::max(1, request.piece_count());
  for (v1::StockRow& row : rows) {
    const absl::TimeZone zone = rules.ZoneOf(row.branch());
    const absl::CivilDay on = request.has_on_date() && time::IsValid(request.on_date())
                                  ? time::ToDay(request.on_date())
                                  : time::LocalDay(now_us, zone);
    if (DayOf(row) < time::DayNumber(on)) {
      response.set_expired_count(response.expired_count() + row.piece_count());
      continue;
    }
    if (needed == 0) continue;
    row.set_piece_count(std::min(needed, row.piece_count()));
    needed -= row.piece_count();
    *response.add_rows() = std::move(row);
  }
  response.set_short_count(needed);
  return response;
}

}  // namespace ferrule::stores
