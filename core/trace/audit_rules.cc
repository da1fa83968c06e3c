#include "core/trace/audit_rules.h"

#include <algorithm>
#include <map>

#include "absl/strings/str_cat.h"
#include "absl/strings/str_join.h"
#include "core/fact/counted.h"
#include "core/fact/subject.h"
#include "core/time/civil.h"

namespace ferrule::trace {
namespace {

using fact::SubjectKind;
using fact::SubjectName;

constexpr int64_t kHourUs = int64_t{3'600'000'000};
constexpr int kHoursOnVan = 24;  // common practice, no source: a van is unloaded every day

// A unit on rent whose order does not have it out, or the other way round.
void UnitAndOrder(const AuditRecords& records, const depot::Rules&, AuditHits* hits) {
  for (const auto& [id, unit] : records.units) {
    if (unit.custody != v1::CUSTODY_HOME) continue;
    const auto order = records.orders.find(unit.order);
    const std::string other = SubjectName(SubjectKind::kOrder, unit.order);
    if (order == records.orders.end()) {
      hits->Add(unit.name, absl::StrCat("is at the home of an order that is not known"),
                unit.since_us, other);
    } else if (std::find(order->second.out.begin(), order->second.out.end(), id) ==
               order->second.out.end()) {
      hits->Add(unit.name, "is at the home of an order that does not have it out", unit.since_us,
                other);
    }
  }
  for (const auto& [id, order] : records.orders) {
    for (const std::string& unit : order.out) {
      const auto found = records.units.find(unit);
      const bool there = found != records.units.end() &&
                         found->second.custody == v1::CUSTODY_HOME && found->second.order == id;
      if (!there) {
        hits->Add(order.name, absl::StrCat("has ", unit, " out, and the unit is elsewhere"),
                  order.since_us, SubjectName(SubjectKind::kUnit, unit));
      }
    }
  }
}

void OrphanParts(const AuditRecords& records, const depot::Rules&, AuditHits* hits) {
  std::map<std::string, std::vector<std::string>> listed;  // units that list a part
  for (const auto& [id, unit] : records.units) {
    for (const std::string& part : unit.parts) listed[part].push_back(id);
  }
  for (const AuditPart& part : records.parts) {
    const std::string id = part.name.substr(part.name.find('/') + 1);
    const std::vector<std::string>& in = listed[id];
    if (!part.unit.empty() && records.units.count(part.unit) == 0) {
      hits->Add(part.name, "is in a unit that was never received", part.since_us,
                SubjectName(SubjectKind::kUnit, part.unit));
    } else if (!part.unit.empty() && std::find(in.begin(), in.end(), part.unit) == in.end()) {
      hits->Add(part.name, "is in a unit that has another part in its place", part.since_us,
                SubjectName(SubjectKind::kUnit, part.unit));
    }
    for (const std::string& unit : in) {
      if (unit == part.unit) continue;
      hits->Add(part.name,
                absl::StrCat("is listed in ", unit, ", and its own records have it ",
                             part.unit.empty() ? "in no unit" : absl::StrCat("in ", part.unit)),
                part.since_us, SubjectName(SubjectKind::kUnit, unit));
    }
  }
}

void SerialOnTwoUnits(const AuditRecords& records, const depot::Rules&, AuditHits* hits) {
  std::map<std::pair<std::string, std::string>, const AuditUnit*> first;
  for (const auto& [id, unit] : records.units) {
    if (unit.serial.empty()) continue;
    const auto [it, is_new] = first.try_emplace({unit.model, unit.serial}, &unit);
    if (is_new) continue;
    hits->Add(unit.name, absl::StrCat("bears serial number ", unit.serial, " of another unit"),
              unit.since_us, it->second->name);
  }
}

void MeterFaults(const AuditRecords& records, const depot::Rules&, AuditHits* hits) {
  for (const auto& [id, unit] : records.units) {
    if (unit.meter_fault_us == 0) continue;
    hits->Add(unit.name, "has a meter reading that fell or ran faster than time",
              unit.meter_fault_us);
  }
}

void BilledWithoutDelivery(const AuditRecords& records, const depot::Rules&, AuditHits* hits) {
  for (const auto& [id, order] : records.orders) {
    if (order.billed_us == 0 || order.delivered) continue;
    hits->Add(order.name, "was billed, and no hand-over is recorded", order.billed_us);
  }
}

void StockBelowZero(const AuditRecords& records, const depot::Rules&, AuditHits* hits) {
  for (const AuditStock& stock : records.below_zero) {
    hits->Add(stock.name,
              absl::StrCat("has ", fact::Counted(stock.pieces, "piece", "pieces"),
                           stock.place.empty() ? "" : absl::StrCat(" at ", stock.place)),
              0, stock.place.empty() ? "" : SubjectName(SubjectKind::kPlace, stock.place));
  }
}

void LateTransfers(const AuditRecords& records, const depot::Rules& rules, AuditHits* hits) {
  const int hours = rules.settings().transfer_alarm_hours();
  const int64_t most_us = (hours == 0 ? 24 : hours) * kHourUs;
  for (const v1::TransferState& transfer : records.transfers) {
    const int64_t sent_us = time::ToMicros(transfer.sent().time());
    if (!transfer.has_sent() || records.now_us - sent_us < most_us) continue;
    hits->Add(SubjectName(SubjectKind::kTransfer, transfer.transfer()),
              absl::StrCat("has been on the way to ", transfer.to_place(), " for ",
                           fact::Counted((records.now_us - sent_us) / kHourUs, "hour", "hours")),
              sent_us, SubjectName(SubjectKind::kPlace, transfer.to_place()));
  }
}

void LeftOnVan(const AuditRecords& records, const depot::Rules& rules, AuditHits* hits) {
  for (const auto& [id, unit] : records.units) {
    if (unit.custody != v1::CUSTODY_PLACE) continue;
    const v1::Place* place = rules.FindPlace(unit.place);
    if (place == nullptr || place->kind() != v1::PLACE_KIND_VAN_DIRTY) continue;
    const int64_t hours = (records.now_us - unit.since_us) / kHourUs;
    if (hours < kHoursOnVan) continue;
    hits->Add(
        unit.name,
        absl::StrCat("was picked up ", hours, " hours ago and is not received: on ", unit.place),
        unit.since_us, SubjectName(SubjectKind::kPlace, unit.place));
  }
}

void CleanBesideSoiled(const AuditRecords& records, const depot::Rules& rules, AuditHits* hits) {
  std::map<std::string, const AuditUnit*> soiled;  // one for each clean place
  for (const auto& [id, unit] : records.units) {
    const v1::Place* place = rules.FindPlace(unit.place);
    const bool counts = unit.custody == v1::CUSTODY_PLACE && unit.transfer.empty() &&
                        place != nullptr && depot::IsCleanPlace(place->kind());
    if (counts && unit.hygiene != v1::HYGIENE_CLEANED) soiled.try_emplace(unit.place, &unit);
  }
  for (const auto& [id, unit] : records.units) {
    if (unit.custody != v1::CUSTODY_PLACE || unit.hygiene != v1::HYGIENE_CLEANED) continue;
    const auto beside = soiled.find(unit.place);
    if (beside == soiled.end()) continue;
    hits->Add(unit.name,
              absl::StrCat("is clean and stands at ", unit.place, " beside a soiled one"),
              unit.since_us, beside->second->name);
  }
}

void ClosetUses(const AuditRecords& records, const depot::Rules&, AuditHits* hits) {
  for (const v1::PlaceState& place : records.places) {
    for (const v1::ClosetUse& use : place.uses()) {
      hits->Add(
          SubjectName(SubjectKind::kPlace, place.place()),
          absl::StrCat(use.piece_count(), " ", use.item().empty() ? use.device_class() : use.item(),
                       " used, and no papers",
                       use.chase().empty() ? "" : absl::StrCat("; ask ", use.chase())),
          time::ToMicros(use.reported().time()));
    }
  }
}

void RentedInTooLong(const AuditRecords& records, const depot::Rules&, AuditHits* hits) {
  for (const auto& [id, unit] : records.units) {
    if (unit.rented_in_until.empty()) continue;
    hits->Add(unit.name, absl::StrCat("is rented in and was to go back by ", unit.rented_in_until),
              0);
  }
}

constexpr AuditRuleRow kRules[] = {
    {"unit-and-order", "a unit is with one order, and that order has it out", UnitAndOrder},
    {"orphan-part", "a part is in one unit, which is known and lists it", OrphanParts},
    {"serial-on-two-units", "no two units of a model bear one serial number", SerialOnTwoUnits},
    {"meter-fault", "run hours never fall and never run faster than time", MeterFaults},
    {"billed-without-delivery", "nothing is billed that was never handed over",
     BilledWithoutDelivery},
    {"stock-below-zero", "no place has fewer than no pieces", StockBelowZero},
    {"transfer-late", "what was sent arrives within the hours that the settings give",
     LateTransfers},
    {"left-on-van", "what was picked up is received within a day", LeftOnVan},
    {"clean-beside-soiled", "nothing soiled stands in a clean place beside what is clean",
     CleanBesideSoiled},
    {"closet-use-without-papers", "every use out of a closet has its papers", ClosetUses},
    {"rented-in-too-long", "what is rented in goes back on its day", RentedInTooLong},
};

}  // namespace

void AuditHits::Add(const std::string& subject, const std::string& words, int64_t us,
                    const std::string& other) {
  rule_->set_hit_count(rule_->hit_count() + 1);
  if (rule_->hits_size() == kMost) return;
  v1::AuditHit* hit = rule_->add_hits();
  hit->set_subject(subject);
  hit->set_words(words);
  hit->set_other(other);
  if (us != 0) time::SetMicros(us, hit->mutable_time());
}

std::span<const AuditRuleRow> RulesOnStates() { return kRules; }

}  // namespace ferrule::trace
