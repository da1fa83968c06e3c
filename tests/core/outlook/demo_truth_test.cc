// The fleet size that the service names for a generated depot against the size that brute force
// finds, knowing what the generator does. Tests core/outlook/fleet_size.cc.
#include <algorithm>
#include <cmath>
#include <iostream>

#include "core/outlook/fleet_size.h"
#include "core/outlook/planner_input.h"
#include "core/plan/fleet.h"
#include "core/time/civil.h"
#include "gtest/gtest.h"
#include "tests/core/outlook/generated_truth.h"
#include "tests/support/ledger_depot.h"

namespace ferrule::outlook {
namespace {

constexpr int kWindow = 182;
constexpr int kPaths = 300;
constexpr int64_t kSpanUs = int64_t{8} * 3'600'000'000;

struct Difference {
  int64_t told = 0;     // the service's answer less the right one
  int64_t formula = 0;  // that of its formula where it is told the true load
};

// Records a generated depot and returns what the answers are off by, fleet by fleet.
std::vector<Difference> Differences(const GeneratedTruth& truth, const demo::Options& options) {
  testing::LedgerDepot depot("sqlite");
  demo::Simulator simulator(options);
  int64_t end_us = 0;
  for (demo::Batch batch; simulator.Next(&batch);) {
    depot.clock().Set(batch.recorded_us);
    end_us = batch.recorded_us;
    for (const auto& receipt : depot.RecordBatch(std::move(batch.entries)))
      EXPECT_TRUE(receipt.ok()) << receipt.status();
  }
  const auto records = ReadRecords(depot.ledger(), end_us);
  EXPECT_TRUE(records.ok()) << records.status();
  // The generator sets a branch's orders by the units that it gives it.
  std::map<std::pair<std::string, std::string>, double> given;
  for (const UnitRecord& unit : (*records)->units) {
    const std::string& place = unit.steps.front().place;
    given[{place.substr(0, place.rfind('-')), unit.device_class}] += 1;
  }
  const auto sizes = SizeFleets(**records, {}, end_us);
  EXPECT_TRUE(sizes.ok()) << sizes.status();
  const std::vector<BranchInput> inputs = PlannerInput(**records, end_us);
  std::vector<Difference> differences;
  for (const v1::FleetSize& size : sizes->sizes()) {
    const BranchInput& input =
        *std::find_if(inputs.begin(), inputs.end(),
                      [&](const BranchInput& one) { return one.branch == size.branch(); });
    std::vector<plan::Booking> bookings;
    for (const plan::Booking& b : plan::KnownAt(input.input.bookings, input.input.now))
      if (input.classes[static_cast<size_t>(b.device_class)] == size.device_class())
        bookings.push_back(b);
    const auto futures =
        truth.Futures(size.device_class(), bookings, given[{size.branch(), size.device_class()}],
                      input.input.now, kWindow, kPaths);
    int64_t right = 0;
    while (LostShareOf(futures, kWindow, right) > size.lost_target_share()) ++right;
    const plan::Load load = TrueLoad(futures, kWindow);
    int64_t formula = 0;
    while (plan::LostShare(load, formula) > size.lost_target_share()) ++formula;
    EXPECT_NEAR(static_cast<double>(formula), static_cast<double>(right), 1)
        << size.branch() << " " << size.device_class();
    std::cout << size.branch() << " " << size.device_class() << ": " << size.lost_rule_count()
              << ", right is " << right << ", by the true load " << formula << "\n";
    EXPECT_NEAR(static_cast<double>(size.lost_rule_count()), static_cast<double>(right), 3)
        << size.branch() << " " << size.device_class();
    differences.push_back({size.lost_rule_count() - right, formula - right});
  }
  return differences;
}

// The goal is one unit for every fleet. Of 160 fleets of ten depots of two years (seeds 1 to 10)
// 149 are within one, of 128 of eight depots of three years (11 to 18) 123, the right size found
// with a great depot of 16,000 units. Told the true load the formula is within one on all of these
// 32. What is left is chance: one who knew all but the rate of each fleet, and counted its orders
// for that, would be within one on 152 and 125 (a Poisson count drawn 60 times for each fleet). 660
// orders tell a rate within 4 %, which is more than a unit of 33.
TEST(FleetOfTheGeneratedDepot, IsFoundWithinOneUnitOfBruteForceForMost) {
  const GeneratedTruth truth({.seed = 901, .years = 4, .units = 8000, .batch_span_us = kSpanUs});
  std::vector<Difference> all = Differences(truth, {.seed = 1, .batch_span_us = kSpanUs});
  for (const Difference& d : Differences(truth, {.seed = 11, .years = 3, .batch_span_us = kSpanUs}))
    all.push_back(d);
  ASSERT_EQ(all.size(), 32u);
  double told = 0, formula = 0;
  int within = 0;
  for (const Difference& d : all) {
    told += static_cast<double>(d.told) / 32;
    formula += static_cast<double>(d.formula) / 32;
    within += std::abs(d.told) <= 1 ? 1 : 0;
  }
  EXPECT_GE(within, 29);
  EXPECT_NEAR(told, 0, .3);
  EXPECT_NEAR(formula, 0, .25);
}

// Eight years leave counting alone no miss in 32 fleets.
TEST(FleetOfTheGeneratedDepot, IsFoundWithinOneUnitForAllWithEightYearsOnRecord) {
  const GeneratedTruth truth({.seed = 902, .years = 9, .units = 8000, .batch_span_us = kSpanUs});
  const std::vector<Difference> all =
      Differences(truth, {.seed = 31, .years = 8, .batch_span_us = kSpanUs});
  ASSERT_EQ(all.size(), 16u);
  for (const Difference& d : all) EXPECT_LE(std::abs(d.told), 1);
}

}  // namespace
}  // namespace ferrule::outlook
