#include "core/plan/symmetric.h"

#include <cmath>

namespace ferrule::plan {
namespace {
size_t Row(size_t i) { return i * (i + 1) / 2; }
}  // namespace

std::vector<double> Symmetric::Factor() const {
  std::vector<double> f = lower_;
  for (size_t i = 0; i < order_; ++i) {
    double* row = &f[Row(i)];
    for (size_t j = 0; j < i; ++j) {
      const double* other = &f[Row(j)];
      double sum = row[j];
      for (size_t k = 0; k < j; ++k) sum -= row[k] * other[k];
      row[j] = sum;  // L(i,j) D(j): rows above are scaled already, this one below
    }
    double pivot = row[i];
    for (size_t j = 0; j < i; ++j) {
      const double d = f[Row(j) + j];
      const double scaled = d > 0 ? row[j] / d : 0;
      pivot -= row[j] * scaled;
      row[j] = scaled;
    }
    row[i] = pivot > 1e-13 * std::abs(lower_[Row(i) + i]) && pivot > 1e-300 ? pivot : 0;
  }
  return f;
}

void Symmetric::SolveFactored(const std::vector<double>& f, std::vector<double>& x) const {
  for (size_t i = 0; i < order_; ++i)
    for (size_t j = 0; j < i; ++j) x[i] -= f[Row(i) + j] * x[j];
  for (size_t i = 0; i < order_; ++i) {
    const double d = f[Row(i) + i];
    x[i] = d > 0 ? x[i] / d : 0;
  }
  for (size_t i = order_; i-- > 0;)
    for (size_t j = 0; j < i; ++j) x[j] -= f[Row(i) + j] * x[i];
}

std::vector<double> Symmetric::Solve(const std::vector<double>& b) const {
  std::vector<double> x = b;
  SolveFactored(Factor(), x);
  return x;
}

Symmetric Symmetric::Inverse() const {
  const std::vector<double> f = Factor();
  Symmetric inverse(order_);
  for (size_t c = 0; c < order_; ++c) {
    std::vector<double> x(order_, 0);
    x[c] = 1;
    SolveFactored(f, x);
    for (size_t r = c; r < order_; ++r) inverse.At(r, c) = x[r];
  }
  return inverse;
}

double Symmetric::LogDeterminant() const {
  const std::vector<double> f = Factor();
  double sum = 0;
  for (size_t i = 0; i < order_; ++i)
    if (f[Row(i) + i] > 0) sum += std::log(f[Row(i) + i]);
  return sum;
}

}  // namespace ferrule::plan
