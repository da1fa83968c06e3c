// Tests core/demo/simulation.cc, core/demo/compose.cc, core/demo/orders.cc,
//   core/demo/rentals.cc, core/demo/turnaround.cc, core/demo/mishaps.cc,
//   core/demo/calendar.cc, core/demo/random.cc: determinism, well-formed entries, stated rates.
#include "core/demo/simulator.h"

#include <gtest/gtest.h>

#include <map>
#include <set>
#include <string>

#include "core/demo/rates.h"
#include "core/fact/validate.h"
#include "core/time/civil.h"

namespace ferrule::demo {
namespace {

std::string BytesOf(const Options& options) {
  Simulator simulator(options);
  std::string bytes;
  for (Batch batch; simulator.Next(&batch);) {
    bytes += std::to_string(batch.recorded_us);
    for (const v1::Entry& entry : batch.entries) entry.AppendToString(&bytes);
  }
  return bytes;
}

TEST(Simulator, SameSeedGivesTheSameBytes) {
  const Options options{.seed = 5, .years = 1, .units = 40};
  EXPECT_EQ(BytesOf(options), BytesOf(options));
}

TEST(Simulator, OtherSeedGivesOtherEntries) {
  EXPECT_NE(BytesOf({.seed = 5, .years = 1, .units = 40}),
            BytesOf({.seed = 6, .years = 1, .units = 40}));
}

TEST(Simulator, EveryEntryIsWellFormedAndRecordedInOrder) {
  Simulator simulator({.seed = 3, .years = 1, .units = 120});
  int64_t recorded = 0;
  std::set<std::string> ids;
  for (Batch batch; simulator.Next(&batch);) {
    EXPECT_LE(recorded, batch.recorded_us);
    recorded = batch.recorded_us;
    EXPECT_GE(batch.entries.size(), 1u);
    EXPECT_LE(batch.entries.size(), 500u);
    for (const v1::Entry& entry : batch.entries) {
      for (const fact::Violation& v : fact::Validate(entry)) {
        FAIL() << entry.entry_id() << " " << v.field << " " << v.description;
      }
      EXPECT_TRUE(ids.insert(entry.entry_id()).second) << entry.entry_id();
      for (const v1::Fact& fact : entry.facts()) {
        EXPECT_LE(time::ToMicros(fact.happened_time()), recorded) << entry.entry_id();
      }
    }
  }
  EXPECT_LE(recorded, simulator.end_us() + Options().batch_span_us);
}

TEST(Simulator, StopsSoonAfterTheLimitOfFacts) {
  Simulator simulator({.seed = 1, .years = 2, .units = 250, .fact_limit = 5'000});
  for (Batch batch; simulator.Next(&batch);) continue;
  EXPECT_GE(simulator.fact_count(), 5'000);
  EXPECT_LE(simulator.fact_count(), 7'000);
}

// Counts over a long run, by kind of fact and by what the rates are about.
struct Tally {
  std::map<v1::Fact::WhatCase, int> kinds;
  int late = 0;
  int early_week = 0;
  int missing_accessory = 0;
};

Tally Count(const Options& options) {
  Simulator simulator(options);
  Tally tally;
  for (Batch batch; simulator.Next(&batch);) {
    for (const v1::Entry& entry : batch.entries) {
      const int64_t happened = time::ToMicros(entry.facts(0).happened_time());
      tally.late += batch.recorded_us - happened > options.batch_span_us ? 1 : 0;
      for (const v1::Fact& fact : entry.facts()) {
        ++tally.kinds[fact.what_case()];
        if (fact.has_order_taken()) {
          const absl::CivilDay day = time::ToDay(fact.order_taken().details().surgery_date());
          tally.early_week += absl::GetWeekday(day) <= absl::Weekday::wednesday ? 1 : 0;
        } else if (fact.has_picked_up()) {
          tally.missing_accessory += fact.picked_up().missing_size() > 0 ? 1 : 0;
        }
      }
    }
  }
  return tally;
}

TEST(Simulator, LongRunKeepsTheStatedRates) {
  Tally tally = Count({.seed = 11, .years = 3, .units = 600});
  const auto count = [&tally](v1::Fact::WhatCase kind) {
    return static_cast<double>(tally.kinds[kind]);
  };
  const double orders = count(v1::Fact::kOrderTaken);
  const double rentals = count(v1::Fact::kHandedOver);
  const double pickups = count(v1::Fact::kPickedUp);
  ASSERT_GT(rentals, 10'000);
  EXPECT_NEAR(tally.early_week / orders, 0.80, 0.02);
  // Published 4.3 to 5.4 %; those for which no unit is found come on top.
  EXPECT_GT(count(v1::Fact::kOrderCancelled) / orders, 0.035);
  EXPECT_LT(count(v1::Fact::kOrderCancelled) / orders, 0.09);
  EXPECT_GT(count(v1::Fact::kExchanged) / rentals, 0.01);
  EXPECT_LT(count(v1::Fact::kExchanged) / rentals, 0.03);
  EXPECT_GT(count(v1::Fact::kOrderExtended) / rentals, 0.15);
  EXPECT_LT(count(v1::Fact::kOrderExtended) / rentals, 0.25);
  // First-pass yield 85 to 93 %, retests included.
  const double failed = count(v1::Fact::kRepairOpened) / count(v1::Fact::kInspectionDone);
  EXPECT_GT(failed, 0.07);
  EXPECT_LT(failed, 0.15);
  EXPECT_GT(tally.missing_accessory / pickups, 0.04);
  EXPECT_LT(tally.missing_accessory / pickups, 0.08);
  EXPECT_GT(count(v1::Fact::kPickupFailed) / pickups, 0.08);
  EXPECT_GT(count(v1::Fact::kUnitMissing) / (3 * 600), 0.005);
  EXPECT_LT(count(v1::Fact::kUnitMissing) / (3 * 600), 0.02);
  EXPECT_GT(tally.late, 1'000);
  for (const auto kind :
       {v1::Fact::kMeterReplaced, v1::Fact::kMeterRolledOver, v1::Fact::kPartRemoved,
        v1::Fact::kHoldLifted, v1::Fact::kServiceDone, v1::Fact::kSideConfigured,
        v1::Fact::kUnitFound, v1::Fact::kUnitWrittenOff, v1::Fact::kReversal,
        v1::Fact::kQuestionAnswered, v1::Fact::kOrderHoldReleased, v1::Fact::kMeterRead}) {
    EXPECT_GT(count(kind), 0) << kind;
  }
}

TEST(StartDay, LetsTheYearsEndWithADay) {
  EXPECT_EQ(StartDayFor(absl::CivilDay(2025, 12, 31), 2), absl::CivilDay(2024, 1, 1));
  EXPECT_EQ(StartDayFor(absl::CivilDay(2026, 11, 27), 2), absl::CivilDay(2024, 11, 28));
  // The run would end with 29 February: it ends a day sooner, never later.
  EXPECT_EQ(StartDayFor(absl::CivilDay(2028, 2, 28), 2), absl::CivilDay(2026, 2, 28));
  Simulator simulator({.seed = 3,
                       .years = 1,
                       .units = 20,
                       .start_day = StartDayFor(absl::CivilDay(2026, 11, 27), 1)});
  const absl::CivilDay end =
      absl::ToCivilDay(absl::FromUnixMicros(simulator.end_us()), absl::UTCTimeZone());
  EXPECT_LE(end, absl::CivilDay(2026, 11, 27));
  EXPECT_GE(end, absl::CivilDay(2026, 11, 20));
}

}  // namespace
}  // namespace ferrule::demo
