#include "core/trace/recall_scope.h"

#include <algorithm>
#include <optional>
#include <string>

#include "core/time/civil.h"

namespace ferrule::trace {
namespace {

bool IsDigit(char c) { return c >= '0' && c <= '9'; }

// Takes the next run of digits, or of anything else, off the front.
std::string_view Next(std::string_view* rest) {
  if (rest->empty()) return {};
  const bool digits = IsDigit(rest->front());
  size_t n = 0;
  while (n < rest->size() && IsDigit((*rest)[n]) == digits) ++n;
  const std::string_view run = rest->substr(0, n);
  rest->remove_prefix(n);
  return run;
}

// Runs of digits as numbers of any length: leading zeros do not count.
int CompareNumbers(std::string_view a, std::string_view b) {
  a.remove_prefix(std::min(a.find_first_not_of('0'), a.size()));
  b.remove_prefix(std::min(b.find_first_not_of('0'), b.size()));
  if (a.size() != b.size()) return a.size() < b.size() ? -1 : 1;
  return a.compare(b);
}

// Below 0, 0 or above 0; `same_pattern` says whether they differ in digits only.
int CompareSerials(std::string_view a, std::string_view b, bool* same_pattern) {
  int order = 0;
  *same_pattern = true;
  while (!a.empty() && !b.empty()) {
    const std::string_view run_a = Next(&a);
    const std::string_view run_b = Next(&b);
    if (IsDigit(run_a.front()) && IsDigit(run_b.front())) {
      if (order == 0) order = CompareNumbers(run_a, run_b);
    } else if (run_a != run_b) {
      *same_pattern = false;
    }
  }
  if (!a.empty() || !b.empty()) *same_pattern = false;
  return order;
}

std::optional<int64_t> SecondsUntil(const std::vector<int64_t>& done_us, size_t items,
                                    size_t per_cent, int64_t opened_us) {
  const size_t needed = (items * per_cent + 99) / 100;
  if (items == 0 || done_us.size() < needed) return std::nullopt;
  return std::max<int64_t>(0, (done_us[needed - 1] - opened_us) / 1'000'000);
}

}  // namespace

bool InSerialRange(std::string_view serial, std::string_view first, std::string_view last) {
  bool like_first = false;
  bool like_last = false;
  const int after_first = CompareSerials(serial, first, &like_first);
  const int after_last = CompareSerials(serial, last, &like_last);
  return like_first && like_last && after_first >= 0 && after_last <= 0;
}

bool IsDone(v1::RecallOutcome outcome) {
  return outcome == v1::RECALL_OUTCOME_CORRECTED || outcome == v1::RECALL_OUTCOME_RETURNED ||
         outcome == v1::RECALL_OUTCOME_DESTROYED || outcome == v1::RECALL_OUTCOME_NOT_COVERED;
}

v1::RecallTotals TotalsOf(const std::vector<v1::RecallItem>& items, int64_t opened_us) {
  v1::RecallTotals totals;
  std::vector<int64_t> done_us;
  for (const v1::RecallItem& item : items) {
    if (IsDone(item.word().outcome())) {
      done_us.push_back(time::ToMicros(item.word().noted().time()));
      continue;
    }
    if (item.word().has_contacted()) totals.set_contacted_count(totals.contacted_count() + 1);
    const bool lost = item.word().outcome() == v1::RECALL_OUTCOME_UNACCOUNTED ||
                      item.holder() == "nobody" || item.holder().empty();
    if (lost) totals.set_unaccounted_count(totals.unaccounted_count() + 1);
    if (item.holder().rfind("orders/", 0) == 0)
      totals.set_at_home_count(totals.at_home_count() + 1);
  }
  std::sort(done_us.begin(), done_us.end());
  totals.set_item_count(static_cast<int64_t>(items.size()));
  totals.set_done_count(static_cast<int64_t>(done_us.size()));
  if (!items.empty()) {
    totals.set_done_basis_points(static_cast<int32_t>(done_us.size() * 10'000 / items.size()));
  }
  if (auto s = SecondsUntil(done_us, items.size(), 50, opened_us)) totals.set_half_done_s(*s);
  if (auto s = SecondsUntil(done_us, items.size(), 90, opened_us)) totals.set_ninety_done_s(*s);
  if (auto s = SecondsUntil(done_us, items.size(), 100, opened_us)) totals.set_all_done_s(*s);
  return totals;
}

}  // namespace ferrule::trace
