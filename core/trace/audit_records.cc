#include "core/trace/audit_records.h"

#include "core/fact/subject.h"
#include "core/fold/zone.h"
#include "core/time/civil.h"
#include "core/trace/queries.h"

namespace ferrule::trace {
namespace {

using fact::SubjectKind;
using store::Value;

void AddUnit(const v1::SubjectState& state, const depot::Rules& rules, AuditRecords* records) {
  const v1::UnitState& unit = state.unit();
  AuditUnit& out = records->units[unit.unit()];
  out.name = state.name();
  out.model = unit.model();
  out.serial = unit.serial();
  out.place = unit.place();
  out.order = unit.order();
  out.transfer = unit.transfer();
  out.custody = unit.custody();
  out.hygiene = unit.hygiene();
  out.commitment = unit.commitment();
  out.since_us = time::ToMicros(unit.custody_since().time());
  for (const v1::PartIn& part : unit.parts()) out.parts.push_back(part.part());
  for (const v1::Hold& hold : unit.holds()) {
    out.recall_hold = out.recall_hold || hold.kind() == v1::HOLD_KIND_RECALL;
  }
  for (const v1::Finding& question : state.questions()) {
    const bool meter = question.reason() == v1::REASON_METER_FELL ||
                       question.reason() == v1::REASON_METER_BEYOND_ELAPSED;
    if (meter && out.meter_fault_us == 0) out.meter_fault_us = time::ToMicros(question.time());
  }
  if (unit.purpose() == v1::PURPOSE_CROSS_RENTED && time::IsValid(unit.return_date()) &&
      unit.custody() != v1::CUSTODY_LEFT_FLEET) {
    const absl::CivilDay last = time::ToDay(unit.return_date());
    if (time::LocalDay(records->now_us, fold::ZoneOf(&state, rules)) > last) {
      out.rented_in_until = time::FormatDay(last);
    }
  }
}

void AddOrder(const v1::SubjectState& state, AuditRecords* records) {
  const v1::OrderState& order = state.order();
  AuditOrder& out = records->orders[order.order()];
  out.name = state.name();
  out.status = order.status();
  out.delivered = order.has_handed_over();
  out.since_us = time::ToMicros(order.status_since().time());
  if (!order.billed().empty()) out.billed_us = time::ToMicros(order.billed(0).noted().time());
  for (const v1::RentalLeg& leg : order.legs()) {
    if (!leg.has_to()) out.out.push_back(leg.unit());
  }
}

void AddBook(const std::string& name, const v1::StockBook& book, AuditRecords* records) {
  for (const v1::StockAtPlace& at : book.at()) {
    if (at.piece_count() < 0) {
      records->below_zero.push_back({name, at.place(), at.piece_count()});
    }
  }
}

void Add(v1::SubjectState& state, const depot::Rules& rules, AuditRecords* records) {
  ++records->subjects;
  switch (state.state_case()) {
    case v1::SubjectState::kUnit:
      return AddUnit(state, rules, records);
    case v1::SubjectState::kOrder:
      return AddOrder(state, records);
    case v1::SubjectState::kPart:
      records->parts.push_back(
          {state.name(), state.part().unit(), time::ToMicros(state.part().since().time())});
      return;
    case v1::SubjectState::kLot:
      return AddBook(state.name(), state.lot().book(), records);
    case v1::SubjectState::kItem:
      return AddBook(state.name(), state.item().book(), records);
    case v1::SubjectState::kTransfer:
      if (state.transfer().open_units().empty() && state.transfer().open_lines().empty()) return;
      records->transfers.push_back(std::move(*state.mutable_transfer()));
      return;
    case v1::SubjectState::kPlace:
      if (!state.place().uses().empty()) {
        records->places.push_back(std::move(*state.mutable_place()));
      }
      return;
    case v1::SubjectState::kRecall:
      records->recalls.push_back(std::move(*state.mutable_recall()));
      return;
    default:
      return;
  }
}

}  // namespace

absl::Status ReadRecords(store::Connection& connection, const depot::Rules& rules, int64_t now_us,
                         AuditRecords* records) {
  records->now_us = now_us;
  for (SubjectKind kind :
       {SubjectKind::kUnit, SubjectKind::kOrder, SubjectKind::kPart, SubjectKind::kLot,
        SubjectKind::kItem, SubjectKind::kTransfer, SubjectKind::kPlace, SubjectKind::kRecall}) {
    bool readable = true;
    v1::SubjectState state;
    const Value parameters[] = {Value::Int(static_cast<int>(kind)), Value::Text("")};
    absl::Status status =
        connection.Run(sql::kStatesOfKind, parameters, [&](const store::Row& row) {
          const std::string_view bytes = row.Bytes(1);
          readable &= state.ParseFromArray(bytes.data(), static_cast<int>(bytes.size()));
          Add(state, rules, records);
        });
    if (!status.ok()) return status;
    if (!readable) {
      return absl::DataLossError("a stored state cannot be read; run: ferruled rebuild");
    }
  }
  return absl::OkStatus();
}

}  // namespace ferrule::trace
