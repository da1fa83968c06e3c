#include "core/board/board.h"

#include <map>
#include <string>
#include <utility>

#include "absl/strings/str_cat.h"
#include "core/board/due_report.h"
#include "core/board/queries.h"
#include "core/time/civil.h"
#include "core/unit/ready.h"

namespace ferrule::board {
namespace {

constexpr int kWaitingDays = 7;  // an open order is waiting when it is needed within so many days

// What a unit is counted under, from its columns alone; kCandidate needs its state.
enum class Column {
  kNone,
  kCandidate,
  kHeld,
  kOnRent,
  kSoiled,
  kToInspect,
  kInRepair,
  kUnaccounted
};

Column ColumnOf(const fold::Columns& c) {
  switch (c.custody) {
    case v1::CUSTODY_LEFT_FLEET:
    case v1::CUSTODY_UNSPECIFIED:
      return Column::kNone;
    case v1::CUSTODY_UNACCOUNTED:
      return Column::kUnaccounted;
    case v1::CUSTODY_HOME:
      return Column::kOnRent;
    default:
      break;
  }
  if (c.commitment == v1::COMMITMENT_HELD) return Column::kHeld;
  if (c.condition == v1::CONDITION_UNDER_REPAIR) return Column::kInRepair;
  if (c.hygiene != v1::HYGIENE_CLEANED) return Column::kSoiled;
  if (c.condition == v1::CONDITION_FAILED) return Column::kInRepair;
  if (c.condition != v1::CONDITION_PASSED) return Column::kToInspect;
  return Column::kCandidate;
}

class Builder {
 public:
  Builder(const depot::SettingsBook& book, std::string branch, int64_t at_us)
      : book_(book), only_branch_(std::move(branch)), at_us_(at_us) {}

  void AddUnit(const fold::Columns& c) {
    const Column column = ColumnOf(c);
    if (column == Column::kNone || column == Column::kCandidate || !Wanted(c.branch)) return;
    v1::BoardRow& row = RowOf(c.branch, c.device_class);
    row.set_unit_count(row.unit_count() + 1);
    switch (column) {
      case Column::kHeld:
        return row.set_held_count(row.held_count() + 1);
      case Column::kOnRent:
        return row.set_on_rent_count(row.on_rent_count() + 1);
      case Column::kSoiled:
        return row.set_soiled_count(row.soiled_count() + 1);
      case Column::kToInspect:
        return row.set_to_inspect_count(row.to_inspect_count() + 1);
      case Column::kInRepair:
        return row.set_in_repair_count(row.in_repair_count() + 1);
      default:
        return row.set_unaccounted_count(row.unaccounted_count() + 1);
    }
  }
  void AddCandidate(std::string_view branch, std::string_view device_class,
                    const v1::SubjectState& state) {
    if (!Wanted(branch)) return;
    v1::BoardRow& row = RowOf(branch, device_class);
    row.set_unit_count(row.unit_count() + 1);
    unit::ReadyQuery query;
    query.at_us = at_us_;
    if (unit::Assess(state, book_, query).empty()) {
      row.set_ready_count(row.ready_count() + 1);
    } else {
      row.set_blocked_count(row.blocked_count() + 1);
    }
  }
  void AddWaiting(std::string_view branch, std::string_view device_class, int64_t needed_day) {
    const absl::TimeZone zone = book_.At(at_us_).ZoneOf(branch);
    if (!Wanted(branch) ||
        needed_day > time::DayNumber(time::LocalDay(at_us_, zone)) + kWaitingDays) {
      return;
    }
    v1::BoardRow& row = RowOf(branch, device_class);
    row.set_waiting_count(row.waiting_count() + 1);
  }
  void AddDue(const v1::ReportDueResponse& due) {
    for (const v1::DueRow& d : due.rows()) {
      v1::BoardRow& row = RowOf(d.branch(), d.device_class());
      if (d.overdue_days() == 0) {
        row.set_due_today_count(row.due_today_count() + 1);
      } else {
        row.set_overdue_count(row.overdue_count() + 1);
      }
    }
  }
  v1::GetBoardResponse Take() {
    v1::GetBoardResponse response;
    time::SetMicros(at_us_, response.mutable_at_time());
    for (auto& [key, row] : rows_) *response.add_rows() = std::move(row);
    return response;
  }

