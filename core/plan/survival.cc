#include "core/plan/survival.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <map>
#include <string>

#include "absl/status/status.h"
#include "absl/strings/str_cat.h"
#include "core/plan/distributions.h"
#include "core/plan/symmetric.h"

namespace ferrule::plan {
namespace {

struct Tally {
  double time = 0;
  int64_t ended = 0;
  int64_t left = 0;     // ended or censored at this time
  int64_t entered = 0;  // seen from just after this time on
};

absl::Status Check(const std::vector<Stay>& stays) {
  for (size_t i = 0; i < stays.size(); ++i) {
    const Stay& s = stays[i];
    if (std::isfinite(s.exit) && std::isfinite(s.entry) && s.entry >= 0 && s.exit >= s.entry &&
        (s.exit > s.entry || s.entry == 0))
      continue;
    return absl::InvalidArgumentError(absl::StrCat(
        "stay ", i, " runs from ", s.entry, " to ", s.exit,
        "; a stay needs an end after the time from which it was seen: correct its dates"));
  }
  return absl::OkStatus();
}

constexpr double kDenseLimit = 1 << 16;

// Whole times are their own index; anything else is sorted.
bool Whole(const std::vector<Stay>& stays) {
  for (const Stay& s : stays)
    if (s.exit > kDenseLimit || s.exit != static_cast<double>(static_cast<int32_t>(s.exit)) ||
        s.entry != static_cast<double>(static_cast<int32_t>(s.entry)))
      return false;
  return true;
}

std::vector<Tally> CountWhole(const std::vector<Stay>& stays) {
  int32_t last = 0;
  for (const Stay& s : stays) last = std::max(last, static_cast<int32_t>(s.exit));
  std::vector<Tally> all(static_cast<size_t>(last) + 1);
  for (const Stay& s : stays) {
    Tally& out = all[static_cast<size_t>(s.exit)];
    ++out.left;
    out.ended += s.ended;
    if (s.entry > 0) ++all[static_cast<size_t>(s.entry)].entered;
  }
  for (size_t i = 0; i < all.size(); ++i) all[i].time = static_cast<double>(i);
  return all;
}

std::vector<Tally> CountSorted(const std::vector<Stay>& stays) {
  std::vector<Stay> byexit = stays;
  std::sort(byexit.begin(), byexit.end(),
            [](const Stay& a, const Stay& b) { return a.exit < b.exit; });
  std::vector<double> entries;
  for (const Stay& s : stays)
    if (s.entry > 0) entries.push_back(s.entry);
  std::sort(entries.begin(), entries.end());
  std::vector<Tally> all;
  all.reserve(byexit.size() + entries.size());
  size_t e = 0;
  const auto at = [&](double time) -> Tally& {
    if (all.empty() || all.back().time != time) all.push_back({time});
    return all.back();
  };
  for (const Stay& s : byexit) {
    for (; e < entries.size() && entries[e] <= s.exit; ++e) ++at(entries[e]).entered;
    Tally& out = at(s.exit);
    ++out.left;
    out.ended += s.ended;
  }
  return all;
}

}  // namespace

absl::StatusOr<SurvivalCurve> ProductLimit(const std::vector<Stay>& stays) {
  if (absl::Status s = Check(stays); !s.ok()) return s;
  SurvivalCurve curve;
  curve.stays_ = static_cast<int64_t>(stays.size());
  const std::vector<Tally> all = Whole(stays) ? CountWhole(stays) : CountSorted(stays);
  int64_t at_risk = curve.stays_;
  for (const Tally& t : all) at_risk -= t.entered;
  double survival = 1, greenwood = 0, hazard = 0, previous = 0, exposure = 0;
  std::vector<double> exposed(all.size(), 0);
  for (size_t i = 0; i < all.size(); ++i) {
    const Tally& t = all[i];
    exposed[i] = static_cast<double>(at_risk) * (t.time - previous);
    exposure += exposed[i];
    previous = t.time;
    if (t.ended > 0) {
      const double n = static_cast<double>(at_risk), d = static_cast<double>(t.ended);
      survival *= 1 - d / n;
      hazard += d / n;
      greenwood += n > d ? d / (n * (n - d)) : 0;
      curve.ended_ += t.ended;
      curve.steps_.push_back(
          {t.time, at_risk, t.ended, survival, survival * std::sqrt(greenwood), hazard});
    }
    at_risk += t.entered - t.left;
  }
  curve.last_time_ = previous;
  double seen = 0, ended = 0;
  for (size_t i = all.size(); i-- > 0 && seen < 0.25 * exposure;) {
    seen += exposed[i];
    ended += static_cast<double>(all[i].ended);
  }
  curve.tail_hazard_ = (ended + 1) / (seen + 10);
  return curve;
}

const SurvivalStep* SurvivalCurve::StepAt(double time) const {
  auto it = std::upper_bound(steps_.begin(), steps_.end(), time,
                             [](double t, const SurvivalStep& s) { return t < s.time; });
  return it == steps_.begin() ? nullptr : &*std::prev(it);
}

double SurvivalCurve::At(double time) const {
  const SurvivalStep* step = StepAt(time);
  return step ? step->survival : 1;
}

double SurvivalCurve::Remaining(double age, double ahead) const {
  if (!(ahead > 0)) return 1;
  age = std::max(age, 0.0);
  // Where the data end: the curve holds to its last step, or to the last time seen when the
  // longest stays were still going on; from there the tail's hazard takes over.
  double edge = last_time_;
  if (!steps_.empty() && steps_.back().survival <= 0)
    edge = steps_.size() > 1 ? steps_[steps_.size() - 2].time : 0;
  const double upto = std::min(age + ahead, edge);
  double inside = 1;
  if (age < edge && At(age) > 0) inside = At(upto) / At(age);
  const double beyond = age + ahead - std::max(age, edge);
  return beyond > 0 ? inside * std::exp(-tail_hazard_ * beyond) : inside;
}

double SurvivalCurve::Quantile(double p) const {
  for (const SurvivalStep& step : steps_)
    if (step.survival <= 1 - p + 1e-12) return step.time;
  return -1;
}

double SurvivalCurve::RestrictedMean(double limit) const {
  double area = 0, time = 0, survival = 1;
  for (const SurvivalStep& step : steps_) {
    if (step.time >= limit) break;
    area += survival * (step.time - time);
    time = step.time;
    survival = step.survival;
  }
  return area + survival * (limit - time);
}

double SurvivalCurve::RestrictedMeanError(double limit) const {
  const double whole = RestrictedMean(limit);
  double variance = 0, area = 0, time = 0, survival = 1;
  for (const SurvivalStep& step : steps_) {
    if (step.time >= limit) break;
    area += survival * (step.time - time);
    time = step.time;
    survival = step.survival;
    const double n = static_cast<double>(step.at_risk), d = static_cast<double>(step.ended);
    if (n > d) variance += (whole - area) * (whole - area) * d / (n * (n - d));
  }
  return std::sqrt(variance);
}

SurvivalCurve::Limits SurvivalCurve::LimitsAt(double time, double level) const {
  const SurvivalStep* step = StepAt(time);
  if (!step || step->survival <= 0 || step->survival >= 1)
    return step ? Limits{step->survival, step->survival} : Limits{1, 1};
  const double z = NormalQuantile(0.5 + 0.5 * level), s = step->survival;
  const double width = z * step->standard_error / (s * std::abs(std::log(s)));
  return {std::pow(s, std::exp(width)), std::pow(s, std::exp(-width))};
}

LogRank CompareStays(const std::vector<std::vector<Stay>>& groups) {
  const size_t k = groups.size();
  LogRank result;
  result.observed.assign(k, 0);
  result.expected.assign(k, 0);
  if (k < 2) return result;
  struct Row {
    std::vector<double> ended, left, entered;
  };
  std::map<double, Row> rows;
  std::vector<double> at_risk(k, 0);
  const auto at = [&](double time) -> Row& {
    Row& row = rows[time];
    if (row.ended.empty()) row.ended = row.left = row.entered = std::vector<double>(k, 0);
    return row;
  };
  for (size_t g = 0; g < k; ++g) {
    for (const Stay& s : groups[g]) {
      Row& row = at(s.exit);
      row.left[g] += 1;
      row.ended[g] += s.ended ? 1 : 0;
      if (s.entry > 0)
        at(s.entry).entered[g] += 1;
      else
        at_risk[g] += 1;
    }
  }
  // The last group follows from the others, so the test is on k - 1 differences.
  const size_t m = k - 1;
  Symmetric covariance(m);
  for (const auto& [time, row] : rows) {
    double n = 0, d = 0;
    for (size_t g = 0; g < k; ++g) n += at_risk[g], d += row.ended[g];
    if (d > 0) {
      const double spread = n > 1 ? d * (n - d) / (n - 1) : 0;
      for (size_t g = 0; g < k; ++g) {
        result.observed[g] += row.ended[g];
        result.expected[g] += d * at_risk[g] / n;
      }
      for (size_t i = 0; i < m; ++i)
        for (size_t j = 0; j <= i; ++j)
          covariance.At(i, j) += spread * at_risk[i] / n * ((i == j ? 1.0 : 0.0) - at_risk[j] / n);
    }
    for (size_t g = 0; g < k; ++g) at_risk[g] += row.entered[g] - row.left[g];
  }
  std::vector<double> difference(m);
  for (size_t i = 0; i < m; ++i) difference[i] = result.observed[i] - result.expected[i];
  const std::vector<double> solved = covariance.Solve(difference);
  for (size_t i = 0; i < m; ++i) result.chi_square += difference[i] * solved[i];
  result.degrees_of_freedom = static_cast<int>(m);
  result.p_value = 1 - GammaCdf(result.chi_square, 0.5 * static_cast<double>(m), 2);
  return result;
}

}  // namespace ferrule::plan
