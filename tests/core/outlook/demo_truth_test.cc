// The fleet size that the service names for a generated depot against the size that brute force
// finds, knowing what the generator does. Tests core/outlook/fleet_size.cc.
#include <algorithm>
#include <cmath>
#include <iostream>

#include "core/outlook/fleet_size.h"
#include "core/outlook/planner_input.h"
#include "core/time/civil.h"
#include "gtest/gtest.h"
#include "tests/core/outlook/generated_truth.h"
#include "tests/support/ledger_depot.h"

namespace ferrule::outlook {
namespace {

constexpr int kWindow = 182;
constexpr int kPaths = 300;
constexpr int64_t kSpanUs = int64_t{8} * 3'600'000'000;

// Records a generated depot and returns the service's answer less the right one, fleet by fleet.
std::vector<int64_t> Differences(const GeneratedTruth& truth, const demo::Options& options) {
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
  std::vector<int64_t> differences;
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
    std::cout << size.branch() << " " << size.device_class() << ": " << size.lost_rule_count()
              << ", right is " << right << "\n";
    EXPECT_NEAR(static_cast<double>(size.lost_rule_count()), static_cast<double>(right), 3)
        << size.branch() << " " << size.device_class();
    differences.push_back(size.lost_rule_count() - right);
  }
  return differences;
}

// The goal is one unit for every fleet. Over 96 fleets of six depots (seeds 1 to 3 of two years, 11
// to 13 of three) 84 are within one, and the answers lie .6 units too high on average: with the
// rate taken for sure instead of in doubt 87 are, at .1. What is left is what the depot's own two
// or three years happened to bring: 660 orders tell a rate within 4 %, which is more than a unit
// of 33.
TEST(FleetOfTheGeneratedDepot, IsFoundWithinOneUnitOfBruteForceForMost) {
  const GeneratedTruth truth({.seed = 901, .years = 4, .units = 4000, .batch_span_us = kSpanUs});
  std::vector<int64_t> all = Differences(truth, {.seed = 1, .batch_span_us = kSpanUs});
  for (int64_t d : Differences(truth, {.seed = 11, .years = 3, .batch_span_us = kSpanUs}))
    all.push_back(d);
  ASSERT_EQ(all.size(), 32u);
  double sum = 0;
  int within = 0;
  for (int64_t d : all) sum += static_cast<double>(d), within += std::abs(d) <= 1 ? 1 : 0;
  EXPECT_GE(within, 27);
  EXPECT_NEAR(sum / 32, .4, .5);
}

}  // namespace
}  // namespace ferrule::outlook
