#include "core/outlook/records.h"

#include <algorithm>
#include <map>
#include <utility>

#include "absl/strings/str_cat.h"
#include "core/fact/subject.h"
#include "core/fold/fold.h"
#include "core/fold/reversals.h"
#include "core/ledger/history.h"
#include "core/order/due.h"
#include "core/order/usage.h"
#include "core/outlook/queries.h"
#include "core/papers/delivery.h"
#include "core/time/civil.h"
#include "core/unit/ready.h"
#include "core/unit/service_due.h"

namespace ferrule::outlook {
namespace {

using fact::FactView;
using store::Value;

int64_t DayOr(bool has, const google::type::Date& date) {
  return has && time::IsValid(date) ? time::DayNumber(time::ToDay(date)) : kNever;
}

bool IsReady(const v1::SubjectState& state, const depot::SettingsBook& book, int64_t at_us) {
  const v1::UnitState& unit = state.unit();
  // What most steps leave it in needs no closer look.
  if (unit.custody() != v1::CUSTODY_PLACE || unit.hygiene() != v1::HYGIENE_CLEANED ||
      unit.condition() != v1::CONDITION_PASSED) {
    return false;
  }
  unit::ReadyQuery query;
  query.at_us = at_us;
  query.order = unit.order();
  return unit::Assess(state, book, query).empty();
}

// Whether the unit is past its planned service, put off or not.
bool ServiceOverdue(const v1::UnitState& unit, const depot::Rules& rules, int64_t at_us) {
  const v1::Model* model = rules.FindModel(unit.model());
  if (model == nullptr || unit.custody() == v1::CUSTODY_LEFT_FLEET) return false;
  const v1::ServicePlan* plan = rules.FindServicePlan(model->service_plan());
  if (plan == nullptr) return false;
  const v1::Branch* branch = rules.BranchOfPlace(unit.place());
  const absl::TimeZone zone = branch == nullptr ? absl::UTCTimeZone() : rules.ZoneOf(branch->id());
  return unit::DueService(unit, *plan, zone, {at_us, 0, 0}).has_value();
}

void CountOf(const v1::Fact& fact, const v1::UnitState& unit, UnitStep* step) {
  switch (fact.what_case()) {
    case v1::Fact::kPickedUp:
      step->value = fact.picked_up().missing_size();
      step->of = step->value + fact.picked_up().accessories_size();
      break;
    case v1::Fact::kInspectionDone:
      step->value = unit.inspection().passed() ? 1 : 0;
      break;
    case v1::Fact::kRepairClosed:
      step->value = fact.repair_closed().no_fault_found() ? 1 : 0;
      step->of = fact.repair_closed().cost_minor();
      break;
    case v1::Fact::kHandedOver:
      step->value = fact.overrides_size();
      break;
    default:
      break;
  }
}

// `was_overdue`: the unit's planned service, before the fact.
UnitStep StepOf(const FactView& view, const v1::SubjectState& state,
                const depot::SettingsBook& book, bool was_overdue) {
  const v1::UnitState& unit = state.unit();
  UnitStep step;
  step.happened_us = view.happened_us;
  step.fact = {view.sequence, view.index};
  step.what = view.fact().what_case();
  step.custody = unit.custody();
  step.hygiene = unit.hygiene();
  step.condition = unit.condition();
  step.commitment = unit.commitment();
  step.purpose = unit.purpose();
  step.held = !unit.holds().empty();
  step.ready = IsReady(state, book, view.happened_us);
  step.meter_incomplete = unit.meter().incomplete();
  step.place = unit.place();
  step.order = unit.order();
  step.run_s = unit::TrueRunSeconds(unit.meter());
  CountOf(view.fact(), unit, &step);
  if (view.fact().has_service_done()) step.value = was_overdue ? 0 : 1;
  return step;
}

void NoteOf(const v1::Fact& fact, const v1::OrderState& order, OrderStep* step) {
  switch (fact.what_case()) {
    case v1::Fact::kPickupFailed:
      step->sender = fact.pickup_failed().outcome();
      break;
    case v1::Fact::kUnitPromised:
      step->value = fact.unit_promised().odds_permille();
      step->of_day = DayOr(true, fact.unit_promised().from_date());
      break;
    case v1::Fact::kPromiseRefused:
      step->of_day = DayOr(true, fact.promise_refused().asked_date());
      break;
    case v1::Fact::kTicketReturned:
      step->value = papers::AssessDelivery(order).proved() ? 1 : 0;
      break;
    case v1::Fact::kDaysBilled: {
      const v1::DaysBilled& billed = fact.days_billed();
      if (!time::IsValid(billed.from_date()) || !time::IsValid(billed.through_date())) break;
      step->billing = Billing{time::DayNumber(time::ToDay(billed.from_date())),
                              time::DayNumber(time::ToDay(billed.through_date())),
                              billed.amount_minor(), billed.correction()};
      break;
    }
    default:
      break;
  }
}

OrderStep OrderStepOf(const FactView& view, const v1::SubjectState& state,
                      const depot::SettingsBook& book) {
  const v1::OrderState& order = state.order();
  const v1::OrderDetails& details = order.details();
  OrderStep step;
  step.happened_us = view.happened_us;
  step.fact = {view.sequence, view.index};
  step.what = view.fact().what_case();
  step.status = order.status();
  step.surgery_day = DayOr(details.has_surgery_date(), details.surgery_date());
  step.needed_day = DayOr(details.has_needed_date(), details.needed_date());
  step.extended_day = DayOr(order.has_extended_through_date(), order.extended_through_date());
  step.length_days = details.length_of_need_days();
  step.unit = order.unit();
  NoteOf(view.fact(), order, &step);
  // The due date as it stood while the unit was out, kept after the pick-up for the measures.
  if (const auto due = order::Due(order, book)) {
    step.due_day = time::DayNumber(time::ToDay(due->date()));
  }
  step.complete = order::MissingToGoOut(order, book.At(view.happened_us)).empty();
  return step;
}

// One subject on its way through its facts.
struct Slot {
  v1::SubjectState state;
  bool late = false;  // its facts did not come in the order of true time: read again by itself
  std::vector<UnitStep> unit_steps;
  std::vector<OrderStep> order_steps;
  std::vector<v1::ForecastNoted> noted;
  std::vector<FactKey> noted_facts;
  FactKey complaint;  // the fact by which a complaint came

