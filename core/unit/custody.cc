#include <algorithm>
#include <utility>

#include "core/finding/enum_words.h"
#include "core/unit/ready.h"
#include "core/unit/unit_fold.h"

namespace ferrule::unit {
namespace {

template <typename Fact>
std::optional<int64_t> MeterOf(const Fact& f) {
  return f.has_meter_s() ? std::optional<int64_t>(f.meter_s()) : std::nullopt;
}

bool KeepsFromFurtherUse(v1::Reason reason) {
  return reason == v1::REASON_ON_HOLD || reason == v1::REASON_CONTAMINATED ||
         reason == v1::REASON_SERVICE_DUE || reason == v1::REASON_UNDER_REPAIR ||
         reason == v1::REASON_INSPECTION_FAILED || reason == v1::REASON_PART_MISSING;
}

}  // namespace

void UnitFold::On(const v1::UnitReceived& f) {
  const bool first = !unit_->has_received();
  if (!first) {
    // Another unit with the same tag, or this one entered twice: this one stays as it is.
    Take(Event::kReceived);
    return;
  }
  if (rules().FindModel(f.model()) == nullptr) {
    Raise(v1::REASON_MODEL_UNKNOWN, {{"model", f.model()}});
  }
  Take(Event::kReceived);
  unit_->set_serial(f.serial());
  unit_->set_udi(f.udi());
  unit_->set_model(f.model());
  unit_->set_owner(f.owner());
  unit_->set_purpose(f.purpose());
  unit_->set_cost_minor(f.cost_minor());
  unit_->set_side(f.side());
  Stamp(unit_->mutable_received());
  Return();
  PutAt(f.place());
  if (f.has_meter_s()) meter().Begin(f.meter_s());
  for (const v1::PartInPosition& p : f.parts()) {
    CheckPosition(p.position());
    Fit(p.part(), p.position());
  }
}

void UnitFold::On(const v1::UnitMoved& f) {
  if (unit_->custody() == v1::CUSTODY_PLACE && !f.from_place().empty() &&
      f.from_place() != unit_->place()) {
    Raise(v1::REASON_NOT_AT_THAT_PLACE, {{"from", f.from_place()}, {"found", unit_->place()}},
          {&unit_->custody_since()});
  }
  if (Take(Event::kMoved)) PutAt(f.to_place());
}

// An alias is a word about the unit, so it can be noted wherever the unit is.
void UnitFold::On(const v1::AliasNoted& f) {
  if (!Take(Event::kAliasNoted)) return;
  auto* aliases = unit_->mutable_aliases();
  const auto known = std::find_if(aliases->begin(), aliases->end(),
                                  [&](const v1::Alias& a) { return a.alias() == f.alias(); });
  if (known != aliases->end()) {
    Raise(v1::REASON_ALIAS_ALREADY_NOTED,
          {{"item", known->alias()}, {"kind", finding::Words(known->kind())}}, {&known->noted()});
    known->set_kind(f.kind());  // the later word holds
    return;
  }
  v1::Alias* alias = aliases->Add();
  alias->set_alias(f.alias());
  alias->set_kind(f.kind());
  Stamp(alias->mutable_noted());
  std::sort(aliases->begin(), aliases->end(),
            [](const v1::Alias& a, const v1::Alias& b) { return a.alias() < b.alias(); });
}

void UnitFold::On(const v1::UnitMissing&) { Take(Event::kMissing); }

void UnitFold::On(const v1::UnitFound& f) {
  if (!Take(Event::kFound)) return;
  Return();
  PutAt(f.place());
}

void UnitFold::On(const v1::UnitWrittenOff&) { Take(Event::kWrittenOff); }

void UnitFold::On(const v1::UnitHeldForOrder& f) {
  const bool again = unit_->commitment() == v1::COMMITMENT_HELD && unit_->order() == f.order();
  if (!Take(again ? Event::kHeldAgain : Event::kHeldForOrder)) return;
  if (unit_->commitment() != v1::COMMITMENT_HELD) return;
  unit_->set_order(f.order());
  unit_->set_hold_firm(f.firm());
  if (f.has_until_time()) {
    *unit_->mutable_hold_until_time() = f.until_time();
  } else {
    unit_->clear_hold_until_time();
  }
}

// A cancelled order is no subject of the unit's, so its fold does not see the cancellation: whoever
// cancels an order with a hold sends this fact in the same entry.
void UnitFold::On(const v1::OrderHoldReleased& f) {
  Take(unit_->order() == f.order() ? Event::kHoldReleased : Event::kOtherHoldReleased);
}

void UnitFold::GoOut(Event event, const std::string& order, const std::string& seen_model,
                     v1::Side seen_side, std::optional<int64_t> meter_s) {
  if (!unit_->has_received()) {
    Take(event);
    return;
  }
  // Class and side that the order needs are judged by the order's own fold, from what was seen.
  ReadyQuery query;
  query.at_us = view_.happened_us;
  query.order = order;
  for (v1::Finding& finding : Assess(*state_, book_, query)) raiser_->Raise(std::move(finding));
  if (seen_model != unit_->model()) {
    Raise(v1::REASON_UNIT_NOT_AS_RECORDED,
          {{"item", "model"}, {"expected", unit_->model()}, {"found", seen_model}});
  }
  if (seen_side != v1::SIDE_UNSPECIFIED && seen_side != unit_->side()) {
    Raise(v1::REASON_UNIT_NOT_AS_RECORDED, {{"item", "side"},
                                            {"expected", finding::Words(unit_->side())},
                                            {"found", finding::Words(seen_side)}});
  }
  if (meter_s) meter().Read(*meter_s);
  Take(event);
  unit_->set_order(order);
  unit_->set_turn_count(unit_->turn_count() + 1);
  Stamp(unit_->mutable_custody_since());
}

void UnitFold::On(const v1::HandedOver& f) {
  GoOut(Event::kHandedOver, f.order(), f.unit_model(), f.unit_side(), MeterOf(f));
  if (!unit_->has_received()) return;
  SetOut(f.order());
  *unit_->mutable_kit()->mutable_handed_over() = f.accessories();
}

// A new count begins with every set-out.
void UnitFold::SetOut(const std::string& order) {
  unit_->clear_kit();
  unit_->mutable_kit()->set_order(order);
  Stamp(unit_->mutable_kit()->mutable_set_out());
}

void UnitFold::On(const v1::Exchanged& f) {
  if (unit_->unit() == f.unit_out()) {
    return ComeHome(Event::kExchangedOut, f.order(), f.to_place(),
                    f.has_out_meter_s() ? std::optional<int64_t>(f.out_meter_s()) : std::nullopt);
  }
  GoOut(Event::kExchangedIn, f.order(), f.unit_in_model(), f.unit_in_side(),
        f.has_in_meter_s() ? std::optional<int64_t>(f.in_meter_s()) : std::nullopt);
  if (unit_->has_received()) SetOut(f.order());
}

// The same patient keeps it, so it need not be cleaned, and it is in no clean place; what keeps any
// unit from being used further does so here, too.
void UnitFold::On(const v1::CarriedOver& f) {
  if (!unit_->has_received()) {
    Take(Event::kCarriedOver);
    return;
  }
  ReadyQuery query;
  query.at_us = view_.happened_us;
  query.order = f.from_order();
  for (v1::Finding& finding : Assess(*state_, book_, query)) {
    if (KeepsFromFurtherUse(finding.reason())) raiser_->Raise(std::move(finding));
  }
  if (f.unit_model() != unit_->model()) {
    Raise(v1::REASON_UNIT_NOT_AS_RECORDED,
          {{"item", "model"}, {"expected", unit_->model()}, {"found", f.unit_model()}});
  }
  if (unit_->custody() == v1::CUSTODY_HOME && unit_->order() != f.from_order()) {
    Raise(v1::REASON_NOT_AT_THAT_HOME, {{"expected", f.from_order()}, {"found", unit_->order()}},
          {&unit_->custody_since()});
  }
  if (f.has_meter_s()) meter().Read(f.meter_s());
  Take(Event::kCarriedOver);
  if (f.unit_side() != v1::SIDE_UNSPECIFIED) unit_->set_side(f.unit_side());
  unit_->set_order(f.to_order());
  unit_->set_turn_count(unit_->turn_count() + 1);
  Stamp(unit_->mutable_custody_since());
}

void UnitFold::ComeHome(Event event, const std::string& order, const std::string& place,
                        std::optional<int64_t> meter_s) {
  if (unit_->custody() == v1::CUSTODY_HOME && !order.empty() && unit_->order() != order) {
    Raise(v1::REASON_NOT_AT_THAT_HOME, {{"expected", order}, {"found", unit_->order()}},
          {&unit_->custody_since()});
  }
  if (!Take(event)) return;
  if (meter_s) meter().Read(*meter_s);
  Return();
  PutAt(place);
}

void UnitFold::On(const v1::PickedUp& f) {
  ComeHome(Event::kPickedUp, f.order(), f.to_place(), MeterOf(f));
  if (!unit_->has_received()) return;
  v1::KitCount* kit = unit_->mutable_kit();
  Stamp(kit->mutable_pickup());
  *kit->mutable_picked_up() = f.accessories();
  *kit->mutable_missing_at_pickup() = f.missing();
  for (const std::string& position : f.missing()) MarkMissing(position);
}

void UnitFold::On(const v1::ReceivedBack& f) {
  ComeHome(Event::kReceivedBack, "", f.place(), MeterOf(f));
  if (unit_->has_received()) CountAtDock(f);
}

}  // namespace ferrule::unit
