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

constexpr size_t kAveraged = 3;
constexpr double kNear = .1;       // losses within this share of the best count as near it
constexpr double kSure = 2;        // standard errors
constexpr double kOneOrigin = .3;  // what is surely worse by a single origin
constexpr double kPower = 4;       // of the ratio of losses, for the weights

// Whether `score` is worse than `best` by more than its origins leave to chance.
bool SurelyWorse(const MethodScore& score, const MethodScore& best) {
  const double k = static_cast<double>(std::min(score.losses.size(), best.losses.size()));
  if (k < 2) return score.loss > (1 + kOneOrigin) * best.loss;
  double sum = 0, squares = 0;
  for (size_t i = 0; i < static_cast<size_t>(k); ++i) {
    const double more = score.losses[i] - best.losses[i];
    sum += more, squares += more * more;
  }
  const double variance = std::max(0.0, squares - sum * sum / k) / (k - 1);
  return sum / k >= kSure * std::sqrt(variance / k);
}

// The best of each family, as far as they are near the best of all or not surely worse.
std::vector<const MethodScore*> Averaged(const std::vector<MethodScore>& sorted) {
  std::vector<const MethodScore*> chosen;
  for (const MethodScore& score : sorted) {
    const Family family = FamilyOf(score.method);
    const bool seen = std::any_of(chosen.begin(), chosen.end(), [&](const MethodScore* other) {
      return FamilyOf(other->method) == family;
    });
    const bool near = score.loss <= (1 + kNear) * sorted[0].loss;
    if (seen || (!near && SurelyWorse(score, sorted[0]))) continue;
    chosen.push_back(&score);
    if (chosen.size() == kAveraged) break;
  }
  return chosen;
}

bool Has(const std::vector<Method>& methods, Method method) {
  return std::find(methods.begin(), methods.end(), method) != methods.end();
}

const MethodScore* Find(const std::vector<MethodScore>& scores, Method method) {
  for (const MethodScore& score : scores)
    if (score.method == method) return &score;
  return nullptr;
}

// Losses at the k-th origin back, each the mean over the series that tried all the methods.
std::vector<MethodScore> MeanScores(const std::vector<MethodScore>& own,
                                    const std::vector<std::vector<MethodScore>>& alike,
                                    const std::vector<Method>& suitable) {
  std::vector<const std::vector<MethodScore>*> all;
  const auto whole = [&](const std::vector<MethodScore>& scores) {
    return std::all_of(suitable.begin(), suitable.end(),
                       [&](Method method) { return Find(scores, method) != nullptr; });
  };
  if (whole(own)) all.push_back(&own);
  for (const std::vector<MethodScore>& scores : alike)
    if (whole(scores)) all.push_back(&scores);
  if (all.empty() || (all.size() == 1 && all[0] == &own)) return own;
  std::vector<MethodScore> mean;
  for (Method method : suitable) {
    MethodScore sum{method, 0, 0, {}};
    std::vector<double> series;  // how many have an origin so far back
    double loss = 0;
    for (const std::vector<MethodScore>* scores : all) {
      const MethodScore& one = *Find(*scores, method);
      loss += one.loss / static_cast<double>(all.size());
      sum.origins = std::max(sum.origins, one.origins);
      sum.losses.resize(static_cast<size_t>(sum.origins), 0);
      series.resize(sum.losses.size(), 0);
      for (size_t k = 0; k < one.losses.size(); ++k) sum.losses[k] += one.losses[k], ++series[k];
    }
    for (size_t k = 0; k < series.size(); ++k) sum.losses[k] /= series[k];
    sum.loss = loss;
    mean.push_back(sum);
  }
  return mean;
}

}  // namespace

double WindowLoss(const std::vector<double>& values, size_t origin,
                  const SeriesForecast& forecast) {
  const size_t steps = std::min(forecast.steps.size(), values.size() - origin);
  double loss = 0;
  for (size_t i = 0; i < steps; ++i) loss += PinballLoss(values[origin + i], forecast.steps[i]);
  return steps > 0 ? loss / static_cast<double>(steps) : 0;
}

