#include "core/order/papers.h"

#include <algorithm>

#include "core/time/civil.h"

namespace ferrule::order {
namespace {

std::optional<absl::CivilDay> DayOf(const google::type::Date& date) {
  return time::IsValid(date) ? std::optional(time::ToDay(date)) : std::nullopt;
}

std::optional<absl::CivilDay> EndOf(const std::vector<Prescribed>& spans) {
  std::optional<absl::CivilDay> end;
  for (const Prescribed& span : spans) end = std::max(end.value_or(span.days.end), span.days.end);
  return end;
}

void Add(std::string_view paper, Days days, const google::type::Date& signed_date,
         std::vector<Prescribed>* spans) {
  if (days.end <= days.from) return;
  spans->push_back({paper, days, DayOf(signed_date)});
}

void Extend(const v1::OrderState& order, const google::type::Date& from_date,
            const google::type::Date& through_date, const google::type::Date& signed_date,
            std::vector<Prescribed>* spans) {
  const std::optional<absl::CivilDay> through = DayOf(through_date);
  if (!through) return;
  std::optional<absl::CivilDay> from = DayOf(from_date);
  if (!from) from = EndOf(*spans);
  if (!from) from = DayOf(order.handed_over_date());
  Add("extension", {from.value_or(*through), *through + 1}, signed_date, spans);
}

void Stop(absl::CivilDay through, std::vector<Prescribed>* spans) {
  for (Prescribed& span : *spans) {
    if (span.days.end <= through + 1) continue;
    span.days.end = through + 1;
    span.cut_by_stop = true;
  }
  spans->erase(std::remove_if(spans->begin(), spans->end(),
                              [](const Prescribed& s) { return s.days.end <= s.days.from; }),
               spans->end());
}

// Calls `on(from, end, how many)` for every stretch of days between two changes.
template <typename On>
void Sweep(const std::vector<Prescribed>& spans, On on) {
  std::vector<absl::CivilDay> edges;
  for (const Prescribed& span : spans) {
    edges.push_back(span.days.from);
    edges.push_back(span.days.end);
  }
  std::sort(edges.begin(), edges.end());
  for (size_t i = 1; i < edges.size(); ++i) {
    if (edges[i - 1] == edges[i]) continue;
    const auto many = std::count_if(spans.begin(), spans.end(),
                                    [&](const Prescribed& s) { return s.days.Has(edges[i - 1]); });
    on(edges[i - 1], edges[i], many);
  }
}

template <typename Wanted>
std::vector<Days> Where(const std::vector<Prescribed>& spans, Wanted wanted) {
  std::vector<Days> out;
  Sweep(spans, [&](absl::CivilDay from, absl::CivilDay end, auto many) {
    if (!wanted(many)) return;
    if (!out.empty() && out.back().end == from) {
      out.back().end = end;
    } else {
      out.push_back({from, end});
    }
  });
  return out;
}

}  // namespace

std::vector<Prescribed> PrescribedDays(const v1::OrderState& order) {
  std::vector<Prescribed> spans;
  const std::optional<absl::CivilDay> first = DayOf(order.handed_over_date());
  if (first && order.details().length_of_need_days() > 0) {
    Add("original", {*first, *first + order.details().length_of_need_days()},
        order.details().signed_date(), &spans);
  }
  for (const v1::OrderPaper& paper : order.papers()) {
    if (paper.stops()) {
      if (const auto through = DayOf(paper.through_date())) Stop(*through, &spans);
    } else {
      Extend(order, paper.from_date(), paper.through_date(), paper.signed_date(), &spans);
    }
  }
  if (order.papers().empty() && order.has_extended_through_date()) {
    Extend(order, {}, order.extended_through_date(), {}, &spans);
  }
  return spans;
}

std::vector<Days> Union(const std::vector<Prescribed>& spans) {
  return Where(spans, [](auto many) { return many > 0; });
}

std::vector<Days> Holes(const std::vector<Prescribed>& spans) {
  return Where(spans, [](auto many) { return many == 0; });
}

std::vector<Days> Overlaps(const std::vector<Prescribed>& spans) {
  return Where(spans, [](auto many) { return many > 1; });
}

std::optional<absl::CivilDay> StoppedThrough(const v1::OrderState& order) {
  std::optional<absl::CivilDay> stopped;
  for (const v1::OrderPaper& paper : order.papers()) {
    const std::optional<absl::CivilDay> through = DayOf(paper.through_date());
    if (!through) continue;
    if (paper.stops()) {
      stopped = through;
    } else if (stopped && *through > *stopped) {
      stopped.reset();
    }
  }
  return stopped;
}

}  // namespace ferrule::order