  void Add(const FactView& view, const depot::SettingsBook& book) {
    const bool overdue = view.fact().has_service_done() && state.has_unit() &&
                         ServiceOverdue(state.unit(), book.At(view.happened_us), view.happened_us);
    fold::Apply(view, book, &state);
    if (state.has_unit()) unit_steps.push_back(StepOf(view, state, book, overdue));
    if (state.has_order()) order_steps.push_back(OrderStepOf(view, state, book));
    if (view.fact().has_complaint_received() && complaint.sequence == 0) {
      complaint = {view.sequence, view.index};
    }
    if (!view.fact().has_forecast_noted()) return;
    noted.push_back(view.fact().forecast_noted());
    noted_facts.push_back({view.sequence, view.index});
  }
  // Back to nothing.
  void Clear() {
    unit_steps.clear();
    order_steps.clear();
    noted.clear();
    noted_facts.clear();
    complaint = {};
  }
};

// All facts of a subject in the folds' order, without the reversed ones.
void FoldWhole(const std::string& name, std::vector<FactView> facts,
               const depot::SettingsBook& book, Slot* slot) {
  std::sort(facts.begin(), facts.end(), fact::Before);
  const auto same = [](const FactView& a, const FactView& b) {
    return a.index == b.index && a.entry->entry_id() == b.entry->entry_id();
  };
  facts.erase(std::unique(facts.begin(), facts.end(), same), facts.end());
  const fold::Reversals reversals(facts);
  slot->state = fold::Empty(name);
  slot->Clear();
  for (size_t i = 0; i < facts.size(); ++i) {
    const v1::Fact& fact = facts[i].fact();
    // Answers and reversals change questions alone.
    if (reversals.IsReversed(i) || fact.has_reversal() || fact.has_question_answered()) continue;
    slot->Add(facts[i], book);
  }
}

class Reading {
 public:
  Reading(ledger::Ledger& ledger, int64_t known_us) : ledger_(ledger) {
    result_->known_us = known_us;
  }