 private:
  bool Wanted(std::string_view branch) const {
    return only_branch_.empty() || branch == std::string_view(only_branch_);
  }
  v1::BoardRow& RowOf(std::string_view branch, std::string_view device_class) {
    v1::BoardRow& row = rows_[{std::string(branch), std::string(device_class)}];
    if (row.device_class().empty()) {
      row.set_branch(branch.data(), branch.size());
      row.set_device_class(device_class.data(), device_class.size());
    }
    return row;
  }

  const depot::SettingsBook& book_;
  const std::string only_branch_;
  const int64_t at_us_;
  std::map<std::pair<std::string, std::string>, v1::BoardRow> rows_;
};

absl::Status AddPresent(ledger::Ledger& ledger, Builder& builder) {
  return ledger.WithReader([&](store::Connection& connection) {
    absl::Status status = connection.Run(sql::kUnitColumns, {}, [&](const store::Row& row) {
      fold::Columns c;
      c.branch = row.Bytes(1);
      c.device_class = row.Bytes(2);
      c.custody = static_cast<int>(row.Int(3));
      c.hygiene = static_cast<int>(row.Int(4));
      c.condition = static_cast<int>(row.Int(5));
      c.commitment = static_cast<int>(row.Int(6));
      builder.AddUnit(c);
    });
    if (!status.ok()) return status;
    bool readable = true;
    status = connection.Run(sql::kReadyCandidates, {}, [&](const store::Row& row) {
      v1::SubjectState state;
      std::string_view bytes = row.Bytes(0);
      readable &= state.ParseFromArray(bytes.data(), static_cast<int>(bytes.size()));
      builder.AddCandidate(row.Bytes(1), row.Bytes(2), state);
    });
    if (!status.ok()) return status;
    if (!readable) {
      return absl::DataLossError("a stored state cannot be read; run: ferruled rebuild");
    }
    return connection.Run(sql::kWaitingOrders, {}, [&](const store::Row& row) {
      builder.AddWaiting(row.Bytes(0), row.Bytes(1), row.Int(2));
    });
  });
}

absl::Status AddKnownAt(ledger::Ledger& ledger, int64_t known_us, Builder& builder) {
  return ledger.EachKnownAt(known_us, [&](const v1::SubjectState& state, const fold::Columns& c) {
    if (state.has_unit()) {
      if (ColumnOf(c) == Column::kCandidate) {
        builder.AddCandidate(c.branch, c.device_class, state);
      } else {
        builder.AddUnit(c);
      }
    } else if (state.has_order() && state.order().status() == v1::ORDER_STATUS_OPEN &&
               c.needed_day.has_value()) {
      builder.AddWaiting(c.branch, c.device_class, *c.needed_day);
    }
  });
}

}  // namespace

absl::StatusOr<v1::GetBoardResponse> Board(ledger::Ledger& ledger,
                                           const v1::GetBoardRequest& request, int64_t now_us) {
  const bool known_then = request.has_known_time();
  const int64_t at_us = known_then ? time::ToMicros(request.known_time()) : now_us;
  std::shared_ptr<const depot::SettingsBook> book = ledger.Book();
  Builder builder(*book, request.branch(), at_us);
  v1::ReportDueRequest due_request;
  due_request.set_branch(request.branch());
  if (known_then) *due_request.mutable_known_time() = request.known_time();
  absl::StatusOr<v1::ReportDueResponse> due = ReportDue(ledger, due_request, now_us);
  if (!due.ok()) return due.status();
  absl::Status status =
      known_then ? AddKnownAt(ledger, at_us, builder) : AddPresent(ledger, builder);
  if (!status.ok()) return status;
  builder.AddDue(*due);
  return builder.Take();
}

}  // namespace ferrule::board
