#include "core/fact/subject.h"

#include <algorithm>
#include <iterator>

#include "absl/status/status.h"
#include "absl/strings/str_cat.h"

namespace ferrule::fact {
namespace {

using Visit = absl::FunctionRef<void(SubjectKind, std::string_view)>;

struct Collection {
  SubjectKind kind;
  std::string_view prefix;
};
constexpr Collection kCollections[] = {
    {SubjectKind::kUnit, "units/"},
    {SubjectKind::kPart, "parts/"},
    {SubjectKind::kLot, "lots/"},
    {SubjectKind::kOrder, "orders/"},
    {SubjectKind::kSettings, "settings/"},
    {SubjectKind::kForecasts, "forecasts/"},
    {SubjectKind::kTester, "testers/"},
    {SubjectKind::kItem, "items/"},
    {SubjectKind::kTransfer, "transfers/"},
    {SubjectKind::kCount, "counts/"},
    {SubjectKind::kRecall, "recalls/"},
    {SubjectKind::kPlace, "places/"},
    {SubjectKind::kComplaint, "complaints/"},
};
constexpr std::string_view kSettingsId = "depot";

std::string_view PrefixOf(SubjectKind kind) {
  for (const Collection& c : kCollections) {
    if (c.kind == kind) return c.prefix;
  }
  return {};
}

bool IsAlphanumeric(char c) {
  return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9');
}

void VisitOne(SubjectKind kind, std::string_view id, Visit visit) {
  if (!id.empty()) visit(kind, id);
}
void VisitUnit(std::string_view id, Visit visit) { VisitOne(SubjectKind::kUnit, id, visit); }
void VisitPart(std::string_view id, Visit visit) { VisitOne(SubjectKind::kPart, id, visit); }
void VisitOrder(std::string_view id, Visit visit) { VisitOne(SubjectKind::kOrder, id, visit); }
void VisitTester(std::string_view id, Visit visit) { VisitOne(SubjectKind::kTester, id, visit); }

// Visits the ids that a list names, each once. Such lists are short (validate.h caps them), so a
// look back beats a set.
template <typename List, typename IdOf>
void VisitEach(SubjectKind kind, const List& list, IdOf id_of, Visit visit) {
  for (auto it = list.begin(); it != list.end(); ++it) {
    const auto same = [&](const auto& earlier) { return id_of(earlier) == id_of(*it); };
    if (std::none_of(list.begin(), it, same)) VisitOne(kind, id_of(*it), visit);
  }
}

template <typename Kit>
void VisitLots(const Kit& kit, Visit visit) {
  VisitEach(
      SubjectKind::kLot, kit,
      [](const v1::KitItem& item) -> const std::string& { return item.lot(); }, visit);
}

void VisitNamed(std::string_view name, Visit visit) {
  const absl::StatusOr<Subject> subject = ParseSubjectName(name);
  if (subject.ok()) visit(subject->kind, subject->id);
}

void VisitReversal(const v1::Reversal& reversal, Visit visit) {
  const auto& names = reversal.subjects();
  for (auto it = names.begin(); it != names.end(); ++it) {
    if (std::find(names.begin(), it, *it) == it) VisitNamed(*it, visit);
  }
}

template <typename Fact>
void VisitUnitAndOrder(const Fact& fact, Visit visit) {
  VisitUnit(fact.unit(), visit);
  VisitOrder(fact.order(), visit);
}

// An order that names an earlier one is the earlier one's business, too.
void VisitOrderAndLink(const std::string& order, const v1::OrderDetails& details, Visit visit) {
  VisitOrder(order, visit);
  if (details.linked_order() != order) VisitOrder(details.linked_order(), visit);
}

void VisitCarriedOver(const v1::CarriedOver& carried, Visit visit) {
  VisitUnit(carried.unit(), visit);
  VisitOrder(carried.from_order(), visit);
  if (carried.to_order() != carried.from_order()) VisitOrder(carried.to_order(), visit);
  VisitLots(carried.kit(), visit);
}

void VisitExchange(const v1::Exchanged& exchange, Visit visit) {
  VisitUnit(exchange.unit_out(), visit);
  if (exchange.unit_in() != exchange.unit_out()) VisitUnit(exchange.unit_in(), visit);
  VisitOrder(exchange.order(), visit);
  VisitLots(exchange.kit(), visit);
}

// Goods go by their lot, and by their item where they are only counted.
template <typename Goods>
void VisitGoods(const Goods& goods, Visit visit) {
  if (goods.lot().empty()) return VisitOne(SubjectKind::kItem, goods.item(), visit);
  VisitOne(SubjectKind::kLot, goods.lot(), visit);
}

template <typename Goods>
void VisitGoodsAndOrder(const Goods& goods, Visit visit) {
  VisitGoods(goods, visit);
  VisitOrder(goods.order(), visit);
}

template <typename Transfer>
void VisitTransfer(const Transfer& transfer, Visit visit) {
  VisitOne(SubjectKind::kTransfer, transfer.transfer(), visit);
  VisitEach(
      SubjectKind::kUnit, transfer.units(),
      [](const std::string& unit) -> const std::string& { return unit; }, visit);
  const auto& lines = transfer.lines();
  for (auto it = lines.begin(); it != lines.end(); ++it) {
    const auto same = [&](const v1::StockLine& earlier) {
      return earlier.lot() == it->lot() && (!it->lot().empty() || earlier.item() == it->item());
    };
    if (std::none_of(lines.begin(), it, same)) VisitGoods(*it, visit);
  }
}

void VisitOutcome(const v1::RecallOutcomeNoted& outcome, Visit visit) {
  VisitOne(SubjectKind::kRecall, outcome.recall(), visit);
  VisitNamed(outcome.subject(), visit);
}

template <typename Received>
void VisitReceived(const Received& received, Visit visit) {
  VisitUnit(received.unit(), visit);
  VisitEach(
      SubjectKind::kPart, received.parts(),
      [](const v1::PartInPosition& p) -> const std::string& { return p.part(); }, visit);
}

void VisitDoubted(const v1::TesterDoubted& doubted, Visit visit) {
  VisitTester(doubted.tester(), visit);
  VisitEach(
      SubjectKind::kUnit, doubted.units(),
      [](const std::string& unit) -> const std::string& { return unit; }, visit);
}

}  // namespace

std::string SubjectName(SubjectKind kind, std::string_view id) {
  const std::string_view prefix = PrefixOf(kind);
  std::string name;
  name.reserve(prefix.size() + id.size());
  name.append(prefix).append(id);
  return name;
}

bool IsValidId(std::string_view id) {
  if (id.empty() || id.size() > kMaxIdLength || !IsAlphanumeric(id.front())) return false;
  return std::all_of(id.begin(), id.end(),
                     [](char c) { return IsAlphanumeric(c) || c == '.' || c == '_' || c == '-'; });
}

std::string BareId(std::string_view name) {
  // Behind npos + 1, which is 0, lies the whole of a name without a slash.
  return std::string(name.substr(name.find('/') + 1));
}

absl::StatusOr<Subject> ParseSubjectName(std::string_view name) {
  for (const Collection& c : kCollections) {
    if (name.substr(0, c.prefix.size()) != c.prefix) continue;
    const std::string_view id = name.substr(c.prefix.size());
    const bool right = c.kind == SubjectKind::kSettings ? id == kSettingsId : IsValidId(id);
    if (right) return Subject{c.kind, id};
  }
  return absl::InvalidArgumentError(absl::StrCat(
      "\"", std::string(name),
      "\" names no subject: write units/K-0417, parts/..., lots/..., orders/..., testers/..., "
      "items/..., transfers/..., counts/..., recalls/..., places/..., complaints/..., "
      "forecasts/... or settings/depot; "
      "an id has 1 to 64 letters, digits, dots, underscores or hyphens and begins with a letter or "
      "a digit"));
}

void ForEachSubject(const v1::Fact& fact, Visit visit) {
  using F = v1::Fact;
  switch (fact.what_case()) {
    case F::kUnitReceived:
      return VisitReceived(fact.unit_received(), visit);
    case F::kUnitMoved:
      return VisitUnit(fact.unit_moved().unit(), visit);
    case F::kMeterRead:
      return VisitUnit(fact.meter_read().unit(), visit);
    case F::kMeterReplaced:
      return VisitUnit(fact.meter_replaced().unit(), visit);
    case F::kMeterRolledOver:
      return VisitUnit(fact.meter_rolled_over().unit(), visit);
    case F::kPartFitted:
      VisitPart(fact.part_fitted().part(), visit);
      return VisitUnit(fact.part_fitted().unit(), visit);
    case F::kPartRemoved:
      VisitPart(fact.part_removed().part(), visit);
      return VisitUnit(fact.part_removed().unit(), visit);
    case F::kHoldPlaced:
      return VisitUnit(fact.hold_placed().unit(), visit);
    case F::kHoldLifted:
      return VisitUnit(fact.hold_lifted().unit(), visit);
    case F::kCleaningStarted:
      return VisitUnit(fact.cleaning_started().unit(), visit);
    case F::kCleaningFinished:
      return VisitUnit(fact.cleaning_finished().unit(), visit);
    case F::kMemoryErased:
      return VisitUnit(fact.memory_erased().unit(), visit);
    case F::kInspectionDone:
      return VisitUnit(fact.inspection_done().unit(), visit);
    case F::kRepairOpened:
      return VisitUnit(fact.repair_opened().unit(), visit);
    case F::kRepairClosed:
      return VisitUnit(fact.repair_closed().unit(), visit);
    case F::kServiceDone:
      return VisitUnit(fact.service_done().unit(), visit);
    case F::kSideConfigured:
      return VisitUnit(fact.side_configured().unit(), visit);
    case F::kUnitMissing:
      return VisitUnit(fact.unit_missing().unit(), visit);
    case F::kUnitFound:
      return VisitUnit(fact.unit_found().unit(), visit);
    case F::kUnitWrittenOff:
      return VisitUnit(fact.unit_written_off().unit(), visit);
    case F::kAliasNoted:
      return VisitUnit(fact.alias_noted().unit(), visit);
    case F::kCleaningStepDone:
      return VisitUnit(fact.cleaning_step_done().unit(), visit);
    case F::kContactNoted:
      return VisitUnit(fact.contact_noted().unit(), visit);
    case F::kTreatmentDone:
      return VisitUnit(fact.treatment_done().unit(), visit);
    case F::kServiceDeferred:
      return VisitUnit(fact.service_deferred().unit(), visit);
    case F::kTesterCalibrated:
      return VisitTester(fact.tester_calibrated().tester(), visit);
    case F::kTesterDoubted:
      return VisitDoubted(fact.tester_doubted(), visit);
    case F::kOrderTaken:
      return VisitOrderAndLink(fact.order_taken().order(), fact.order_taken().details(), visit);
    case F::kOrderChanged:
      return VisitOrderAndLink(fact.order_changed().order(), fact.order_changed().details(), visit);
    case F::kOrderCancelled:
      return VisitOrder(fact.order_cancelled().order(), visit);
    case F::kUnitHeldForOrder:
      return VisitUnitAndOrder(fact.unit_held_for_order(), visit);
    case F::kOrderHoldReleased:
      return VisitUnitAndOrder(fact.order_hold_released(), visit);
    case F::kHandedOver:
      VisitUnitAndOrder(fact.handed_over(), visit);
      return VisitLots(fact.handed_over().kit(), visit);
    case F::kExchanged:
      return VisitExchange(fact.exchanged(), visit);
    case F::kOrderExtended:
      return VisitOrder(fact.order_extended().order(), visit);
    case F::kPickupAgreed:
      return VisitOrder(fact.pickup_agreed().order(), visit);
    case F::kPickupFailed:
      return VisitOrder(fact.pickup_failed().order(), visit);
    case F::kPickedUp:
      return VisitUnitAndOrder(fact.picked_up(), visit);
    case F::kReceivedBack:
      return VisitReceived(fact.received_back(), visit);
    case F::kOrderMessageReceived:
      return VisitOrder(fact.order_message_received().order(), visit);
    case F::kForecastNoted:
      return VisitOne(SubjectKind::kForecasts, fact.forecast_noted().branch(), visit);
    case F::kOrderReinstated:
      return VisitOrder(fact.order_reinstated().order(), visit);
    case F::kDetailsConfirmed:
      return VisitOrder(fact.details_confirmed().order(), visit);
    case F::kAuthorisationNoted:
      return VisitOrder(fact.authorisation_noted().order(), visit);
    case F::kPatientStayNoted:
      return VisitOrder(fact.patient_stay_noted().order(), visit);
    case F::kOrderStopped:
      return VisitOrder(fact.order_stopped().order(), visit);
    case F::kUseNoted:
      return VisitOrder(fact.use_noted().order(), visit);
    case F::kDaysBilled:
      return VisitOrder(fact.days_billed().order(), visit);
    case F::kCarriedOver:
      return VisitCarriedOver(fact.carried_over(), visit);
    case F::kUsageReported:
      return VisitOrder(fact.usage_reported().order(), visit);
    case F::kMotionChanged:
      return VisitOrder(fact.motion_changed().order(), visit);
    case F::kWaitingNoted:
      return VisitOrder(fact.waiting_noted().order(), visit);
    case F::kPromiseRefused:
      return VisitOrder(fact.promise_refused().order(), visit);
    case F::kUnitPromised:
      return VisitUnitAndOrder(fact.unit_promised(), visit);
    case F::kSettingsPut:
      return visit(SubjectKind::kSettings, kSettingsId);
    case F::kReversal:
      return VisitReversal(fact.reversal(), visit);
    case F::kQuestionAnswered:
      return VisitNamed(fact.question_answered().subject(), visit);
    case F::kStockReceived:
      return VisitGoods(fact.stock_received(), visit);
    case F::kStockMoved:
      return VisitGoods(fact.stock_moved(), visit);
    case F::kStockIssued:
      return VisitGoodsAndOrder(fact.stock_issued(), visit);
    case F::kStockReturned:
      return VisitGoodsAndOrder(fact.stock_returned(), visit);
    case F::kStockDiscarded:
      return VisitGoods(fact.stock_discarded(), visit);
    case F::kStockAdjusted:
      VisitGoods(fact.stock_adjusted(), visit);
      return VisitOne(SubjectKind::kCount, fact.stock_adjusted().count(), visit);
    case F::kTransferSent:
      return VisitTransfer(fact.transfer_sent(), visit);
    case F::kTransferReceived:
      return VisitTransfer(fact.transfer_received(), visit);
    case F::kClosetUseReported:
      return VisitOne(SubjectKind::kPlace, fact.closet_use_reported().place(), visit);
    case F::kClosetUseSettled:
      return VisitOne(SubjectKind::kPlace, fact.closet_use_settled().place(), visit);
    case F::kCountOpened:
      return VisitOne(SubjectKind::kCount, fact.count_opened().count(), visit);
    case F::kCountTallied:
      return VisitOne(SubjectKind::kCount, fact.count_tallied().count(), visit);
    case F::kCountClosed:
      return VisitOne(SubjectKind::kCount, fact.count_closed().count(), visit);
    case F::kRecallOpened:
      return VisitOne(SubjectKind::kRecall, fact.recall_opened().recall(), visit);
    case F::kRecallOutcomeNoted:
      return VisitOutcome(fact.recall_outcome_noted(), visit);
    case F::kRecallClosed:
      return VisitOne(SubjectKind::kRecall, fact.recall_closed().recall(), visit);
    case F::kSealBroken:
      return VisitUnit(fact.seal_broken().unit(), visit);
    case F::kPurposeChanged:
      return VisitUnit(fact.purpose_changed().unit(), visit);
    case F::kSetUpDone:
      return VisitOrder(fact.set_up_done().order(), visit);
    case F::kTicketReturned:
      return VisitOrder(fact.ticket_returned().order(), visit);
    case F::kCallMade:
      return VisitOrder(fact.call_made().order(), visit);
    case F::kPrecautionsNoted:
      return VisitOrder(fact.precautions_noted().order(), visit);
    case F::kBreakdownReported:
      return VisitOrder(fact.breakdown_reported().order(), visit);
    case F::kBreakdownSettled:
      return VisitOrder(fact.breakdown_settled().order(), visit);
    case F::kComplaintReceived:
      return VisitOne(SubjectKind::kComplaint, fact.complaint_received().complaint(), visit);
    case F::kComplaintAnswered:
      return VisitOne(SubjectKind::kComplaint, fact.complaint_answered().complaint(), visit);
    case F::kComplaintClosed:
      return VisitOne(SubjectKind::kComplaint, fact.complaint_closed().complaint(), visit);
    case F::kRecordsHeld:
      return VisitOrder(fact.records_held().order(), visit);
    case F::kRecordsReleased:
      return VisitOrder(fact.records_released().order(), visit);
    case F::kRecordsDisclosed:
      return VisitOrder(fact.records_disclosed().order(), visit);
    case F::WHAT_NOT_SET:
      return;
  }
}

std::vector<std::string> SubjectsOf(const v1::Fact& fact) {
  std::vector<std::string> names;
  ForEachSubject(fact, [&names](SubjectKind kind, std::string_view id) {
    names.push_back(SubjectName(kind, id));
  });
  return names;
}

}  // namespace ferrule::fact
