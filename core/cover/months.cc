#include "core/cover/months.h"

namespace ferrule::cover {

absl::CivilDay MonthBegin(absl::CivilDay first, int k, v1::MonthRule rule) {
  const absl::CivilMonth month = absl::CivilMonth(first) + k;
  const absl::CivilDay end = absl::CivilDay(month + 1);
  const absl::CivilDay same = absl::CivilDay(month) + (first.day() - 1);
  if (same < end) return same;
  return rule == v1::MONTH_RULE_FIRST_OF_NEXT ? end : end - 1;
}

std::vector<Month> MonthsOf(const std::vector<absl::CivilDay>& used, int interruption_days,
                            v1::MonthRule rule) {
  std::vector<Month> months;
  absl::CivilDay first;
  int k = 0;
  for (const absl::CivilDay day : used) {
    const bool resumes = !months.empty() && day >= months.back().end;
    const bool new_period = months.empty() || (resumes && day > months.back().used.back() + 1 &&
                                               day > months.back().end - 1 + interruption_days);
    if (new_period) {
      first = day;
      k = 0;
    }
    while (MonthBegin(first, k + 1, rule) <= day) ++k;
    const absl::CivilDay from = MonthBegin(first, k, rule);
    if (new_period || months.back().from != from) {
      Month month;
      month.period = months.empty() ? 1 : months.back().period + (new_period ? 1 : 0);
      month.number = new_period ? 1 : months.back().number + 1;
      month.from = from;
      month.end = MonthBegin(first, k + 1, rule);
      months.push_back(std::move(month));
    }
    months.back().used.push_back(day);
  }
  return months;
}

}  // namespace ferrule::cover