BacktestPlan PlanOfBacktest(int season, int horizon, int scale_lag) {
  // Steps per year of days, weeks and months; a longer or odd cycle is its own year.
  const int year = season == 7 ? 366 : std::max(season, 1);
  BacktestPlan plan;
  plan.horizon = horizon;
  plan.origins = 16;
  plan.step = std::max({1, (horizon + 3) / 4, (year + plan.origins - 1) / plan.origins});
  if (season == 7) plan.step = (plan.step + season - 1) / season * season;
  plan.rare_step = std::max(plan.step, horizon);
  if (season == 7) plan.rare_step = (plan.rare_step + season - 1) / season * season;
  plan.scale_lag = scale_lag;
  return plan;
}

const SeriesForecast& Backtest::Forecast(Method method, const Series& series) {
  const std::pair<Method, size_t> key(method, series.values.size());
  if (const auto it = kept_.find(key); it != kept_.end()) return it->second;
  SeriesForecast& kept = kept_[key];
  if (method != Method::kTogether) return kept = ForecastBy(method, series, plan_.horizon);
  std::vector<const SeriesForecast*> parts;
  for (Method part : PartsOfTogether(series)) parts.push_back(&Forecast(part, series));
  return kept = Combine(parts, std::vector<double>(parts.size(), 1), IsCount(series));
}

std::vector<MethodScore> Backtest::Scores(const Series& series) {
  const size_t n = series.values.size(), h = static_cast<size_t>(plan_.horizon);
  // Fewer than 8 steps, or two cycles, before an origin teach nothing.
  const size_t least = std::max<size_t>(8, 2 * static_cast<size_t>(std::max(1, series.season)) + 4);
  const int step = IsRare(series) ? std::max(plan_.step, plan_.rare_step) : plan_.step;
  std::map<Method, MethodScore> scores;
  for (int k = 0; k < plan_.origins; ++k) {
    const size_t back = static_cast<size_t>(k * step) + h;
    if (n < back || n - back < std::min(least, n / 2 + 1)) break;
    const size_t origin = n - back;
    const Series past = Until(series, origin);
    const double scale = NaiveScale(past.values, plan_.scale_lag);
    if (!(scale > 0)) continue;
    for (Method method : SuitableMethods(past)) {
      const double loss = WindowLoss(series.values, origin, Forecast(method, past));
      MethodScore& score = scores.try_emplace(method, MethodScore{method, 0, 0, {}}).first->second;
      score.loss += loss / scale;
      score.losses.push_back(loss / scale);
      ++score.origins;
    }
  }
  int most = 0;
  for (const auto& [method, score] : scores) most = std::max(most, score.origins);
  std::vector<MethodScore> kept;
  for (auto& [method, score] : scores) {
    if (score.origins < most || !Has(SuitableMethods(series), method)) continue;
    score.loss /= score.origins;
    kept.push_back(score);
  }
  return kept;
}

Champion Backtest::At(const Series& series, const std::vector<std::vector<MethodScore>>& alike) {
  Champion champion;
  const std::vector<Method> suitable = SuitableMethods(series);
  champion.scores = Scores(series);
  if (IsRare(series)) champion.scores = MeanScores(champion.scores, alike, suitable);
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
    if (!Has(suitable, incumbent_)) incumbent_ = best.method;
  } else {
    incumbent_ = best.method;
  }
  has_incumbent_ = true;
  champion.method = incumbent_;
  // With a season, the mean of the methods made for one stands unless another is surely better: of
  // so few origins the luckiest seldom stays the best.
  const MethodScore* together = Find(champion.scores, Method::kTogether);
  if (together == &best || (together != nullptr && !SurelyWorse(*together, best))) {
    champion.method = incumbent_ = Method::kTogether;
    champion.averaged = {Method::kTogether};
    champion.forecast = Forecast(Method::kTogether, series);
    return champion;
  }
  std::vector<const SeriesForecast*> parts;
  std::vector<double> weights;
  for (const MethodScore* score : Averaged(champion.scores)) {
    champion.averaged.push_back(score->method);
    parts.push_back(&Forecast(score->method, series));
    weights.push_back(std::pow(std::max(best.loss, 1e-12) / std::max(score->loss, 1e-12), kPower));
  }
  champion.forecast = Combine(parts, weights, IsCount(series));
  return champion;
}

}  // namespace ferrule::plan
