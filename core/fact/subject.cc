#include "core/fact/subject.h"

#include <algorithm>

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
    {SubjectKind::kUnit, "units/"},        {SubjectKind::kPart, "parts/"},
    {SubjectKind::kLot, "lots/"},          {SubjectKind::kOrder, "orders/"},
    {SubjectKind::kSettings, "settings/"},
};
constexpr std::string_view kSettingsId = "depot";

std::string_view PrefixOf(SubjectKind kind) {
  return kCollections[static_cast<size_t>(kind) - 1].prefix;
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

void VisitExchange(const v1::Exchanged& exchange, Visit visit) {
  VisitUnit(exchange.unit_out(), visit);
  if (exchange.unit_in() != exchange.unit_out()) VisitUnit(exchange.unit_in(), visit);
  VisitOrder(exchange.order(), visit);
  VisitLots(exchange.kit(), visit);
}

void VisitReceived(const v1::UnitReceived& received, Visit visit) {
  VisitUnit(received.unit(), visit);
  VisitEach(
      SubjectKind::kPart, received.parts(),
      [](const v1::PartInPosition& p) -> const std::string& { return p.part(); }, visit);
}

}  // namespace

std::string SubjectName(SubjectKind kind, std::string_view id) {
  std::string name;
  PutSubjectName(kind, id, &name);
  return name;
}

void PutSubjectName(SubjectKind kind, std::string_view id, std::string* name) {
  const std::string_view prefix = PrefixOf(kind);
  name->clear();
  name->reserve(prefix.size() + id.size());
  name->append(prefix).append(id);
}

bool IsValidId(std::string_view id) {
  if (id.empty() || id.size() > kMaxIdLength || !IsAlphanumeric(id.front())) return false;
  return std::all_of(id.begin(), id.end(),
                     [](char c) { return IsAlphanumeric(c) || c == '.' || c == '_' || c == '-'; });
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
      "\" names no subject: write units/K-0417, parts/..., lots/..., orders/... or settings/depot; "
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
    case F::kOrderTaken:
      return VisitOrder(fact.order_taken().order(), visit);
    case F::kOrderChanged:
      return VisitOrder(fact.order_changed().order(), visit);
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
      return VisitUnit(fact.received_back().unit(), visit);
    case F::kSettingsPut:
      return visit(SubjectKind::kSettings, kSettingsId);
    case F::kReversal:
      return VisitReversal(fact.reversal(), visit);
    case F::kQuestionAnswered:
      return VisitNamed(fact.question_answered().subject(), visit);
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
