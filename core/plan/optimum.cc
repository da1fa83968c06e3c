#include "core/plan/optimum.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numeric>

namespace ferrule::plan {

double MinimiseOnInterval(const std::function<double(double)>& f, double low, double high) {
  const double golden = 0.5 * (3 - std::sqrt(5.0)), tolerance = 1e-8 * (high - low);
  double x = low + golden * (high - low), w = x, v = x, fx = f(x), fw = fx, fv = fx;
  double step = 0, last = 0;
  for (int i = 0; i < 100; ++i) {
    const double middle = 0.5 * (low + high);
    const double slack = 1e-9 * std::abs(x) + tolerance;
    if (std::abs(x - middle) <= 2 * slack - 0.5 * (high - low)) break;
    bool parabola = false;
    if (std::abs(last) > slack) {
      const double r = (x - w) * (fx - fv), q0 = (x - v) * (fx - fw);
      double p = (x - v) * q0 - (x - w) * r, q = 2 * (q0 - r);
      if (q > 0) p = -p;
      q = std::abs(q);
      if (std::abs(p) < std::abs(0.5 * q * last) && p > q * (low - x) && p < q * (high - x)) {
        last = step;
        step = p / q;
        parabola = true;
      }
    }
    if (!parabola) {
      last = x < middle ? high - x : low - x;
      step = golden * last;
    }
    const double u = x + (std::abs(step) >= slack ? step : std::copysign(slack, step));
    const double fu = f(u);
    if (fu <= fx) {
      (u < x ? high : low) = x;
      v = w, fv = fw, w = x, fw = fx, x = u, fx = fu;
    } else {
      (u < x ? low : high) = u;
      if (fu <= fw || w == x) {
        v = w, fv = fw, w = u, fw = fu;
      } else if (fu <= fv || v == x || v == w) {
        v = u, fv = fu;
      }
    }
  }
  return x;
}

namespace {

constexpr double kRefused = 1e300;

struct Corner {
  std::vector<double> at;
  double value = 0;
};

}  // namespace

Minimum Minimise(const std::function<double(const std::vector<double>&)>& f,
                 const std::vector<double>& start, const std::vector<double>& step,
                 double relative_tolerance, int evaluation_limit) {
  const size_t n = start.size();
  Minimum result;
  const auto value = [&](const std::vector<double>& at) {
    ++result.evaluations;
    const double v = f(at);
    return std::isfinite(v) ? v : kRefused;
  };
  std::vector<Corner> corners(n + 1, {start, 0});
  for (size_t i = 0; i < n; ++i) corners[i + 1].at[i] += step[i];
  for (Corner& corner : corners) corner.value = value(corner.at);
  // Coefficients that depend on the number of unknowns keep large simplices from collapsing.
  const double d = std::max<double>(2, static_cast<double>(n));
  const double expand = 1 + 2 / d, contract = 0.75 - 0.5 / d, shrink = 1 - 1 / d;
  const auto point = [&](const std::vector<double>& centre, const std::vector<double>& worst,
                         double by) {
    std::vector<double> at(n);
    for (size_t i = 0; i < n; ++i) at[i] = centre[i] + by * (centre[i] - worst[i]);
    return at;
  };
  const auto lower = [](const Corner& a, const Corner& b) { return a.value < b.value; };
  while (n > 0 && result.evaluations < evaluation_limit) {
    std::stable_sort(corners.begin(), corners.end(), lower);
    const double spread = corners[n].value - corners[0].value;
    if (spread <= relative_tolerance * (std::abs(corners[0].value) + 1e-12)) {
      result.converged = true;
      break;
    }
    std::vector<double> centre(n, 0);
    for (size_t c = 0; c < n; ++c)
      for (size_t i = 0; i < n; ++i) centre[i] += corners[c].at[i] / static_cast<double>(n);
    Corner& worst = corners[n];
    Corner reflected{point(centre, worst.at, 1), 0};
    reflected.value = value(reflected.at);
    if (reflected.value < corners[0].value) {
      Corner further{point(centre, worst.at, expand), 0};
      further.value = value(further.at);
      worst = further.value < reflected.value ? further : reflected;
      continue;
    }
    if (reflected.value < corners[n - 1].value) {
      worst = reflected;
      continue;
    }
    const bool outside = reflected.value < worst.value;
    Corner nearer{point(centre, worst.at, outside ? contract : -contract), 0};
    nearer.value = value(nearer.at);
    if (nearer.value < std::min(reflected.value, worst.value)) {
      worst = nearer;
      continue;
    }
    for (size_t c = 1; c <= n; ++c) {
      for (size_t i = 0; i < n; ++i)
        corners[c].at[i] = corners[0].at[i] + shrink * (corners[c].at[i] - corners[0].at[i]);
      corners[c].value = value(corners[c].at);
    }
  }
  const auto best = std::min_element(corners.begin(), corners.end(), lower);
  result.at = best->at;
  result.value = best->value;
  if (n == 0) result.converged = true;
  return result;
}

}  // namespace ferrule::plan
