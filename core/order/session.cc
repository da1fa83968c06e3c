#include "core/order/session.h"

#include <cmath>

namespace ferrule::order {

std::optional<v1::SessionFigures> SessionOf(const v1::Motion& motion) {
  if (!motion.has_extension_deg() || !motion.has_flexion_deg()) return std::nullopt;
  const double arc = motion.flexion_deg() - motion.extension_deg();
  if (!(arc > 0) || !(motion.speed_deg_per_min() > 0)) return std::nullopt;
  constexpr double kSecondsAMinute = 60;
  constexpr double kSecondsAnHour = 3600;
  const double pause_s = static_cast<double>(motion.pause_s());
  const double cycle_s = 2 * arc / motion.speed_deg_per_min() * kSecondsAMinute + 2 * pause_s;
  v1::SessionFigures figures;
  figures.set_arc_deg(arc);
  figures.set_cycle_ms(std::llround(cycle_s * 1000));
  figures.set_cycles_per_hour_tenths(static_cast<int>(std::lround(kSecondsAnHour * 10 / cycle_s)));
  if (motion.has_daily_use_s()) {
    figures.set_daily_use_s(motion.daily_use_s());
    figures.set_daily_cycle_count(
        static_cast<int64_t>(static_cast<double>(motion.daily_use_s()) / cycle_s));
  }
  return figures;
}

}  // namespace ferrule::order
