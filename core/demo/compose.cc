// Entries and their parts: names, actors, places, dates.
#include <algorithm>
#include <utility>

#include "absl/strings/str_cat.h"
#include "core/demo/rates.h"
#include "core/demo/simulation.h"
#include "core/time/civil.h"

namespace ferrule::demo {
namespace {

constexpr int kPiecesOfLot = 60;

absl::string_view View(std::string_view text) { return {text.data(), text.size()}; }

const char* PlaceName(Stand stand, int van) {
  switch (stand) {
    case Stand::kDock:
      return "-dock";
    case Stand::kBay:
      return "-bay";
    case Stand::kBench:
      return "-bench";
    case Stand::kQuarantine:
      return "-quarantine";
    case Stand::kVanClean:
      return van == 1 ? "-van-1-clean" : "-van-2-clean";
    case Stand::kVanDirty:
      return van == 1 ? "-van-1-dirty" : "-van-2-dirty";
    default:
      return "-shelf";
  }
}

}  // namespace

v1::Entry Simulation::Begin(const std::string& actor, const char* channel) {
  v1::Entry entry;
  entry.set_entry_id(absl::StrCat(
      "s", options_.seed, "-", absl::Dec(static_cast<uint64_t>(++next_entry_), absl::kZeroPad9)));
  entry.set_order_number(next_entry_);
  entry.set_actor(actor);
  entry.set_channel(channel);
  return entry;
}

v1::Fact* Simulation::Add(v1::Entry* entry, int64_t at_us) const {
  v1::Fact* fact = entry->add_facts();
  time::SetMicros(at_us, fact->mutable_happened_time());
  return fact;
}

void Simulation::Send(v1::Entry entry, Way way) {
  entry.set_mode(way.mode);
  if (way.arrives_us <= now_us_) {
    out_.push_back(std::move(entry));
    return;
  }
  if (way.arrives_us >= end_us_) return;  // still on the handheld when the run ends
  // Handhelds drift; the ledger measures it and decides nothing by it.
  time::SetMicros(way.arrives_us + random_.Between(-90, 90) * kSecond, entry.mutable_device_time());
  uint32_t slot = static_cast<uint32_t>(late_.size());
  if (free_late_.empty()) {
    late_.push_back(std::move(entry));
  } else {
    slot = free_late_.back();
    free_late_.pop_back();
    late_[slot] = std::move(entry);
  }
  events_.push({way.arrives_us, ++next_tie_, 0, slot, Step::kArrive});
}

void Simulation::AddMove(v1::Entry* entry, uint32_t unit, Stand to, int16_t branch, int64_t at_us) {
  Unit& u = units_[unit];
  v1::UnitMoved* moved = Add(entry, at_us)->mutable_unit_moved();
  moved->set_unit(UnitTag(unit));
  moved->set_from_place(PlaceId(u));
  u.stand = to;
  u.branch = branch;
  moved->set_to_place(PlaceId(u));
}

void Simulation::SendMove(uint32_t unit, Stand to, int16_t branch, int64_t at_us,
                          const std::string& actor, const char* channel) {
  v1::Entry entry = Begin(actor, channel);
  AddMove(&entry, unit, to, branch, at_us);
  Send(std::move(entry));
}

Simulation::Way Simulation::HandheldWay(Unit* unit, Order* order) {
  Way way;
  if (!random_.Chance(rates::kOffline)) return way;
  way.mode = v1::ENTRY_MODE_OBSERVED;
  const int64_t delay = random_.Chance(rates::kOfflineDays) ? random_.Between(20 * 60, 70 * 60)
                                                            : random_.Between(20, 6 * 60);
  way.arrives_us = now_us_ + delay * kMinute;
  unit->settled_us = way.arrives_us;
  order->settled_us = way.arrives_us;
  return way;
}

std::string Simulation::UnitTag(uint32_t unit) const {
  const ModelTraits& model = AllModels()[static_cast<size_t>(units_[unit].model)];
  return absl::StrCat(View(model.tag_prefix), "-", absl::Dec(unit + 1, absl::kZeroPad5));
}

std::string Simulation::PartTag(int model, int position, uint32_t number) const {
  return absl::StrCat(editions_[0].models(model).parts(position).position(), "-",
                      absl::Dec(number, absl::kZeroPad6));
}

std::string Simulation::OrderId(const Order& order) const {
  return absl::StrCat("R-", absl::Dec(order.number, absl::kZeroPad6));
}

std::string Simulation::PlaceId(int branch, Stand stand, int van) const {
  return absl::StrCat(editions_[0].branches(branch).id(), PlaceName(stand, van));
}

std::string Simulation::PlaceId(const Unit& unit) const {
  return PlaceId(unit.branch, unit.stand, unit.van);
}

const std::string& Simulation::Tech(int branch) {
  const auto& techs = techs_[static_cast<size_t>(branch)];
  return techs[random_.Bits() % techs.size()];
}

const std::string& Simulation::Rep(int branch) {
  const auto& reps = reps_[static_cast<size_t>(branch)];
  return reps[random_.Bits() % reps.size()];
}

const v1::Model& Simulation::ModelOf(const Unit& unit) const {
  return editions_[0].models(unit.model);
}

void Simulation::SetDate(int day, google::type::Date* date) const {
  const absl::CivilDay civil = calendar_.Civil(day);
  date->set_year(static_cast<int32_t>(civil.year()));
  date->set_month(civil.month());
  date->set_day(civil.day());
}

void Simulation::AddKit(Order* order, bool leave_one_out,
                        google::protobuf::RepeatedPtrField<v1::KitItem>* kit) {
  const v1::DeviceClass& device_class = editions_[0].device_classes(order->device_class);
  auto& lots = stock_[static_cast<size_t>(order->branch)].lots;
  for (int i = leave_one_out ? 1 : 0; i < device_class.kit_items_size(); ++i) {
    const std::string& item = device_class.kit_items(i);
    size_t index = 0;
    while (kit_items_[index] != item) ++index;
    LotInUse& lot = lots[index];
    if (lot.pieces_left == 0) lot = {++next_lot_, kPiecesOfLot};
    --lot.pieces_left;
    v1::KitItem* piece = kit->Add();
    piece->set_item(item);
    piece->set_lot(absl::StrCat(item, "-", absl::Dec(lot.number, absl::kZeroPad5)));
    piece->set_piece_count(1);
  }
}

void Simulation::SetMotion(const Order& order, int less_flexion_deg, v1::Motion* motion) const {
  const ClassTraits& traits = AllClasses()[static_cast<size_t>(order.device_class)];
  motion->set_extension_deg(traits.extension_deg);
  // Settings start below what is ordered, and always leave an arc to move through.
  motion->set_flexion_deg(
      std::max(order.flexion_deg - less_flexion_deg, static_cast<int>(traits.extension_deg) + 10));
  motion->set_speed_deg_per_min(traits.speed_deg_per_min);
  motion->set_daily_use_s(order.daily_use_s);
}

}  // namespace ferrule::demo
