#include "core/board/lists.h"

#include <algorithm>

#include "absl/strings/str_cat.h"
#include "core/board/queries.h"
#include "core/fact/subject.h"
#include "core/finding/catalog.h"
#include "core/fold/zone.h"
#include "core/time/civil.h"

namespace ferrule::board {
namespace {

using store::Value;

constexpr int kMostRows = 1'000;

void PutDay(const store::Row& row, int column, google::type::Date* date) {
  *date = time::FromDay(time::DayFromNumber(row.Int(column)));
}

// By the filter that leaves the fewest rows.
const store::Sql& StatementFor(const v1::ListUnitsRequest& request) {
  if (!request.serial().empty()) return sql::kListUnitsBySerial;
  if (!request.place().empty()) return sql::kListUnitsAtPlace;
  return sql::kListUnits;
}

}  // namespace

absl::StatusOr<int> PageSize(int asked, int usual) {
  if (asked < 0) {
    return absl::InvalidArgumentError("page_size is negative; leave it out or give 1 to 1000");
  }
  return asked == 0 ? usual : std::min(asked, kMostRows);
}

absl::StatusOr<v1::ListUnitsResponse> ListUnits(ledger::Ledger& ledger,
                                                const v1::ListUnitsRequest& request,
                                                int64_t /*now_us*/) {
  absl::StatusOr<int> size = PageSize(request.page_size(), 50);
  if (!size.ok()) return size.status();
  v1::ListUnitsResponse response;
  const Value parameters[] = {Value::Text(request.page_token()), Value::Text(request.branch()),
                              Value::Text(request.model()),      Value::Int(request.custody()),
                              Value::Int(request.commitment()),  Value::Text(request.serial()),
                              Value::Text(request.place()),      Value::Int(*size + 1)};
  std::string last;
  absl::Status status = ledger.WithReader([&](store::Connection& connection) {
    return connection.Run(StatementFor(request), parameters, [&](const store::Row& row) {
      if (response.units_size() == *size) {
        response.set_next_page_token(last);
        return;
      }
      last = std::string(row.Bytes(0));
      v1::UnitRow* unit = response.add_units();
      unit->set_unit(fact::BareId(last));
      unit->set_model(std::string(row.Bytes(1)));
      unit->set_branch(std::string(row.Bytes(2)));
      unit->set_custody(static_cast<v1::Custody>(row.Int(3)));
      unit->set_place(std::string(row.Bytes(4)));
      unit->set_hygiene(static_cast<v1::Hygiene>(row.Int(5)));
      unit->set_condition(static_cast<v1::Condition>(row.Int(6)));
      unit->set_commitment(static_cast<v1::Commitment>(row.Int(7)));
      unit->set_order(std::string(row.Bytes(8)));
      unit->set_question_count(static_cast<int32_t>(row.Int(9)));
    });
  });
  if (!status.ok()) return status;
  return response;
}

absl::StatusOr<v1::ListOrdersResponse> ListOrders(ledger::Ledger& ledger,
                                                  const v1::ListOrdersRequest& request,
                                                  int64_t /*now_us*/) {
  absl::StatusOr<int> size = PageSize(request.page_size(), 50);
  if (!size.ok()) return size.status();
  v1::ListOrdersResponse response;
  const Value parameters[] = {Value::Text(request.page_token()), Value::Text(request.branch()),
                              Value::Int(request.status()), Value::Int(*size + 1)};
  std::string last;
  absl::Status status = ledger.WithReader([&](store::Connection& connection) {
    return connection.Run(sql::kListOrders, parameters, [&](const store::Row& row) {
      if (response.orders_size() == *size) {
        response.set_next_page_token(last);
        return;
      }
      last = std::string(row.Bytes(0));
      v1::OrderRow* order = response.add_orders();
      order->set_order(fact::BareId(last));
      order->set_branch(std::string(row.Bytes(1)));
      order->set_device_class(std::string(row.Bytes(2)));
      order->set_status(static_cast<v1::OrderStatus>(row.Int(3)));
      order->set_unit(std::string(row.Bytes(4)));
      if (!row.IsNull(5)) PutDay(row, 5, order->mutable_due_date());
      order->set_due_basis(static_cast<v1::DueBasis>(row.Int(6)));
      if (!row.IsNull(7)) PutDay(row, 7, order->mutable_needed_date());
    });
  });
  if (!status.ok()) return status;
  return response;
}

absl::StatusOr<v1::ListQuestionsResponse> ListQuestions(ledger::Ledger& ledger,
                                                        const v1::ListQuestionsRequest& request,
                                                        int64_t now_us) {
  absl::StatusOr<int> size = PageSize(request.page_size(), 50);
  if (!size.ok()) return size.status();
  v1::ListQuestionsResponse response;
  std::shared_ptr<const depot::SettingsBook> book = ledger.Book();
  const depot::Rules& rules = book->At(now_us);
  auto add = [&](const v1::SubjectState& state) {
    const absl::TimeZone zone = fold::ZoneOf(&state, rules);
    for (const v1::Finding& question : state.questions()) {
      v1::Finding* out = response.add_questions();
      *out = question;
      finding::PutIntoWords(zone, out);
    }
  };
  if (!request.subject().empty()) {
    absl::StatusOr<ledger::StatePtr> state = ledger.Get(request.subject());
    if (!state.ok()) return state.status();
    add(**state);
    return response;
  }
  bool readable = true;
  std::string last;
  const Value parameters[] = {Value::Text(request.page_token()), Value::Int(*size + 1)};
  absl::Status status = ledger.WithReader([&](store::Connection& connection) {
    return connection.Run(sql::kWithQuestions, parameters, [&](const store::Row& row) {
      if (response.questions_size() >= *size) {
        response.set_next_page_token(last);
        return;
      }
      last = std::string(row.Bytes(0));
      v1::SubjectState state;
      std::string_view bytes = row.Bytes(1);
      readable &= state.ParseFromArray(bytes.data(), static_cast<int>(bytes.size()));
      add(state);
    });
  });
  if (!status.ok()) return status;
  if (!readable) return absl::DataLossError("a stored state cannot be read; run: ferruled rebuild");
  return response;
}

}  // namespace ferrule::board
