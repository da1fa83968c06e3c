// The bench's policy with its usual values where the settings give none.
#pragma once

#include "core/depot/settings_book.h"

namespace ferrule::board {

// Common practice, no source, but for `life_years`: 42 CFR 414.202 expects at least 3.
inline int RepeatDays(const depot::Rules& rules) {
  const int days = rules.settings().bench().repeat_days();
  return days > 0 ? days : 30;
}
inline size_t DriftBase(const depot::Rules& rules) {
  const int readings = rules.settings().bench().drift_min_readings();
  return readings > 0 ? static_cast<size_t>(readings) : 8;
}
inline double FalseAlarmShare(const depot::Rules& rules) {
  const double share = rules.settings().bench().false_alarm_share();
  return share > 0 ? share : 0.05;
}
inline double RepairShare(const depot::Rules& rules) {
  const double share = rules.settings().bench().repair_share();
  return share > 0 ? share : 0.5;
}
inline double LifeYears(const depot::Rules& rules) {
  const int years = rules.settings().bench().life_years();
  return years > 0 ? years : 5;
}

inline int VanHours(const depot::Rules& rules) {
  const int hours = rules.settings().bench().van_hours();
  return hours > 0 ? hours : 24;
}

}  // namespace ferrule::board
