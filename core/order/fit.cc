#include "core/order/fit.h"

#include <algorithm>
#include <string>

#include "absl/strings/str_cat.h"
#include "core/finding/enum_words.h"

namespace ferrule::order {
namespace {

void Beyond(v1::Reason reason, std::string_view item, double value, double limit,
            std::string_view unit, finding::Raiser* raiser) {
  const std::string measure = unit.empty() ? std::string() : " " + std::string(unit);
  raiser->Raise(reason, {{"item", item},
                         {"found", absl::StrCat(value, measure)},
                         {"limit", absl::StrCat(limit, measure)}});
}

// Both ends of the range, speed, pause and hours: what was set may not exceed what was ordered.
void CheckAgainstOrder(const v1::Motion& ordered, const v1::Motion& set, finding::Raiser* raiser) {
  constexpr v1::Reason kReason = v1::REASON_SETTING_BEYOND_ORDER;
  if (set.has_extension_deg() && ordered.has_extension_deg() &&
      set.extension_deg() < ordered.extension_deg()) {
    Beyond(kReason, "extension", set.extension_deg(), ordered.extension_deg(), "deg", raiser);
  }
  if (set.has_flexion_deg() && ordered.has_flexion_deg() &&
      set.flexion_deg() > ordered.flexion_deg()) {
    Beyond(kReason, "flexion", set.flexion_deg(), ordered.flexion_deg(), "deg", raiser);
  }
  if (set.has_speed_deg_per_min() && ordered.has_speed_deg_per_min() &&
      set.speed_deg_per_min() > ordered.speed_deg_per_min()) {
    Beyond(kReason, "speed", set.speed_deg_per_min(), ordered.speed_deg_per_min(), "deg/min",
           raiser);
  }
  if (set.has_pause_s() && ordered.has_pause_s() && set.pause_s() > ordered.pause_s()) {
    Beyond(kReason, "pause", static_cast<double>(set.pause_s()),
           static_cast<double>(ordered.pause_s()), "s", raiser);
  }
  if (set.has_daily_use_s() && ordered.has_daily_use_s() &&
      set.daily_use_s() > ordered.daily_use_s()) {
    Beyond(kReason, "daily use", static_cast<double>(set.daily_use_s()),
           static_cast<double>(ordered.daily_use_s()), "s", raiser);
  }
}

void CheckAgainstModel(const v1::MotionRange& range, const v1::Motion& set,
                       finding::Raiser* raiser) {
  constexpr v1::Reason kReason = v1::REASON_SETTING_BEYOND_MODEL;
  if (set.has_extension_deg() && set.extension_deg() < range.min_deg()) {
    Beyond(kReason, "extension", set.extension_deg(), range.min_deg(), "deg", raiser);
  }
  if (set.has_flexion_deg() && set.flexion_deg() > range.max_deg()) {
    Beyond(kReason, "flexion", set.flexion_deg(), range.max_deg(), "deg", raiser);
  }
  if (set.has_speed_deg_per_min() && set.speed_deg_per_min() > range.max_speed_deg_per_min()) {
    Beyond(kReason, "speed", set.speed_deg_per_min(), range.max_speed_deg_per_min(), "deg/min",
           raiser);
  }
}

}  // namespace

void CheckUnit(const v1::OrderState& order, const SeenUnit& seen, const depot::Rules& rules,
               finding::Raiser* raiser) {
  const v1::OrderDetails& details = order.details();
  const v1::Model* model = rules.FindModel(seen.model);
  if (model == nullptr) {
    raiser->Raise(v1::REASON_MODEL_UNKNOWN, {{"model", seen.model}});
  }
  if (model != nullptr && model->sided() &&
      (details.side() == v1::SIDE_LEFT || details.side() == v1::SIDE_RIGHT) &&
      seen.side != details.side() && seen.side != v1::SIDE_EITHER) {
    raiser->Raise(v1::REASON_WRONG_SIDE, {{"unit", seen.unit},
                                          {"expected", finding::Words(details.side())},
                                          {"found", finding::Words(seen.side)}});
  }
  if (model != nullptr && !details.device_class().empty() &&
      model->device_class() != details.device_class()) {
    raiser->Raise(v1::REASON_WRONG_CLASS, {{"unit", seen.unit},
                                           {"expected", details.device_class()},
                                           {"found", model->device_class()},
                                           {"model", seen.model}});
  }
  CheckAgainstOrder(details.motion(), seen.motion, raiser);
  if (model != nullptr && model->has_motion()) {
    CheckAgainstModel(model->motion(), seen.motion, raiser);
  }
}

void CheckKit(const v1::OrderState& order, const v1::HandedOver& handed_over,
              const depot::Rules& rules, finding::Raiser* raiser) {
  const v1::DeviceClass* device_class = rules.FindDeviceClass(order.details().device_class());
  if (device_class == nullptr) return;
  for (const std::string& item : device_class->kit_items()) {
    const auto& kit = handed_over.kit();
    const bool left = std::any_of(kit.begin(), kit.end(), [&](const v1::KitItem& k) {
      return k.item() == item && k.piece_count() > 0;
    });
    if (!left) raiser->Raise(v1::REASON_KIT_MISSING, {{"item", item}});
  }
}

}  // namespace ferrule::order
