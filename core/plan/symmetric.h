// Small symmetric positive semidefinite systems, solved by an LDL' factorisation.
#pragma once

#include <cstddef>
#include <vector>

namespace ferrule::plan {

class Symmetric {
 public:
  explicit Symmetric(size_t order) : order_(order), lower_(order * (order + 1) / 2, 0) {}

  size_t order() const { return order_; }
  // row >= column.
  double& At(size_t row, size_t column) { return lower_[row * (row + 1) / 2 + column]; }
  double At(size_t row, size_t column) const { return lower_[row * (row + 1) / 2 + column]; }

  // x of A x = b; a direction in which A is (nearly) singular gets 0, so x is never NaN.
  std::vector<double> Solve(const std::vector<double>& b) const;
  // The inverse, with singular directions left at 0.
  Symmetric Inverse() const;
  // log |A| over its nonsingular directions.
  double LogDeterminant() const;

 private:
  // Unit lower triangle below the diagonal D; a pivot below 1e-13 of its own diagonal becomes 0.
  std::vector<double> Factor() const;
  void SolveFactored(const std::vector<double>& factor, std::vector<double>& x) const;

  size_t order_;
  std::vector<double> lower_;
};

}  // namespace ferrule::plan
