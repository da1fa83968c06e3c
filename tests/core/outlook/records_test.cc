// What is read out of the ledger, and the whole way from a generated depot to scored forecasts.
#include "core/outlook/records.h"

#include <cmath>
#include <set>

#include "core/demo/simulator.h"
#include "core/outlook/backtest.h"
#include "core/outlook/forecast.h"
#include "core/outlook/measures.h"
#include "core/outlook/turns.h"
#include "core/time/civil.h"
#include "gmock/gmock.h"
#include "gtest/gtest.h"
#include "tests/support/entries.h"
#include "tests/support/ledger_depot.h"

namespace ferrule::outlook {
namespace {

using testing::EntryOf;
using testing::kDayUs;
using testing::kHourUs;
using testing::kStartUs;

class ReadRecordsTest : public testing::OnEveryEngine {
 protected:
  ReadRecordsTest() : depot_(GetParam()) {
    depot_.clock().Set(kStartUs);
    depot_.MustRecord(testing::SettingsEntry());
  }
  void Record(const v1::Entry& entry, int64_t recorded_us) {
    depot_.clock().Set(recorded_us);
    depot_.MustRecord(entry);
  }
  std::shared_ptr<const Records> Read(int64_t known_us) {
    const auto records = ReadRecords(depot_.ledger(), known_us);
    EXPECT_TRUE(records.ok()) << records.status();
    return *records;
  }
  testing::LedgerDepot depot_;
};
FERRULE_ON_EVERY_ENGINE(ReadRecordsTest);

TEST_P(ReadRecordsTest, UnitsStepByStepWithTheFactOfEach) {
  Record(testing::ReceiveUnit("K-1", kStartUs), kStartUs);
  Record(testing::MakeReady("ready-1", "K-1", kStartUs + kHourUs), kStartUs + 2 * kHourUs);
  const auto records = Read(kStartUs + kDayUs);
  ASSERT_EQ(records->units.size(), 1u);
  const UnitRecord& unit = records->units[0];
  EXPECT_EQ(unit.unit, "K-1");
  EXPECT_EQ(unit.device_class, "knee");
  ASSERT_GE(unit.steps.size(), 4u);
  EXPECT_EQ(unit.steps.front().what, v1::Fact::kUnitReceived);
  EXPECT_FALSE(unit.steps.front().ready);
  EXPECT_TRUE(unit.steps.back().ready);
  const auto stamp = StampOf(depot_.ledger(), unit.steps.back().fact);
  ASSERT_TRUE(stamp.ok());
  EXPECT_EQ(stamp->fact().entry_id(), "ready-1");
  EXPECT_EQ(stamp->actor(), "tech-ada");
}

TEST_P(ReadRecordsTest, LateAndReversedFactsGiveTheFoldOfTheirSet) {
  Record(testing::ReceiveUnit("K-1", kStartUs), kStartUs);
  Record(EntryOf("move-2", kStartUs + 2 * kHourUs,
                 "unit_moved { unit: 'K-1' to_place: 'north-bench' }", v1::ENTRY_MODE_OBSERVED),
         kStartUs + 3 * kHourUs);
  const int64_t before = kStartUs + 3 * kHourUs;
  // Late: happened before the move, known after it.
  Record(EntryOf("move-1", kStartUs + kHourUs, "unit_moved { unit: 'K-1' to_place: 'north-shelf' }",
                 v1::ENTRY_MODE_OBSERVED),
         kStartUs + 4 * kHourUs);
  v1::Entry reversal = EntryOf("undo", kStartUs + 5 * kHourUs,
                               "reversal { fact { entry_id: 'move-2' } subjects: 'units/K-1' "
                               "because: 'mistyped' }");
  Record(reversal, kStartUs + 5 * kHourUs);
  const auto places = [](const Records& records) {
    std::vector<std::string> list;
    for (const UnitStep& step : records.units[0].steps) list.push_back(step.place);
    return list;
  };
  EXPECT_EQ(places(*Read(before)), (std::vector<std::string>{"north-dock", "north-bench"}));
  EXPECT_EQ(places(*Read(kStartUs + 4 * kHourUs)),
            (std::vector<std::string>{"north-dock", "north-shelf", "north-bench"}));
  EXPECT_EQ(places(*Read(kStartUs + 6 * kHourUs)),
            (std::vector<std::string>{"north-dock", "north-shelf"}));
}

TEST_P(ReadRecordsTest, AKeptForecastIsInTheDiaryAndAReversedOneIsNot) {
  const std::string noted =
      "forecast_noted { branch: 'north' as_of_date { year: 2026 month: 3 day: 1 } classes { "
      "device_class: 'knee' days { median: 3 high_80: 4 q95: 5 high_95: 5 q99: 6 } } }";
  Record(EntryOf("n-1", kStartUs, noted), kStartUs);
  Record(EntryOf("n-2", kStartUs + 1, noted), kStartUs + 1);
  EXPECT_EQ(Read(kStartUs + kHourUs)->diary.size(), 2u);
  const auto state = depot_.ledger().Get("forecasts/north");
  ASSERT_TRUE(state.ok());
  EXPECT_EQ((*state)->forecasts().noted_count(), 2);
  Record(
      EntryOf("undo", kStartUs + kHourUs,
              "reversal { fact { entry_id: 'n-1' } subjects: 'forecasts/north' because: 'twice' }"),
      kStartUs + kHourUs);
  EXPECT_EQ(Read(kStartUs + kDayUs)->diary.size(), 1u);
  EXPECT_TRUE(depot_.MustVerify().ok());
}

// What the measures take from an order's facts beyond its state.
TEST_P(ReadRecordsTest, OrdersWithWhatWasPromisedRefusedProvedAndBilled) {
  Record(testing::TakeOrder("R-1", kStartUs), kStartUs);
  const auto note = [&](int hour, const std::string& text) {
    Record(EntryOf("e-" + std::to_string(hour), kStartUs + hour * kHourUs, text,
                   v1::ENTRY_MODE_OBSERVED),
           kStartUs + hour * kHourUs);
  };
  note(1,
       "promise_refused { order: 'R-1' asked_date { year: 2026 month: 3 day: 5 } kind: "
       "REFUSAL_KIND_NO_UNIT }");
  note(2,
       "unit_promised { unit: 'K-1' order: 'R-1' from_date { year: 2026 month: 3 day: 7 } "
       "through_date { year: 2026 month: 3 day: 28 } odds_permille: 870 }");
  note(3, "ticket_returned { order: 'R-1' signed_by: 'spouse' legible: true }");
  note(4,
       "days_billed { order: 'R-1' claim: 'C-1' from_date { year: 2026 month: 3 day: 7 } "
       "through_date { year: 2026 month: 3 day: 9 } unit_count: 3 amount_minor: 4500 }");
  const auto records = Read(kStartUs + kDayUs);
  ASSERT_EQ(records->orders.size(), 1u);
  const std::vector<OrderStep>& steps = records->orders[0].steps;
  ASSERT_EQ(steps.size(), 5u);
  const int64_t fifth = time::DayNumber(absl::CivilDay(2026, 3, 5));
  EXPECT_EQ(steps[1].of_day, fifth);
  EXPECT_EQ(steps[2].of_day, fifth + 2);
  EXPECT_EQ(steps[2].value, 870);
  EXPECT_EQ(steps[3].what, v1::Fact::kTicketReturned);
  EXPECT_EQ(steps[3].value, 0);  // nothing was handed over
  ASSERT_TRUE(steps[4].billing.has_value());
  EXPECT_EQ(steps[4].billing->first_day, fifth + 2);
  EXPECT_EQ(steps[4].billing->last_day, fifth + 4);
  EXPECT_EQ(steps[4].billing->amount_minor, 4500);
  EXPECT_FALSE(steps[3].billing.has_value());
}

// A year of a generated depot, from its own records to scores of its forecasts.
class GeneratedDepot : public ::testing::Test {
 protected:
  static void SetUpTestSuite() {
    depot_ = new testing::LedgerDepot("sqlite");
    demo::Simulator simulator({.seed = 11, .years = 2, .units = 60, .batch_span_us = 8 * kHourUs});
    for (demo::Batch batch; simulator.Next(&batch);) {
      depot_->clock().Set(batch.recorded_us);
      end_us_ = batch.recorded_us;
      for (const auto& receipt : depot_->RecordBatch(std::move(batch.entries)))
        ASSERT_TRUE(receipt.ok()) << receipt.status();
    }
  }
  static void TearDownTestSuite() { delete depot_; }
  static testing::LedgerDepot* depot_;
  static int64_t end_us_;
};
testing::LedgerDepot* GeneratedDepot::depot_ = nullptr;
int64_t GeneratedDepot::end_us_ = 0;

TEST_F(GeneratedDepot, EveryUnitsLastStepIsItsState) {
  const auto records = ReadRecords(depot_->ledger(), end_us_);
  ASSERT_TRUE(records.ok());
  ASSERT_GT((*records)->units.size(), 50u);
  for (const UnitRecord& unit : (*records)->units) {
    const auto state = depot_->ledger().Get("units/" + unit.unit);
    ASSERT_TRUE(state.ok());
    EXPECT_EQ(unit.steps.back().custody, (*state)->unit().custody()) << unit.unit;
    EXPECT_EQ(unit.steps.back().condition, (*state)->unit().condition()) << unit.unit;
    EXPECT_EQ(unit.steps.back().place, (*state)->unit().place()) << unit.unit;
  }
}

TEST_F(GeneratedDepot, EverySecondOfATurnIsInOneStage) {
  const auto records = ReadRecords(depot_->ledger(), end_us_);
  ASSERT_TRUE(records.ok());
  int turns = 0;
  for (const Turn& turn : TurnsOf(**records)) {
    if (turn.next_us == kNever) continue;
    ++turns;
    int64_t sum = 0;
    for (const StageSpan& span :
         SpansOf(**records, (*records)->units[turn.unit], turn.out_us, turn.next_us)) {
      sum += span.to_us - span.from_us;
    }
    EXPECT_EQ(sum, turn.next_us - turn.out_us);
  }
  EXPECT_GT(turns, 300);
}

TEST_F(GeneratedDepot, ForecastsAndMeasuresAreSound) {
  const auto records = ReadRecords(depot_->ledger(), end_us_);
  ASSERT_TRUE(records.ok());
  const auto forecast = Forecast(**records, {}, end_us_);
  ASSERT_TRUE(forecast.ok()) << forecast.status();
  EXPECT_GE(forecast->forecasts_size(), 8);
  for (const v1::ClassForecast& f : forecast->forecasts()) {
    for (const v1::ForecastDay& d : f.days()) {
      EXPECT_TRUE(std::isfinite(d.mean_units()));
      EXPECT_LE(d.low_95(), d.high_95());
    }
  }
  v1::ReportMeasuresRequest request;
  const auto measures = Measures(**records, request, end_us_);
  ASSERT_TRUE(measures.ok()) << measures.status();
  std::set<std::string> counted;
  for (const v1::Measure& m : measures->measures()) {
    if (!m.has_value()) continue;
    counted.insert(m.measure());
    EXPECT_TRUE(std::isfinite(m.value())) << m.measure();
    // Errors and use may go beyond the whole.
    const bool share = m.measure() != "forecast-error" && m.measure() != "usage-adherence";
    if (m.unit() == "%" && share) {
      EXPECT_GE(m.value(), 0) << m.measure();
      EXPECT_LE(m.value(), 100) << m.measure();
    }
  }
  EXPECT_GE(counted.size(), 15u);
  EXPECT_EQ(counted.count("service-on-time"), 1u);
}

TEST_F(GeneratedDepot, TheForecastBeatsTheNaiveOneOnWhatWasKnown) {
  RecordsReader reader(&depot_->ledger());
  v1::WatchBacktestRequest request;
  request.set_origin_count(8);
  request.set_horizon_days(21);
  const auto test = Backtest::Begin(&reader, request, end_us_);
  ASSERT_TRUE(test.ok()) << test.status();
  for (int i = 0; i < (*test)->origins(); ++i) ASSERT_TRUE((*test)->Run(i).ok());
  const v1::ForecastScores scores = (*test)->Scores();
  ASSERT_GT(scores.rows_size(), 8);
  double loss = 0, naive = 0, inside = 0, cases = 0;
  for (const v1::ScoreRow& row : scores.rows()) {
    const auto n = static_cast<double>(row.case_count());
    loss += n * row.scaled_loss_ratio();
    naive += n * row.naive_loss_ratio();
    inside += n * row.inside_95_share();
    cases += n;
  }
  EXPECT_LT(loss, .7 * naive);
  EXPECT_GT(inside / cases, .88);
}

}  // namespace
}  // namespace ferrule::outlook
