// Where the days go, and how the bench does.
#include <algorithm>
#include <array>
#include <cmath>

#include "absl/strings/str_cat.h"
#include "absl/strings/str_format.h"
#include "core/fact/counted.h"
#include "core/outlook/figure.h"

namespace ferrule::outlook {
namespace {

const OrderRecord* OrderOf(const MeasureContext& context, const Turn& turn) {
  return context.records().FindOrder(turn.order);
}

std::string Days(double days) { return absl::StrFormat("%.1f days", days); }

v1::Measure Turnaround(const MeasureContext& context) {
  Figure figure(context, "turnaround", "cycle", "days from the dock to ready", "days of 24 h",
                "ready time - received time of units received in the window; those not ready yet "
                "count as lasting at least until now");
  std::vector<plan::Stay> times;
  for (const Turn& turn : context.turns()) {
    const OrderRecord* order = OrderOf(context, turn);
    if (order == nullptr || turn.lost || !context.WantsTurn(turn) ||
        !context.Within(turn.received_us, order->branch)) {
      continue;
    }
    const bool ready = turn.ready_us != kNever;
    // A unit that went out unready was ready for somebody.
    const int64_t end = ready ? turn.ready_us : std::min(turn.next_us, context.at_us());
    const double days = std::max(0.0, static_cast<double>(end - turn.received_us)) / kDayUs;
    times.push_back({std::max(days, 1e-6), ready || turn.next_us != kNever, 0});
    figure.Record("units/" + context.records().units[turn.unit].unit,
                  absl::StrCat(Days(days), ready ? "" : ", not ready yet"), days,
                  ready ? turn.ready_fact : turn.back_fact);
  }
  figure.PutTimes(times);
  return figure.Take();
}

// The whole turns that ended in the window with the unit going out again, cut into stages.
v1::Measure WhereDaysGo(const MeasureContext& context) {
  Figure figure(context, "cycle-time", "cycle", "mean days from one set-out to the next",
                "days of 24 h",
                "next set-out - this set-out of turns that ended in the window, split into stages "
                "that add up to the whole");
  std::array<double, kStages> sums{};
  std::array<std::vector<double>, kStages> each;
  double whole = 0;
  int64_t turns = 0;
  for (const Turn& turn : context.turns()) {
    const OrderRecord* order = OrderOf(context, turn);
    if (order == nullptr || turn.next_us == kNever || !context.WantsTurn(turn) ||
        !context.Within(turn.next_us, order->branch)) {
      continue;
    }
    ++turns;
    std::array<double, kStages> own{};
    const UnitRecord& unit = context.records().units[turn.unit];
    for (const StageSpan& span : SpansOf(context.records(), unit, turn.out_us, turn.next_us)) {
      own[static_cast<size_t>(span.stage)] +=
          static_cast<double>(span.to_us - span.from_us) / kDayUs;
    }
    for (size_t s = 0; s < own.size(); ++s) sums[s] += own[s], each[s].push_back(own[s]);
    const double days = static_cast<double>(turn.next_us - turn.out_us) / kDayUs;
    whole += days;
    figure.Record("units/" + unit.unit, absl::StrCat("order ", turn.order, ": ", Days(days)), days,
                  turn.out_fact);
  }
  figure.PutRatio(whole, static_cast<double>(turns), 1, turns);
  for (size_t s = 0; turns > 0 && s < sums.size(); ++s) {
    const char* words = StageWords(static_cast<Stage>(s));
    figure.PutPart(words, sums[s] / static_cast<double>(turns), turns);
    std::sort(each[s].begin(), each[s].end());
    // The smallest value that at least so many reach.
    const auto at = [&](double p) {
      const auto rank = static_cast<size_t>(std::ceil(p * static_cast<double>(each[s].size())));
      return each[s][std::min(each[s].size(), std::max<size_t>(1, rank)) - 1];
    };
    figure.PutPart(absl::StrCat(words, ", median"), at(.5), turns);
    figure.PutPart(absl::StrCat(words, ", 90 %"), at(.9), turns);
  }
  return figure.Take();
}

template <typename Use>
void EachStep(const MeasureContext& context, v1::Fact::WhatCase what, Use use) {
  for (const UnitRecord& unit : context.records().units) {
    for (size_t i = 0; i < unit.steps.size(); ++i) {
      const UnitStep& step = unit.steps[i];
      if (step.what != what || !context.WantsUnit(unit, step)) continue;
      if (!context.Within(step.happened_us, BranchOf(context.records(), step))) continue;
      use(unit, i);
    }
  }
}

v1::Measure FirstPass(const MeasureContext& context) {
  Figure figure(context, "first-pass-yield", "bench",
                "units that pass the first inspection after coming back", "%",
                "first inspections after a return that passed / first inspections after a return");
  int64_t first = 0, passed = 0;
  EachStep(context, v1::Fact::kInspectionDone, [&](const UnitRecord& unit, size_t i) {
    for (size_t k = i; k-- > 0;) {
      const UnitStep& before = unit.steps[k];
      // An inspection or a repair in between makes this one a second look.
      if (before.what == v1::Fact::kInspectionDone || before.what == v1::Fact::kRepairClosed)
        return;
      if (before.what == v1::Fact::kReceivedBack || before.custody == v1::CUSTODY_HOME) break;
      if (k == 0) return;
    }
    ++first;
    passed += unit.steps[i].value;
    figure.Record("units/" + unit.unit, unit.steps[i].value != 0 ? "passed" : "did not pass",
                  static_cast<double>(unit.steps[i].value), unit.steps[i].fact);
  });
  figure.PutRatio(static_cast<double>(passed), static_cast<double>(first), 100, first);
  return figure.Take();
}

v1::Measure NoFaultFound(const MeasureContext& context) {
  Figure figure(context, "no-fault-found", "bench", "repairs in which nothing was found wrong", "%",
                "repairs closed with no fault found / repairs closed");
  int64_t repairs = 0, none = 0;
  EachStep(context, v1::Fact::kRepairClosed, [&](const UnitRecord& unit, size_t i) {
    ++repairs;
    none += unit.steps[i].value;
    figure.Record("units/" + unit.unit, unit.steps[i].value != 0 ? "no fault found" : "repaired",
                  static_cast<double>(unit.steps[i].value), unit.steps[i].fact);
  });
  figure.PutRatio(static_cast<double>(none), static_cast<double>(repairs), 100, repairs);
  return figure.Take();
}

v1::Measure RepeatFailure(const MeasureContext& context) {
  Figure figure(context, "repeat-failure", "bench", "repairs followed by another within 30 days",
                "%",
                "repairs closed in the window after which a repair was opened within 30 days / "
                "repairs closed; repairs younger than that count as open");
  constexpr double kDays = 30;
  int64_t repairs = 0, again = 0, open = 0;
  EachStep(context, v1::Fact::kRepairClosed, [&](const UnitRecord& unit, size_t i) {
    ++repairs;
    const int64_t closed = unit.steps[i].happened_us;
    bool repeated = false;
    for (size_t k = i + 1; k < unit.steps.size(); ++k) {
      const double after = static_cast<double>(unit.steps[k].happened_us - closed) / kDayUs;
      repeated |= unit.steps[k].what == v1::Fact::kRepairOpened && after <= kDays;
    }
    again += repeated ? 1 : 0;
    const bool young = static_cast<double>(context.at_us() - closed) / kDayUs < kDays;
    open += young && !repeated ? 1 : 0;
    figure.Record("units/" + unit.unit, repeated ? "failed again" : "held", repeated ? 1 : 0,
                  unit.steps[i].fact);
  });
  figure.PutRatio(static_cast<double>(again), static_cast<double>(repairs), 100, repairs);
  figure.Open(open);
  return figure.Take();
}

v1::Measure HoursBetweenFailures(const MeasureContext& context) {
  Figure figure(context, "hours-between-failures", "bench", "run hours per failure", "h",
                "true run hours added in the window / repairs opened in it; units whose meter "
                "lacks a reading are left out");
  double hours = 0;
  int64_t failures = 0, incomplete = 0;
  for (const UnitRecord& unit : context.records().units) {
    int64_t first = -1, last = -1, own = 0;
    bool whole = true;
    for (const UnitStep& step : unit.steps) {
      const std::string branch = BranchOf(context.records(), step);
      if (!context.WantsUnit(unit, step)) continue;
      if (step.happened_us < context.FromUs(branch)) first = step.run_s;
      if (!context.Within(step.happened_us, branch)) continue;
      if (first < 0) first = step.run_s;
      last = step.run_s;
      whole &= !step.meter_incomplete;
      if (step.what == v1::Fact::kRepairOpened) ++own;
    }
    if (last < 0) continue;
    if (!whole) {
      ++incomplete;
      continue;
    }
    const double added = static_cast<double>(last - first) / 3600;
    hours += added;
    failures += own;
    if (added > 0 || own > 0) {
      figure.Record(
          "units/" + unit.unit,
          absl::StrFormat("%.1f h, %s opened", added, fact::Counted(own, "repair", "repairs")),
          added, unit.steps.back().fact);
    }
  }
  figure.PutRatio(hours, static_cast<double>(failures), 1, failures);
  if (incomplete > 0) {
    figure.Missing(fact::Counted(incomplete, "unit has a meter reading missing and is left out",
                                 "units have a meter reading missing and are left out"));
  }
  return figure.Take();
}

v1::Measure ServiceOnTime(const MeasureContext& context) {
  Figure figure(context, "service-on-time", "bench", "planned service done before it was overdue",
                "%",
                "services of the window done in time / (services of the window + units overdue "
                "now); units with patients, missing or put off stay among them");
  int64_t done = 0, good = 0, overdue = 0;
  EachStep(context, v1::Fact::kServiceDone, [&](const UnitRecord& unit, size_t i) {
    ++done;
    good += unit.steps[i].value;
    if (unit.steps[i].value == 0) {
      figure.Record("units/" + unit.unit, "done after it was overdue", 1, unit.steps[i].fact);
    }
  });
  for (const UnitRecord& unit : context.records().units) {
    if (!unit.service_overdue || unit.steps.empty()) continue;
    if (!context.WantsUnit(unit, unit.steps.back())) continue;
    ++overdue;
    figure.Record("units/" + unit.unit, "overdue", 1, unit.steps.back().fact);
  }
  figure.PutRatio(static_cast<double>(good), static_cast<double>(done + overdue), 100,
                  done + overdue);
  figure.Open(overdue);
  return figure.Take();
}

v1::Measure ChainCompliance(const MeasureContext& context) {
  Figure figure(context, "chain-compliance", "bench",
                "hand-overs of units that were ready to go, without a rule set aside", "%",
                "hand-overs of a unit that was ready just before, no rule set aside / hand-overs");
  int64_t hand_overs = 0, complete = 0;
  EachStep(context, v1::Fact::kHandedOver, [&](const UnitRecord& unit, size_t i) {
    ++hand_overs;
    const bool ready = i > 0 && unit.steps[i - 1].ready;
    const bool good = ready && unit.steps[i].value == 0;
    complete += good ? 1 : 0;
    if (!good) {
      figure.Record("units/" + unit.unit,
                    ready ? "a rule was set aside" : "it was not ready when it went out", 1,
                    unit.steps[i].fact);
    }
  });
  figure.PutRatio(static_cast<double>(complete), static_cast<double>(hand_overs), 100, hand_overs);
  return figure.Take();
}

}  // namespace

std::vector<v1::Measure> BenchMeasures(const MeasureContext& context) {
  return {Turnaround(context),    WhereDaysGo(context),    FirstPass(context),
          NoFaultFound(context),  RepeatFailure(context),  HoursBetweenFailures(context),
          ServiceOnTime(context), ChainCompliance(context)};
}

}  // namespace ferrule::outlook
