#include "core/outlook/targets.h"

#include "absl/strings/str_cat.h"

namespace ferrule::outlook {
namespace {

constexpr int kUsualYears = 7;

const v1::ClassPlan* Find(const depot::Rules& rules, std::string_view device_class) {
  for (const v1::ClassPlan& plan : rules.settings().planning().class_plans())
    if (plan.device_class() == std::string(device_class)) return &plan;
  return nullptr;
}

}  // namespace

Targets TargetsOf(const depot::Rules& rules, std::string_view device_class,
                  double mean_cost_minor) {
  Targets targets;
  const v1::ClassPlan usual;
  const v1::ClassPlan* found = Find(rules, device_class);
  const v1::ClassPlan& plan = found != nullptr ? *found : usual;
  if (plan.lost_target_share() > 0) targets.lost_share = plan.lost_target_share();
  if (plan.short_day_target_probability() > 0) {
    targets.short_probability = plan.short_day_target_probability();
  }
  targets.price_minor =
      plan.price_minor() > 0 ? static_cast<double>(plan.price_minor()) : mean_cost_minor;
  targets.money.rent = static_cast<double>(plan.rent_per_day_minor());
  targets.money.shortage_cost = static_cast<double>(plan.shortage_per_day_minor());
  targets.money.cost = plan::CostPerDay(
      targets.price_minor, static_cast<double>(plan.salvage_minor()),
      plan.life_years() > 0 ? plan.life_years() : kUsualYears, plan.yearly_interest_share(),
      static_cast<double>(plan.upkeep_per_day_minor()));
  targets.has_rent = plan.rent_per_day_minor() > 0;
  targets.has_cost = targets.money.cost > 0;
  targets.has_shortage = plan.shortage_per_day_minor() > 0;
  const auto lacks = [&](bool has, const char* field) {
    if (!has) absl::StrAppend(&targets.missing, targets.missing.empty() ? "" : ", ", field);
  };
  lacks(targets.has_rent, "rent_per_day_minor");
  lacks(targets.has_cost, "price_minor");
  lacks(targets.has_shortage, "shortage_per_day_minor");
  return targets;
}

}  // namespace ferrule::outlook
