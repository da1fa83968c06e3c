#include "core/plan/reconcile.h"

#include <algorithm>
#include <cmath>

#include "core/plan/symmetric.h"

namespace ferrule::plan {

std::vector<double> Reconcile(const std::vector<double>& forecasts,
                              const std::vector<SumRule>& rules,
                              const std::vector<double>& covariance) {
  const size_t n = forecasts.size();
  if (covariance.size() != n * n) return forecasts;
  std::vector<std::vector<double>> c;  // one row a rule: whole less parts
  for (const SumRule& rule : rules) {
    bool known = rule.whole < n;
    for (size_t p : rule.parts) known &= p < n;
    if (!known) continue;
    std::vector<double> row(n, 0);
    row[rule.whole] += 1;
    for (size_t p : rule.parts) row[p] -= 1;
    c.push_back(std::move(row));
  }
  if (c.empty()) return forecasts;
  const size_t m = c.size();
  // W C', n x m.
  std::vector<std::vector<double>> wc(n, std::vector<double>(m, 0));
  for (size_t i = 0; i < n; ++i)
    for (size_t r = 0; r < m; ++r)
      for (size_t k = 0; k < n; ++k) wc[i][r] += covariance[i * n + k] * c[r][k];
  Symmetric cwc(m);
  std::vector<double> gap(m, 0);
  for (size_t r = 0; r < m; ++r) {
    for (size_t s = 0; s <= r; ++s) {
      double sum = 0;
      for (size_t k = 0; k < n; ++k) sum += c[r][k] * wc[k][s];
      cwc.At(r, s) = sum;
    }
    for (size_t k = 0; k < n; ++k) gap[r] += c[r][k] * forecasts[k];
  }
  const std::vector<double> weight = cwc.Solve(gap);
  std::vector<double> result = forecasts;
  for (size_t i = 0; i < n; ++i)
    for (size_t r = 0; r < m; ++r) result[i] -= wc[i][r] * weight[r];
  return result;
}

ShrunkCovariance ShrinkCovariance(const std::vector<std::vector<double>>& residuals) {
  ShrunkCovariance result;
  const size_t k = residuals.size();
  result.covariance.assign(k * k, 0);
  if (k == 0 || residuals[0].size() < 2) return result;
  const auto n = static_cast<double>(residuals[0].size());
  for (size_t i = 0; i < k; ++i)
    for (size_t j = 0; j < k; ++j) {
      double sum = 0;
      for (size_t t = 0; t < residuals[i].size(); ++t) sum += residuals[i][t] * residuals[j][t];
      result.covariance[i * k + j] = sum / n;
    }
  double variances = 0, squares = 0;
  for (size_t i = 0; i < k; ++i)
    for (size_t j = 0; j < k; ++j) {
      const double scale = std::sqrt(result.covariance[i * k + i] * result.covariance[j * k + j]);
      if (i == j || !(scale > 0)) continue;
      double sum = 0, square = 0;
      for (size_t t = 0; t < residuals[i].size(); ++t) {
        const double x = residuals[i][t] * residuals[j][t] / scale;
        sum += x;
        square += x * x;
      }
      variances += (square - sum * sum / n) / (n * (n - 1));
      const double r = result.covariance[i * k + j] / scale;
      squares += r * r;
    }
  result.lambda = squares > 0 ? std::clamp(variances / squares, 0.0, 1.0) : 1;
  for (size_t i = 0; i < k; ++i)
    for (size_t j = 0; j < k; ++j)
      if (i != j) result.covariance[i * k + j] *= 1 - result.lambda;
  return result;
}

}  // namespace ferrule::plan
