#include "core/outlook/reconcile_trial.h"

#include <algorithm>
#include <cmath>
#include <utility>

#include "absl/strings/str_format.h"
#include "core/plan/reconcile.h"

namespace ferrule::outlook {
namespace {

constexpr size_t kLeastOrigins = 6;  // that weights are learned from
constexpr double kClearly = .03;     // a challenger is better by more than this share

// Mean error over the days ahead: of the whole, then of each class.
std::vector<double> ErrorsOf(const SumsTrial::Origin& origin) {
  std::vector<double> errors(1 + origin.parts.size(), 0);
  const auto n = static_cast<double>(origin.whole.size());
  for (size_t h = 0; h < origin.whole.size(); ++h) {
    errors[0] += origin.whole[h] / n;
    for (size_t c = 0; c < origin.parts.size(); ++c) {
      errors[1 + c] += (origin.parts[c][h] - origin.came[c][h]) / n;
      errors[0] -= origin.came[c][h] / n;
    }
  }
  return errors;
}

}  // namespace

void SumsTrial::Add(const std::string& branch, Origin origin) {
  std::vector<Origin>& past = past_[branch];
  const size_t classes = origin.parts.size();
  std::vector<std::vector<double>> residuals(1 + classes);
  for (const Origin& earlier : past) {
    const bool over = earlier.day + static_cast<int64_t>(earlier.whole.size()) <= origin.day;
    // Classes that came since have no error there.
    if (!over || earlier.parts.size() != classes) continue;
    const std::vector<double> errors = ErrorsOf(earlier);
    for (size_t i = 0; i < errors.size(); ++i) residuals[i].push_back(errors[i]);
  }
  if (residuals[0].size() >= kLeastOrigins) {
    const std::vector<double> covariance = plan::ShrinkCovariance(residuals).covariance;
    plan::SumRule rule;
    for (size_t c = 0; c < classes; ++c) rule.parts.push_back(1 + c);
    ++sums_.origins;
    for (size_t h = 0; h < origin.whole.size(); ++h) {
      std::vector<double> base = {origin.whole[h]};
      for (const auto& part : origin.parts) base.push_back(part[h]);
      const std::vector<double> sums = plan::Reconcile(base, {rule}, covariance);
      for (size_t c = 0; c < classes; ++c) {
        const double y = origin.came[c][h];
        ++sums_.days;
        sums_.plain += std::abs(base[1 + c] - y);
        // No branch has less than no unit in use.
        sums_.reconciled += std::abs(std::max(0.0, sums[1 + c]) - y);
      }
    }
  }
  past.push_back(std::move(origin));
}

SumsTrial::Result SumsTrial::Judged() const {
  Result result = sums_;
  const auto n = static_cast<double>(std::max<int64_t>(1, result.days));
  result.plain /= n;
  result.reconciled /= n;
  return result;
}

std::string SumsTrial::Words() const {
  const Result r = Judged();
  if (r.origins == 0) return "";
  const bool better = r.reconciled < r.plain * (1 - kClearly);
  return absl::StrFormat(
      "made to add up with a forecast of the whole branch, the classes' mean error would have been "
      "%.2f units instead of %.2f (%d origins, %d days of classes): %s",
      r.reconciled, r.plain, r.origins, r.days,
      better ? "clearly nearer; it is a challenger and not used"
             : "no clear gain, so the forecasts by class stand");
}

}  // namespace ferrule::outlook
