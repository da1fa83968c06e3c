#include "tests/bench/plan/honesty.h"

#include <cstdio>
#include <string>

namespace ferrule::bench {
namespace {
constexpr int kBins = 5;
}  // namespace

void Honesty::Add(size_t ahead, const plan::Pmf& units, int64_t y) {
  size_t i = 0;
  while (i + 1 < kBands && ahead > kLast[i]) ++i;
  const plan::TransformPair pair{plan::Cdf(units, y - 1), plan::Cdf(units, y)};
  const plan::CountRange range = plan::CentralRange(units, .8);
  for (Band* band : {&bands_[i], &all_}) {
    band->pairs.push_back(pair);
    band->branch.push_back(pair);
    band->counted += y >= range.low && y <= range.high ? 1 : 0;
    band->promised += plan::Cdf(units, range.high) - plan::Cdf(units, range.low - 1);
  }
}

void Honesty::NextBranch() {
  const auto close = [](Band& band) {
    if (!band.branch.empty())
      band.histograms.push_back(plan::TransformHistogram(band.branch, kBins));
    band.branch.clear();
  };
  for (Band& band : bands_) close(band);
  close(all_);
}

void Honesty::PrintBand(const Band& band, const std::string& name) const {
  if (band.pairs.empty()) return;
  const double days = static_cast<double>(band.pairs.size());
  std::printf(
      "%-12s 80 %% bounds hold %.3f of the weight, %.3f of the counts (a right law %.3f), "
      "95 %% bounds %.3f",
      name.c_str(), plan::ShareWithin(band.pairs, .1, .9), band.counted / days,
      band.promised / days, plan::ShareWithin(band.pairs, .025, .975));
  const plan::LevelTest test = plan::TestLevel(band.histograms);
  std::printf("; transform");
  for (double share : plan::TransformHistogram(band.pairs, kBins)) std::printf(" %.3f", share);
  if (test.denominator > 0)
    std::printf(", level: F(%d, %d) %.2f, p %.3f", test.numerator, test.denominator, test.f,
                test.probability);
  std::printf("\n");
}

void Honesty::Print() const {
  for (size_t i = 0; i < kBands; ++i) PrintBand(bands_[i], "days to " + std::to_string(kLast[i]));
  PrintBand(all_, "all days");
}

}  // namespace ferrule::bench
