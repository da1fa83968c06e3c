// How honest forecasts of units in use were, by band of days ahead.
#pragma once

#include <array>
#include <string>
#include <vector>

#include "core/plan/pmf.h"
#include "core/plan/scores.h"

namespace ferrule::bench {

class Honesty {
 public:
  // One day `ahead` (1 is tomorrow) on which `y` units were in use.
  void Add(size_t ahead, const plan::Pmf& units, int64_t y);
  // The next forecasts are of another branch, which has nothing to do with the ones before.
  void NextBranch();
  // Bounds by weight and by count, and whether the transform is level (TestLevel).
  void Print() const;

 private:
  static constexpr size_t kBands = 5;
  static constexpr std::array<size_t, kBands> kLast = {7, 14, 28, 42, 366};
  struct Band {
    std::vector<plan::TransformPair> pairs, branch;
    double counted = 0;                           // days within CentralRange at 80 %
    double promised = 0;                          // what these ranges hold when the law is right
    std::vector<std::vector<double>> histograms;  // by branch
  };
  void PrintBand(const Band& band, const std::string& name) const;

  std::array<Band, kBands> bands_;
  Band all_;
};

}  // namespace ferrule::bench
