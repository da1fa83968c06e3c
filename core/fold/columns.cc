#include "core/fold/columns.h"

#include "core/fact/subject.h"
#include "core/order/due.h"
#include "core/time/civil.h"

namespace ferrule::fold {
namespace {

void Unit(const v1::UnitState& unit, const depot::Rules& rules, Columns* c) {
  c->kind = static_cast<int>(fact::SubjectKind::kUnit);
  if (const v1::Branch* branch = rules.BranchOfPlace(unit.place())) c->branch = branch->id();
  c->place = unit.place();
  c->model = unit.model();
  if (const v1::Model* model = rules.FindModel(unit.model())) {
    c->device_class = model->device_class();
  }
  c->serial = unit.serial();
  c->partner = unit.order();
  c->custody = unit.custody();
  c->hygiene = unit.hygiene();
  c->condition = unit.condition();
  c->commitment = unit.commitment();
}

void Order(const v1::OrderState& order, const depot::SettingsBook& book, Columns* c) {
  c->kind = static_cast<int>(fact::SubjectKind::kOrder);
  c->branch = order.details().branch();
  c->device_class = order.details().device_class();
  c->partner = order.unit();
  c->status = order.status();
  c->failed_pickups = order.failed_pickup_count();
  if (order.status() == v1::ORDER_STATUS_ON_RENT) {
    if (const std::optional<v1::RentalEnd> due = order::Due(order, book)) {
      c->due_day = time::DayNumber(time::ToDay(due->date()));
      c->due_basis = due->basis();
    }
  }
  const bool waits =
      order.status() == v1::ORDER_STATUS_OPEN || order.status() == v1::ORDER_STATUS_HELD;
  if (waits && time::IsValid(order.details().needed_date())) {
    c->needed_day = time::DayNumber(time::ToDay(order.details().needed_date()));
  }
}

}  // namespace

Columns ColumnsOf(const v1::SubjectState& state, const depot::SettingsBook& book) {
  Columns c;
  c.questions = state.questions_size();
  switch (state.state_case()) {
    case v1::SubjectState::kUnit:
      Unit(state.unit(), book.At(time::ToMicros(state.last().happened_time())), &c);
      break;
    case v1::SubjectState::kOrder:
      Order(state.order(), book, &c);
      break;
    case v1::SubjectState::kPart:
      c.kind = static_cast<int>(fact::SubjectKind::kPart);
      c.partner = state.part().unit();
      break;
    case v1::SubjectState::kLot:
      c.kind = static_cast<int>(fact::SubjectKind::kLot);
      break;
    case v1::SubjectState::kSettings:
      c.kind = static_cast<int>(fact::SubjectKind::kSettings);
      break;
    case v1::SubjectState::kForecasts:
      c.kind = static_cast<int>(fact::SubjectKind::kForecasts);
      c.branch = state.forecasts().branch();
      break;
    case v1::SubjectState::kTester:
      c.kind = static_cast<int>(fact::SubjectKind::kTester);
      break;
    case v1::SubjectState::kItem:
      c.kind = static_cast<int>(fact::SubjectKind::kItem);
      break;
    case v1::SubjectState::kTransfer:
      c.kind = static_cast<int>(fact::SubjectKind::kTransfer);
      break;
    case v1::SubjectState::kCount:
      c.kind = static_cast<int>(fact::SubjectKind::kCount);
      break;
    case v1::SubjectState::kRecall:
      c.kind = static_cast<int>(fact::SubjectKind::kRecall);
      break;
    case v1::SubjectState::kPlace:
      c.kind = static_cast<int>(fact::SubjectKind::kPlace);
      break;
    case v1::SubjectState::kComplaint:
      c.kind = static_cast<int>(fact::SubjectKind::kComplaint);
      c.branch = state.complaint().branch();
      break;
    case v1::SubjectState::STATE_NOT_SET:
      break;
  }
  return c;
}

}  // namespace ferrule::fold
