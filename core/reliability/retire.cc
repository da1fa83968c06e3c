#include "core/reliability/retire.h"

#include <algorithm>
#include <cmath>

#include "absl/strings/str_cat.h"
#include "absl/strings/str_format.h"

namespace ferrule::reliability {
namespace {

constexpr double kDaysPerYear = 365.25;
constexpr double kLeastAgeDays = 30;  // a pace is not told from less

std::string Amount(int64_t minor) { return absl::StrFormat("%d.%02d", minor / 100, minor % 100); }

int64_t Rounded(double value) { return static_cast<int64_t>(std::llround(value)); }

}  // namespace

RepairAdvice AdviseRepair(const RepairCase& unit) {
  RepairAdvice advice;
  const double life_days = unit.life_years * kDaysPerYear;
  const double pace = static_cast<double>(unit.turns) / std::max(unit.age_days, kLeastAgeDays);
  advice.remaining_turns = std::max(0.0, (life_days - unit.age_days) * pace);
  if (unit.age_days >= life_days) {
    advice.retire = true;
    advice.reasons.push_back(absl::StrFormat("its life of %g years is over: it is %.1f years old",
                                             unit.life_years, unit.age_days / kDaysPerYear));
  }
  const int64_t year = unit.spent_last_year + unit.repair_cost;
  const auto allowed = Rounded(unit.repair_share * static_cast<double>(unit.replacement_cost));
  if (unit.replacement_cost > 0 && year > allowed) {
    advice.retire = true;
    advice.reasons.push_back(absl::StrCat(
        "repairs within a year come to ", Amount(year), ", more than the ", Amount(allowed),
        " that the settings allow of a new one's ", Amount(unit.replacement_cost)));
  }
  if (advice.remaining_turns >= 1) {
    advice.repaired_cost_per_turn = Rounded(
        static_cast<double>(unit.repair_cost) / advice.remaining_turns +
        (unit.turns > 0 ? static_cast<double>(unit.spent) / static_cast<double>(unit.turns) : 0));
  }
  if (unit.replacement_cost > 0 && pace > 0) {
    const double repairs = unit.model_turns > 0 ? static_cast<double>(unit.model_spent) /
                                                      static_cast<double>(unit.model_turns)
                                                : 0;
    advice.new_cost_per_turn =
        Rounded(static_cast<double>(unit.replacement_cost) / (pace * life_days) + repairs);
  }
  if (advice.repaired_cost_per_turn >= 0 && advice.new_cost_per_turn >= 0 &&
      advice.repaired_cost_per_turn > advice.new_cost_per_turn) {
    advice.retire = true;
    advice.reasons.push_back(
        absl::StrCat("a turn of the repaired unit costs ", Amount(advice.repaired_cost_per_turn),
                     ", one of a new unit ", Amount(advice.new_cost_per_turn)));
  }
  if (unit.beyond_chance) {
    advice.reasons.push_back("it fails more often than chance allows among units of its model");
  }
  return advice;
}

}  // namespace ferrule::reliability
