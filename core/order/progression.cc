#include "core/order/progression.h"

#include <algorithm>
#include <cmath>

#include "core/time/civil.h"

namespace ferrule::order {
namespace {

std::optional<absl::CivilDay> DayIfAny(const google::type::Date& date) {
  if (!time::IsValid(date)) return std::nullopt;
  return time::ToDay(date);
}

// The limit of day `n` of a straight progression.
double Stepped(double start, double step, int64_t n, const v1::MotionProgression& p) {
  const int64_t first = std::max(1, p.first_step_day());
  const int64_t steps = std::max<int64_t>(0, n - first + 1);
  return start + step * static_cast<double>(steps);
}

// The last day with limits of its own that has come by day `n`, field by field.
void TakeDays(const v1::MotionProgression& p, int64_t n, v1::Motion* motion) {
  for (const v1::ProgressionDay& day : p.days()) {
    if (day.day() <= n) motion->MergeFrom(day.motion());
  }
}

// Never beyond the order's own limits; a limit that comes to one of them has reached its end.
// Where no cap is ordered the limit stands as it is.
void Cap(const v1::Motion& cap, v1::Motion* motion, bool* capped) {
  const bool extension = motion->has_extension_deg() && cap.has_extension_deg() &&
                         motion->extension_deg() <= cap.extension_deg();
  const bool flexion = motion->has_flexion_deg() && cap.has_flexion_deg() &&
                       motion->flexion_deg() >= cap.flexion_deg();
  if (extension) motion->set_extension_deg(cap.extension_deg());
  if (flexion) motion->set_flexion_deg(cap.flexion_deg());
  *capped = (extension || !motion->has_extension_deg()) && (flexion || !motion->has_flexion_deg());
}

}  // namespace

std::optional<absl::CivilDay> AnchorDay(const v1::OrderState& order) {
  const v1::OrderDetails& d = order.details();
  if (!d.has_progression()) return std::nullopt;
  switch (d.progression().anchor()) {
    case v1::PROGRESSION_ANCHOR_SURGERY:
      return DayIfAny(d.surgery_date());
    case v1::PROGRESSION_ANCHOR_DISCHARGE:
      return DayIfAny(d.discharge_date());
    case v1::PROGRESSION_ANCHOR_HAND_OVER:
      return DayIfAny(order.handed_over_date());
    case v1::PROGRESSION_ANCHOR_DATE:
      return DayIfAny(d.progression().anchor_date());
    default:
      return std::nullopt;
  }
}

DayLimits LimitsOn(const v1::OrderState& order, absl::CivilDay day) {
  DayLimits limits;
  const v1::OrderDetails& d = order.details();
  limits.motion = d.motion();
  if (!d.has_progression()) return limits;
  const v1::MotionProgression& p = d.progression();
  limits.anchor = AnchorDay(order);
  if (limits.anchor) limits.day_number = day - *limits.anchor;
  const int64_t n = std::max<int64_t>(0, limits.day_number.value_or(0));
  if (p.has_start_extension_deg()) {
    limits.motion.set_extension_deg(
        Stepped(p.start_extension_deg(), -p.extension_step_deg(), n, p));
  }
  if (p.has_start_flexion_deg()) {
    limits.motion.set_flexion_deg(Stepped(p.start_flexion_deg(), p.flexion_step_deg(), n, p));
  }
  TakeDays(p, n, &limits.motion);
  Cap(d.motion(), &limits.motion, &limits.capped);
  return limits;
}

double GreatestStep(const v1::OrderDetails& details) {
  const v1::MotionProgression& p = details.progression();
  double greatest = std::max(p.extension_step_deg(), p.flexion_step_deg());
  for (int i = 1; i < p.days_size(); ++i) {
    const v1::Motion& before = p.days(i - 1).motion();
    const v1::Motion& after = p.days(i).motion();
    const double days = p.days(i).day() - p.days(i - 1).day();
    if (!(days > 0)) continue;
    if (before.has_flexion_deg() && after.has_flexion_deg()) {
      greatest = std::max(greatest, (after.flexion_deg() - before.flexion_deg()) / days);
    }
    if (before.has_extension_deg() && after.has_extension_deg()) {
      greatest = std::max(greatest, (before.extension_deg() - after.extension_deg()) / days);
    }
  }
  return greatest;
}

}  // namespace ferrule::order
