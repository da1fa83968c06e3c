#include "core/order/fit.h"

#include <algorithm>
#include <string>
#include <utility>

#include "absl/strings/str_cat.h"
#include "core/finding/enum_words.h"
#include "core/order/unfit.h"

namespace ferrule::order {
namespace {

void Beyond(v1::Reason reason, std::string_view item, double value, double limit,
            std::string_view unit, std::vector<v1::Finding>* out) {
  v1::Finding& finding = out->emplace_back();
  finding.set_reason(reason);
  const auto add = [&finding](const char* key, std::string text) {
    v1::FindingValue* v = finding.add_values();
    v->set_key(key);
    v->set_value(std::move(text));
  };
  add("item", std::string(item));
  add("found", absl::StrCat(value, " ", std::string(unit)));
  add("limit", absl::StrCat(limit, " ", std::string(unit)));
}

}  // namespace

// Both ends of the range, speed, pause and hours: what was set may not exceed what was ordered.
std::vector<v1::Finding> BeyondOrder(const v1::Motion& ordered, const v1::Motion& set) {
  constexpr v1::Reason kReason = v1::REASON_SETTING_BEYOND_ORDER;
  std::vector<v1::Finding> out;
  if (set.has_extension_deg() && ordered.has_extension_deg() &&
      set.extension_deg() < ordered.extension_deg()) {
    Beyond(kReason, "extension", set.extension_deg(), ordered.extension_deg(), "deg", &out);
  }
  if (set.has_flexion_deg() && ordered.has_flexion_deg() &&
      set.flexion_deg() > ordered.flexion_deg()) {
    Beyond(kReason, "flexion", set.flexion_deg(), ordered.flexion_deg(), "deg", &out);
  }
  if (set.has_speed_deg_per_min() && ordered.has_speed_deg_per_min() &&
      set.speed_deg_per_min() > ordered.speed_deg_per_min()) {
    Beyond(kReason, "speed", set.speed_deg_per_min(), ordered.speed_deg_per_min(), "deg/min", &out);
  }
  if (set.has_pause_s() && ordered.has_pause_s() && set.pause_s() > ordered.pause_s()) {
    Beyond(kReason, "pause", static_cast<double>(set.pause_s()),
           static_cast<double>(ordered.pause_s()), "s", &out);
  }
  if (set.has_daily_use_s() && ordered.has_daily_use_s() &&
      set.daily_use_s() > ordered.daily_use_s()) {
    Beyond(kReason, "daily use", static_cast<double>(set.daily_use_s()),
           static_cast<double>(ordered.daily_use_s()), "s", &out);
  }
  return out;
}

std::vector<v1::Finding> BeyondModel(const v1::MotionRange& range, const v1::Motion& set) {
  constexpr v1::Reason kReason = v1::REASON_SETTING_BEYOND_MODEL;
  std::vector<v1::Finding> out;
  if (set.has_extension_deg() && set.extension_deg() < range.min_deg()) {
    Beyond(kReason, "extension", set.extension_deg(), range.min_deg(), "deg", &out);
  }
  if (set.has_flexion_deg() && set.flexion_deg() > range.max_deg()) {
    Beyond(kReason, "flexion", set.flexion_deg(), range.max_deg(), "deg", &out);
  }
  if (set.has_speed_deg_per_min() && set.speed_deg_per_min() > range.max_speed_deg_per_min()) {
    Beyond(kReason, "speed", set.speed_deg_per_min(), range.max_speed_deg_per_min(), "deg/min",
           &out);
  }
  if (set.has_speed_deg_per_min() && set.speed_deg_per_min() < range.min_speed_deg_per_min()) {
    Beyond(kReason, "speed", set.speed_deg_per_min(), range.min_speed_deg_per_min(), "deg/min",
           &out);
  }
  if (set.has_pause_s() && range.max_pause_s() > 0 && set.pause_s() > range.max_pause_s()) {
    Beyond(kReason, "pause", static_cast<double>(set.pause_s()),
           static_cast<double>(range.max_pause_s()), "s", &out);
  }
  return out;
}

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
  for (v1::Finding& f : BeyondOrder(details.motion(), seen.motion)) raiser->Raise(std::move(f));
  if (model == nullptr) return;
  if (model->has_motion()) {
    for (v1::Finding& f : BeyondModel(model->motion(), seen.motion)) raiser->Raise(std::move(f));
  }
  for (v1::Finding& f : Unfit(details, seen.unit, *model, rules)) {
    f.clear_subject();  // the order's question, about that unit
    raiser->Raise(std::move(f));
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
