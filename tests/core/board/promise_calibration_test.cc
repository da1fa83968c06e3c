// Told odds against what happened, on the synthetic depot.
// Tests core/board/promise_pool.cc, core/board/return_laws.cc, core/board/rentals_seen.cc,
// core/board/turns_seen.cc.
#include "tests/support/promise_calibration.h"

#include <gtest/gtest.h>

#include <cmath>

#include "tests/support/depot_stores.h"

namespace ferrule::testing {
namespace {

// The aim, in every decile that is filled.
constexpr double kAim = 0.03;
// A decile's own share is uncertain by its standard error: only what lies beyond the aim by more
// than chance would have it in one case of twenty (one-sided, normal) is a failure.
constexpr double kChance = 1.645;

// One run, always the same, on a seed on which nothing was tuned; ferrule_bench promise-calibration
// takes several.
TEST(PromiseCalibration, OddsAreKeptAsToldInEveryDecile) {
  TestStore store(StoreKind::kSqliteFile);
  CalibrationOptions options;
  options.seed = 11;
  const Calibration calibration = Calibrate(store.OpenMigrated(), options);
  EXPECT_GE(calibration.promises, 5'000) << Words(calibration);
  int filled = 0;
  for (const Decile& decile : calibration.deciles) {
    if (decile.count < kFilled) continue;
    ++filled;
    const double off = std::abs(decile.told - decile.kept);
    EXPECT_LE(off, kAim + kChance * decile.error) << Words(calibration);
    // So that the allowance stays one for chance.
    EXPECT_LE(decile.error, kAim) << Words(calibration);
  }
  EXPECT_GE(filled, 8) << Words(calibration);
}

}  // namespace
}  // namespace ferrule::testing
