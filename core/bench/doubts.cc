#include "core/bench/doubts.h"

#include <algorithm>
#include <cmath>
#include <optional>
#include <tuple>

#include "core/time/civil.h"
#include "core/unit/inspection.h"

namespace ferrule::bench {
namespace {

constexpr int kAtHome = 1;
constexpr int kUnaccounted = 2;
constexpr int kReadyToGo = 3;
constexpr int kInDepot = 4;
constexpr int kSettled = 5;

int RankOf(const v1::UnitState& now, bool settled) {
  if (settled) return kSettled;
  if (now.custody() == v1::CUSTODY_HOME) return kAtHome;
  if (now.custody() == v1::CUSTODY_UNACCOUNTED) return kUnaccounted;
  const bool shelf =
      now.hygiene() == v1::HYGIENE_CLEANED && now.condition() == v1::CONDITION_PASSED;
  return shelf ? kReadyToGo : kInDepot;
}

void PutPresent(const v1::UnitState& now, v1::DoubtRow* row) {
  row->set_unit(now.unit());
  row->set_custody(now.custody());
  row->set_place(now.place());
  if (now.custody() == v1::CUSTODY_HOME) row->set_order(now.order());
  row->set_rank(RankOf(now, row->has_settled()));
}

// Least distance of the readings to their limits, as a share of the limit; absent without any.
std::optional<double> MarginOf(const v1::InspectionDone& f, const v1::Checklist* checklist) {
  std::optional<double> least;
  for (const v1::Reading& reading : f.readings()) {
    for (int i = 0; checklist != nullptr && i < checklist->items_size(); ++i) {
      const v1::ChecklistItem& item = checklist->items(i);
      if (item.id() != reading.item()) continue;
      for (const auto& [given, limit] :
           {std::pair(item.has_max(), item.max()), std::pair(item.has_min(), item.min())}) {
        if (!given || limit == 0) continue;
        const double margin = std::abs(limit - reading.value()) / std::abs(limit);
        if (!least || margin < *least) least = margin;
      }
    }
  }
  return least;
}

v1::DoubtKind KindOf(unit::Trust trust) {
  switch (trust) {
    case unit::Trust::kDoubted:
      return v1::DOUBT_KIND_TESTER_DOUBTED;
    case unit::Trust::kOutOfDate:
      return v1::DOUBT_KIND_TESTER_OUT_OF_DATE;
    case unit::Trust::kNotCalibrated:
      return v1::DOUBT_KIND_TESTER_NOT_CALIBRATED;
    default:
      return v1::DOUBT_KIND_UNSPECIFIED;
  }
}

// "north-van" of "north-van-clean" and "north-van-dirty": the sides of one van.
std::string VanOf(const Standing& unit) {
  const bool van = unit.kind == v1::PLACE_KIND_VAN_CLEAN || unit.kind == v1::PLACE_KIND_VAN_DIRTY;
  return van ? unit.place.substr(0, unit.place.rfind('-')) : "";
}

bool KeepsClean(v1::PlaceKind kind) {
  return depot::IsCleanPlace(kind) || kind == v1::PLACE_KIND_BENCH;
}

v1::DoubtRow Beside(const Standing& clean, const Standing& soiled, v1::DoubtKind kind) {
  v1::DoubtRow row;
  row.set_kind(kind);
  *row.mutable_result() = clean.since;
  row.set_beside_unit(soiled.unit);
  PutPresent(clean.state, &row);
  return row;
}

}  // namespace

unit::Trust DoubtfulPasses::TrustOf(const std::string& tester, int64_t at_us,
                                    const v1::UnitState& unit) const {
  if (supposed_ != nullptr && supposed_->tester == tester && supposed_->from_us <= at_us &&
      at_us < supposed_->to_us) {
    return unit::Trust::kDoubted;
  }
  const auto known = testers_.find(tester);
  // Of a tester on which nothing is recorded nothing is asked either.
  if (known == testers_.end()) return unit::Trust::kCalibrated;
  return unit::TrustIn(known->second, at_us, time::LocalDay(at_us, ZoneOf(unit, book_, at_us)));
}

void DoubtfulPasses::Visit(const Moment& moment) {
  const v1::Fact& fact = moment.view.fact();
  if (moment.after.custody() == v1::CUSTODY_HOME && moment.before.custody() != v1::CUSTODY_HOME) {
    for (v1::DoubtRow& row : rows_) {
      if (!row.has_settled()) row.add_orders_since(moment.after.order());
    }
  }
  if (!fact.has_inspection_done()) return;
  const v1::InspectionDone& f = fact.inspection_done();
  const v1::Inspection& kept = moment.after.inspection();
  if (f.tester().empty() || !kept.passed() || !Same(kept.done(), moment.stamp)) return;
  const unit::Trust trust = TrustOf(f.tester(), moment.view.happened_us, moment.after);
  if (trust == unit::Trust::kCalibrated) {
    for (v1::DoubtRow& row : rows_) {
      if (!row.has_settled()) *row.mutable_settled() = moment.stamp;
    }
    return;
  }
  v1::DoubtRow& row = rows_.emplace_back();
  row.set_kind(KindOf(trust));
  *row.mutable_result() = moment.stamp;
  row.set_tester(f.tester());
  const depot::Rules& rules = book_.At(moment.view.happened_us);
  if (const auto margin = MarginOf(f, rules.FindChecklist(f.checklist()))) {
    row.set_margin_share(*margin);
  }
}

std::vector<v1::DoubtRow> DoubtfulPasses::Rows(const v1::UnitState& now) const {
  std::vector<v1::DoubtRow> rows = rows_;
  for (v1::DoubtRow& row : rows) PutPresent(now, &row);
  return rows;
}

std::vector<v1::DoubtRow> BesideSoiled(const std::vector<Standing>& units) {
  std::map<std::string, std::vector<const Standing*>> soiled_at;    // by place
  std::map<std::string, std::vector<const Standing*>> infested_in;  // by van
  for (const Standing& unit : units) {
    if (!unit.clean) soiled_at[unit.place].push_back(&unit);
    if (unit.infested && !VanOf(unit).empty()) infested_in[VanOf(unit)].push_back(&unit);
  }
  std::vector<v1::DoubtRow> rows;
  for (const Standing& unit : units) {
    if (!unit.clean) continue;
    const Standing* insects = nullptr;
    const Standing* soil = nullptr;
    const auto here = soiled_at.find(unit.place);
    if (here != soiled_at.end() && KeepsClean(unit.kind)) {
      for (const Standing* other : here->second) {
        if (other->infested) insects = other;
        soil = other;
      }
    }
    const auto van = infested_in.find(VanOf(unit));
    if (van != infested_in.end()) insects = van->second.front();
    if (insects != nullptr) {
      rows.push_back(Beside(unit, *insects, v1::DOUBT_KIND_BESIDE_INFESTED));
    } else if (soil != nullptr && !unit.sealed) {
      rows.push_back(Beside(unit, *soil, v1::DOUBT_KIND_BESIDE_SOILED));
    }
  }
  return rows;
}

bool MoreRisky(const v1::DoubtRow& a, const v1::DoubtRow& b) {
  const auto key = [](const v1::DoubtRow& row) {
    return std::tuple(row.rank(), row.has_margin_share() ? row.margin_share() : 2.0,
                      std::string_view(row.unit()), time::ToMicros(row.result().time()));
  };
  return key(a) < key(b);
}

}  // namespace ferrule::bench
