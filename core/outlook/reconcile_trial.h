// A challenger of the forecasts by class: the branch is forecast as one besides, and both are made
// to add up by least squares with the covariance of past errors (core/plan/reconcile.h). It is told
// whether that would have been nearer; the forecasts themselves stay as they are.
#pragma once

#include <cstdint>
#include <map>
#include <string>
#include <vector>

namespace ferrule::outlook {

class SumsTrial {
 public:
  // Mean forecasts at the end of `day` for day + 1, day + 2, ...
  struct Origin {
    int64_t day = 0;
    std::vector<double> whole;
    std::vector<std::vector<double>> parts;  // by class
    std::vector<std::vector<double>> came;   // by class: what came
  };
  // Origins of a branch are added in the order of their days. The weights at each are learned from
  // the earlier ones whose days had all come; an origin with too few of them is not judged.
  void Add(const std::string& branch, Origin origin);

  struct Result {
    int origins = 0;
    int64_t days = 0;       // of classes
    double plain = 0;       // mean |error|, units
    double reconciled = 0;  // the same, had they been made to add up
  };
  Result Judged() const;
  // In a sentence; empty when nothing could be judged.
  std::string Words() const;

 private:
  std::map<std::string, std::vector<Origin>> past_;
  Result sums_;  // errors summed, not divided
};

}  // namespace ferrule::outlook