  absl::StatusOr<std::shared_ptr<const Records>> Run(bool present) {
    if (present) {
      result_->book = ledger_.Book();
    } else {
      auto book = ledger_.BookKnownAt(result_->known_us);
      if (!book.ok()) return book.status();
      result_->book = *std::move(book);
    }
    absl::Status status = ReadInOrder();
    if (status.ok()) status = ReadLate();
    if (!status.ok()) return status;
    for (auto& [name, slot] : slots_) Keep(&slot);
    return std::shared_ptr<const Records>(std::move(result_));
  }

 private:
  absl::Status ReadInOrder() {
    absl::Status problem;
    const absl::Status status = ledger_.Read(0, "", [&](const ledger::Recorded& recorded) {
      if (recorded.recorded_us > result_->known_us) return false;
      v1::LedgerEntry entry;
      if (!entry.ParseFromArray(recorded.bytes.data(), static_cast<int>(recorded.bytes.size()))) {
        problem = absl::DataLossError(absl::StrCat(
            "entry ", recorded.sequence, " of the ledger cannot be read; run: ferruled verify"));
        return false;
      }
      result_->sequence = recorded.sequence;
      for (int i = 0; i < entry.entry().facts_size(); ++i) {
        Add({&entry.entry(), i, time::ToMicros(entry.entry().facts(i).happened_time()),
             recorded.recorded_us, recorded.sequence});
      }
      return true;
    });
    return problem.ok() ? status : problem;
  }

  void Add(const FactView& view) {
    fact::ForEachSubject(view.fact(), [&](fact::SubjectKind kind, std::string_view id) {
      if (kind != fact::SubjectKind::kUnit && kind != fact::SubjectKind::kOrder &&
          kind != fact::SubjectKind::kForecasts && kind != fact::SubjectKind::kComplaint) {
        return;
      }
      const std::string name = fact::SubjectName(kind, id);
      const auto [it, is_new] = slots_.try_emplace(name);
      Slot& slot = it->second;
      if (is_new) slot.state = fold::Empty(name);
      if (slot.late) return;
      if (!fold::InOrder(view, slot.state)) {
        // A question answered late changes no step, but only the whole fold knows what is open.
        slot.late = true;
        slot.Clear();
        return;
      }
      if (view.fact().has_question_answered()) {
        fold::Apply(view, *result_->book, &slot.state);
      } else {
        slot.Add(view, *result_->book);
      }
    });
  }

  absl::Status ReadLate() {
    return ledger_.WithReader([&](store::Connection& connection) -> absl::Status {
      for (auto& [name, slot] : slots_) {
        if (!slot.late) continue;
        int64_t id = 0;
        const Value parameters[] = {Value::Text(name)};
        absl::Status status = connection.Run(sql::kSubjectId, parameters,
                                             [&](const store::Row& row) { id = row.Int(0); });
        if (!status.ok()) return status;
        ledger::History history;
        status = history.Load(connection, id, result_->sequence);
        if (!status.ok()) return status;
        FoldWhole(name, history.views(), *result_->book, &slot);
      }
      return absl::OkStatus();
    });
  }

