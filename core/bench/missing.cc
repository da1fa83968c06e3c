#include "core/bench/missing.h"

#include <algorithm>
#include <map>

namespace ferrule::bench {
namespace {

template <typename List>
bool Has(const List& list, const std::string& position) {
  return std::find(list.begin(), list.end(), position) != list.end();
}

v1::LostBetween LostWhere(const v1::KitCount& kit, const std::string& position) {
  if (Has(kit.missing_at_pickup(), position)) return v1::LOST_BETWEEN_SET_OUT_AND_PICKUP;
  if (Has(kit.picked_up(), position)) return v1::LOST_BETWEEN_PICKUP_AND_DOCK;
  return Has(kit.handed_over(), position) ? v1::LOST_BETWEEN_SET_OUT_AND_PICKUP
                                          : v1::LOST_BETWEEN_UNSPECIFIED;
}

}  // namespace

std::vector<v1::MissingAccessory> MissingOf(const v1::UnitState& unit, const v1::Model* model) {
  std::map<std::string, v1::MissingAccessory> rows;
  const v1::KitCount& kit = unit.kit();
  std::vector<std::string> positions(unit.missing().begin(), unit.missing().end());
  // Handed over, and not there when somebody counted at the door.
  const bool counted = !kit.picked_up().empty() || !kit.missing_at_pickup().empty();
  for (const std::string& position : kit.handed_over()) {
    const bool seen = Has(kit.picked_up(), position) || Has(kit.received(), position);
    if (counted && !seen && unit.custody() == v1::CUSTODY_PLACE) positions.push_back(position);
  }
  for (const std::string& position : positions) {
    v1::MissingAccessory& row = rows[position];
    row.set_lost(LostWhere(kit, position));
    row.set_order(kit.order());
    if (kit.has_set_out()) *row.mutable_since() = kit.set_out();
  }
  for (const v1::PartOut& out : unit.parts_out()) {
    v1::MissingAccessory& row = rows[out.position()];
    row.set_lost(v1::LOST_BETWEEN_IN_DEPOT);
    row.clear_order();
    *row.mutable_since() = out.removed();
  }
  std::vector<v1::MissingAccessory> list;
  for (auto& [position, row] : rows) {
    row.set_unit(unit.unit());
    row.set_position(position);
    for (int i = 0; model != nullptr && i < model->parts_size(); ++i) {
      if (model->parts(i).position() == position) row.set_required(model->parts(i).required());
    }
    list.push_back(std::move(row));
  }
  return list;
}

}  // namespace ferrule::bench
