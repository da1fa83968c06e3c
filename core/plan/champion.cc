#include "core/plan/champion.h"

#include <algorithm>
#include <cmath>

#include "core/plan/baseline.h"
#include "core/plan/scores.h"

namespace ferrule::plan {
namespace {

Series Until(const Series& series, size_t steps) {
  Series part = series;
  part.values.resize(steps);
  return part;
}

}  // namespace

const SeriesForecast& Backtest::Forecast(Method method, const Series& series) {
  auto [it, fresh] = kept_.try_emplace({method, series.values.size()});
  if (fresh) it->second = ForecastBy(method, series, plan_.horizon);
  return it->second;
}

Champion Backtest::At(const Series& series) {
  Champion champion;
  const size_t n = series.values.size(), h = static_cast<size_t>(plan_.horizon);
  // Fewer than 8 steps, or two cycles, before an origin teach nothing.
  const size_t least = std::max<size_t>(8, 2 * static_cast<size_t>(std::max(1, series.season)) + 4);
  std::map<Method, MethodScore> scores;
  for (int k = 0; k < plan_.origins; ++k) {
    const size_t back = static_cast<size_t>(k * plan_.step) + h;
    // One origin may lie nearer than a horizon: what has come since is scored.
    if (n < back || n - back < std::min(least, n / 2 + 1)) break;
    const size_t origin = n - back;
    const Series past = Until(series, origin);
    const double scale = NaiveScale(past.values, plan_.scale_lag);
    if (!(scale > 0)) continue;
    for (Method method : SuitableMethods(past)) {
      const SeriesForecast& forecast = Forecast(method, past);
      double loss = 0;
      for (size_t i = 0; i < h && origin + i < n; ++i)
        loss += PinballLoss(series.values[origin + i], forecast.steps[i]) / static_cast<double>(h);
      MethodScore& score = scores.try_emplace(method, MethodScore{method}).first->second;
      score.loss += loss / scale;
      ++score.origins;
    }
  }
  const std::vector<Method> suitable = SuitableMethods(series);
  int most = 0;
  for (const auto& [method, score] : scores) most = std::max(most, score.origins);
  for (auto& [method, score] : scores) {
    if (score.origins < most ||
        std::find(suitable.begin(), suitable.end(), method) == suitable.end())
      continue;
    score.loss /= score.origins;
    champion.scores.push_back(score);
  }
  std::sort(champion.scores.begin(), champion.scores.end(),
            [](const MethodScore& a, const MethodScore& b) { return a.loss < b.loss; });
  if (champion.scores.empty()) {
    champion.method = IsCount(series) ? Method::kMeanRate : Method::kSeasonalNaive;
    champion.forecast = Forecast(champion.method, series);
    champion.forecast.basis = "too little history to compare methods";
    return champion;
  }
  const MethodScore& best = champion.scores[0];
  if (has_incumbent_) {
    for (const MethodScore& score : champion.scores)
      if (score.method == incumbent_ && score.loss > best.loss * (1 + plan_.hysteresis))
        incumbent_ = best.method;
    if (std::find(suitable.begin(), suitable.end(), incumbent_) == suitable.end())
      incumbent_ = best.method;
  } else {
    incumbent_ = best.method;
  }
  has_incumbent_ = true;
  champion.method = incumbent_;
  std::vector<const SeriesForecast*> parts;
  std::vector<double> weights;
  for (const MethodScore& score : champion.scores) {
    if (score.loss > 1.1 * best.loss) continue;
    parts.push_back(&Forecast(score.method, series));
    weights.push_back(std::pow(best.loss / std::max(score.loss, 1e-12), 4));
  }
  champion.forecast = Combine(parts, weights);
  return champion;
}

}  // namespace ferrule::plan