  void Keep(Slot* slot) {
    const depot::Rules& rules = result_->rules();
    if (slot->state.has_unit() && slot->state.unit().has_received()) {
      const v1::UnitState& state = slot->state.unit();
      UnitRecord unit;
      unit.unit = state.unit();
      unit.model = state.model();
      if (const v1::Model* model = rules.FindModel(state.model())) {
        unit.device_class = model->device_class();
      }
      unit.cost_minor = state.cost_minor();
      unit.service_overdue = ServiceOverdue(state, rules, result_->known_us);
      unit.steps = std::move(slot->unit_steps);
      result_->units.push_back(std::move(unit));
    } else if (slot->state.has_order() && slot->state.order().has_taken()) {
      const v1::OrderDetails& details = slot->state.order().details();
      OrderRecord order;
      order.order = slot->state.order().order();
      order.branch = details.branch();
      order.device_class = details.device_class();
      order.prescriber = details.prescriber();
      order.patient = details.patient();
      order.side = details.side();
      PutUse(slot->state.order(), rules, &order);
      order.steps = std::move(slot->order_steps);
      result_->orders.push_back(std::move(order));
    } else if (slot->state.has_complaint() && slot->state.complaint().has_received()) {
      const v1::ComplaintState& state = slot->state.complaint();
      result_->complaints.push_back(
          {state.complaint(), state.branch(), time::ToMicros(state.received().time()),
           state.has_answered() ? time::ToMicros(state.answered().time()) : kNever,
           state.has_closed(), slot->complaint});
    }
    for (v1::ForecastNoted& noted : slot->noted) result_->diary.push_back(std::move(noted));
    result_->diary_facts.insert(result_->diary_facts.end(), slot->noted_facts.begin(),
                                slot->noted_facts.end());
  }

  static void PutUse(const v1::OrderState& state, const depot::Rules& rules, OrderRecord* order) {
    if (state.usage().empty()) return;
    const v1::GetUsageResponse usage = order::UsageOf(state, rules);
    order->prescribed_daily_s = usage.prescribed_daily_use_s();
    order->doubtful_readings = usage.doubtful_count();
    for (const v1::UsageInterval& interval : usage.intervals()) {
      if (!interval.doubt().empty() || !time::IsValid(interval.through_date())) continue;
      order->use.push_back({time::DayNumber(time::ToDay(interval.through_date())),
                            interval.day_count(), interval.used_s()});
    }
  }

  ledger::Ledger& ledger_;
  std::map<std::string, Slot> slots_;
  std::shared_ptr<Records> result_ = std::make_shared<Records>();
};

}  // namespace

const OrderRecord* Records::FindOrder(std::string_view order) const {
  const auto it = std::lower_bound(
      orders.begin(), orders.end(), order,
      [](const OrderRecord& record, std::string_view name) { return record.order < name; });
  return it != orders.end() && it->order == order ? &*it : nullptr;
}

absl::StatusOr<std::shared_ptr<const Records>> ReadRecords(ledger::Ledger& ledger,
                                                           int64_t known_us) {
  return Reading(ledger, known_us).Run(known_us >= ledger.head().recorded_us);
}

absl::StatusOr<v1::Stamp> StampOf(ledger::Ledger& ledger, const FactKey& fact) {
  v1::Stamp stamp;
  const absl::Status status =
      ledger.Read(fact.sequence - 1, "", [&](const ledger::Recorded& recorded) {
        v1::LedgerEntry entry;
        if (entry.ParseFromArray(recorded.bytes.data(), static_cast<int>(recorded.bytes.size())) &&
            fact.index < entry.entry().facts_size()) {
          *stamp.mutable_time() = entry.entry().facts(fact.index).happened_time();
          stamp.set_actor(entry.entry().actor());
          stamp.mutable_fact()->set_entry_id(entry.entry().entry_id());
          stamp.mutable_fact()->set_index(fact.index);
        }
        return false;
      });
  if (!status.ok()) return status;
  return stamp;
}

absl::StatusOr<std::shared_ptr<const Records>> RecordsReader::Now(int64_t now_us) {
  std::lock_guard lock(mutex_);
  if (kept_ != nullptr && kept_->sequence == ledger_->head().sequence) return kept_;
  auto read = ReadRecords(*ledger_, now_us);
  if (read.ok()) kept_ = *read;
  return read;
}

absl::StatusOr<std::shared_ptr<const Records>> RecordsReader::At(std::optional<int64_t> known_us,
                                                                 int64_t now_us) {
  if (!known_us.has_value() || *known_us >= now_us) return Now(now_us);
  return ReadRecords(*ledger_, *known_us);
}

}  // namespace ferrule::outlook
