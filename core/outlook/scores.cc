#include "core/outlook/scores.h"

#include <cmath>

#include "absl/strings/str_cat.h"
#include "absl/strings/str_format.h"

namespace ferrule::outlook {
namespace {

constexpr int kBins = 10;
constexpr double kAlarm = .1;    // bias beyond this share is told
constexpr double kSpread = .05;  // and coverage farther from its name than this
constexpr int64_t kFew = 20;     // cases below which nothing is concluded

int BandOf(int ahead) {
  int band = 0;
  while (band + 1 < static_cast<int>(kBandFrom.size()) &&
         ahead >= kBandFrom[static_cast<size_t>(band) + 1]) {
    ++band;
  }
  return band;
}

double Share(double part, double whole) { return whole > 0 ? part / whole : 0; }

}  // namespace

void ScoreBook::Add(const Case& one) {
  Sums& s = sums_[{one.branch, one.device_class, BandOf(one.ahead)}];
  const auto& q = one.forecast.quantiles;  // at .025 .1 .5 .9 .95 .975 .99
  const double y = one.actual;
  ++s.cases;
  s.error += std::abs(y - q[2]);
  s.naive_error += std::abs(y - one.naive);
  s.actual += y;
  s.bias += one.forecast.mean - y;
  s.inside_80 += y >= q[1] && y <= q[3] ? 1 : 0;
  s.inside_95 += y >= q[0] && y <= q[5] ? 1 : 0;
  s.below_q95 += y <= q[4] ? 1 : 0;
  if (!(one.scale > 0)) return;
  ++s.scaled;
  s.loss += plan::PinballLoss(y, one.forecast) / one.scale;
  plan::StepForecast naive;
  naive.quantiles.fill(one.naive);
  s.naive_loss += plan::PinballLoss(y, naive) / one.scale;
}

v1::ForecastScores ScoreBook::Scores() const {
  v1::ForecastScores scores;
  int64_t cases = 0, inside = 0;
  for (const auto& [key, s] : sums_) {
    const auto& [branch, device_class, band] = key;
    v1::ScoreRow& row = *scores.add_rows();
    row.set_branch(branch);
    row.set_device_class(device_class);
    row.set_from_ahead_days(kBandFrom[static_cast<size_t>(band)]);
    const bool last = band + 1 == static_cast<int>(kBandFrom.size());
    row.set_through_ahead_days(last ? 365 : kBandFrom[static_cast<size_t>(band) + 1] - 1);
    row.set_case_count(s.cases);
    const auto n = static_cast<double>(s.cases), scaled = static_cast<double>(s.scaled);
    row.set_error_units(Share(s.error, n));
    row.set_naive_ratio(Share(s.error, s.naive_error));
    row.set_weighted_error_share(Share(s.error, s.actual));
    row.set_bias_share(Share(s.bias, s.actual));
    row.set_scaled_loss_ratio(Share(s.loss, scaled));
    row.set_naive_loss_ratio(Share(s.naive_loss, scaled));
    row.set_inside_80_share(Share(static_cast<double>(s.inside_80), n));
    row.set_inside_95_share(Share(static_cast<double>(s.inside_95), n));
    row.set_below_q95_share(Share(static_cast<double>(s.below_q95), n));
    cases += s.cases;
    inside += s.inside_95;
    if (s.cases >= kFew && std::abs(row.bias_share()) > kAlarm) {
      scores.add_texts(
          absl::StrFormat("%s %s, %d to %d days ahead: the forecast is %.0f %% too %s on average",
                          branch, device_class, row.from_ahead_days(), row.through_ahead_days(),
                          100 * std::abs(row.bias_share()), row.bias_share() > 0 ? "high" : "low"));
    }
  }
  if (cases == 0) {
    scores.add_texts("nothing could be scored yet: no forecast day has come with records of it");
    return scores;
  }
  const double covered = Share(static_cast<double>(inside), static_cast<double>(cases));
  if (cases >= kFew && covered < .95 - kSpread) {
    scores.add_texts(absl::StrFormat(
        "the 95 %% bounds held only %.0f %% of the days: take wider ones", 100 * covered));
  }
  if (transforms_.size() < static_cast<size_t>(kFew)) return scores;
  for (double height : plan::TransformHistogram(transforms_, kBins)) scores.add_pit_share(height);
  scores.set_pit_probability(plan::FlatnessProbability(transforms_, kBins));
  scores.add_texts(absl::StrFormat(
      "probability integral transform a week ahead, %d cases in ten bins: %s (chi-square, 9 "
      "degrees "
      "of freedom, p = %.3f)",
      static_cast<int64_t>(transforms_.size()),
      scores.pit_probability() < .01 ? "not level, so the bounds do not say what they claim"
                                     : "level as far as these cases can tell",
      scores.pit_probability()));
  return scores;
}

}  // namespace ferrule::outlook
