// Tests core/outlook/measures.cc, core/outlook/figure.cc, core/outlook/measures_bench.cc,
//   core/outlook/measures_demand.cc, core/outlook/measures_field.cc,
//   core/outlook/measures_fleet.cc.
#include "core/outlook/measures.h"

#include <cmath>

#include "gmock/gmock.h"
#include "gtest/gtest.h"
#include "tests/core/outlook/ask_measures.h"

namespace ferrule::outlook {
namespace {

using ::testing::HasSubstr;

// The check of the trade: 8 units of 3,000 out 22 of 30 days and 2 of 9,000 out 6 of them are
// 62.7 % by count and 50.5 % by cost (computed by hand: 188/300 and 636,000/1,260,000).
class Utilisation : public ::testing::Test {
 protected:
  Utilisation() {
    for (int u = 0; u < 10; ++u) {
      const std::string unit = "K-" + std::to_string(u), order = "R-" + std::to_string(u);
      built_.Unit(unit, -10, u < 8 ? 300'000 : 900'000);
      built_.Order(order, -5, 0, 100);
      // Out at noon of day 0: in the home at the end of days 0 to back - 1.
      built_.HandOver(unit, order, At(0));
      built_.PickUp(unit, order, At(u < 8 ? 22 : 6));
    }
  }
  BuiltRecords built_;
};

TEST_F(Utilisation, ByCountAndByCost) {
  const v1::Measure count = Only(built_, Window(0, 29, "time-utilisation"), At(40));
  EXPECT_NEAR(count.value(), 62.6667, .001);
  EXPECT_EQ(count.denominator_value(), 300);
  EXPECT_EQ(count.record_count(), 10);
  const v1::Measure cost = Only(built_, Window(0, 29, "cost-utilisation"), At(40));
  EXPECT_NEAR(cost.value(), 50.476, .001);
}

TEST_F(Utilisation, RecordsAddUpToTheFigure) {
  const v1::Measure count = Only(built_, Window(0, 29, "time-utilisation"), At(40));
  double sum = 0;
  for (const v1::MeasureRecord& record : count.records()) {
    sum += record.value();
    EXPECT_FALSE(record.stamp().fact().entry_id().empty());
  }
  EXPECT_EQ(sum, count.numerator_value());
}

TEST_F(Utilisation, UnitsThatNeverEarnAreNamed) {
  built_.Unit("K-idle", -10);
  built_.Unit("K-new", 20);  // not there for the whole window
  const v1::Measure idle = Only(built_, Window(0, 29, "units-never-earning"), At(40));
  EXPECT_EQ(idle.value(), 1);
  ASSERT_EQ(idle.records_size(), 1);
  EXPECT_EQ(idle.records(0).name(), "units/K-idle");
}

TEST(Turnaround, CountsWhatIsNotReadyAsLasting) {
  BuiltRecords built;
  for (int u = 0; u < 3; ++u) {
    const std::string unit = "K-" + std::to_string(u), order = "R-" + std::to_string(u);
    built.Unit(unit, -10);
    built.Order(order, -5, 0);
    built.HandOver(unit, order, At(0));
    built.PickUp(unit, order, At(20));
    if (u < 2) {
      built.MakeReady(unit, At(20, 12), At(20, 14), At(20, 15), At(21 + u, 12));
    } else {
      built.Step(unit, At(20, 12), v1::Fact::kReceivedBack, [](UnitStep& s) { s.place = "dock"; });
    }
  }
  // One and two days, and one open for ten: the curve comes down to a half at two days.
  const v1::Measure m = Only(built, Window(0, 29, "turnaround"), At(30));
  EXPECT_EQ(m.case_count(), 3);
  EXPECT_EQ(m.open_count(), 1);
  EXPECT_NEAR(m.value(), 2, 1e-9);
  EXPECT_THAT(m.missing(), HasSubstr("still open"));
}

TEST(CycleTime, StagesAddUpToTheWhole) {
  BuiltRecords built;
  built.Unit("K-1", -1);
  built.Order("R-1", -3, 1, 10);
  built.Order("R-2", 10, 30, 10);
  built.Rental("K-1", "R-1", 0, 14, 16);
  built.HandOver("K-1", "R-2", At(29));
  const v1::Measure m = Only(built, Window(0, 40, "cycle-time"), At(45));
  EXPECT_EQ(m.case_count(), 1);
  double sum = 0;
  for (const v1::MeasurePart& part : m.parts())
    if (part.text().find(',') == std::string::npos) sum += part.value();
  EXPECT_NEAR(sum, m.value(), 1e-9);
  EXPECT_NEAR(m.value(), 29, 1e-9);
}

TEST(Overdue, IsBucketedAtTheEndOfTheWindow) {
  BuiltRecords built;
  const int lengths[] = {28, 25, 20, 10, 200};  // due on days 27, 24, 19, 9 and never
  for (int u = 0; u < 5; ++u) {
    const std::string unit = "K-" + std::to_string(u), order = "R-" + std::to_string(u);
    built.Unit(unit, -10);
    built.Order(order, -5, 0, lengths[u]);
    built.HandOver(unit, order, At(0));
  }
  const v1::Measure m = Only(built, Window(0, 30, "overdue-rate"), At(31));
  EXPECT_NEAR(m.value(), 80, 1e-9);
  EXPECT_EQ(m.parts(0).value(), 1);  // 3 days
  EXPECT_EQ(m.parts(1).value(), 1);  // 6 days
  EXPECT_EQ(m.parts(2).value(), 1);  // 11 days
  EXPECT_EQ(m.parts(3).value(), 1);  // 21 days
  EXPECT_EQ(m.parts(4).value(), 0);
}

TEST(Bench, FirstPassesFailedRepairsAndHours) {
  BuiltRecords built;
  built.Unit("K-1", -10);
  built.Order("R-1", -5, 0);
  built.HandOver("K-1", "R-1", At(0));
  built.PickUp("K-1", "R-1", At(10));
  built.Step("K-1", At(10, 15), v1::Fact::kReceivedBack, [](UnitStep& s) { s.place = "dock"; });
  built.Step("K-1", At(11), v1::Fact::kInspectionDone, [](UnitStep& s) {
    s.condition = v1::CONDITION_FAILED;
    s.run_s = 100 * 3600;
  });
  built.Step("K-1", At(12), v1::Fact::kRepairOpened, [](UnitStep&) {});
  built.Step("K-1", At(13), v1::Fact::kRepairClosed, [](UnitStep& s) { s.value = 1; });
  built.Step("K-1", At(14), v1::Fact::kInspectionDone, [](UnitStep& s) { s.value = 1; });
  built.Step("K-1", At(20), v1::Fact::kRepairOpened, [](UnitStep&) {});
  // The second inspection is a second look, not a first pass.
  EXPECT_EQ(Only(built, Window(0, 29, "first-pass-yield"), At(60)).value(), 0);
  EXPECT_EQ(Only(built, Window(0, 29, "first-pass-yield"), At(60)).case_count(), 1);
  EXPECT_EQ(Only(built, Window(0, 29, "no-fault-found"), At(60)).value(), 100);
  EXPECT_EQ(Only(built, Window(0, 29, "repeat-failure"), At(60)).value(), 100);
  EXPECT_EQ(Only(built, Window(0, 29, "hours-between-failures"), At(60)).value(), 50);
  // It was ready when it went out.
  EXPECT_EQ(Only(built, Window(0, 29, "chain-compliance"), At(60)).value(), 100);
}

TEST(Field, LateReturnsCountOpenRentals) {
  BuiltRecords built;
  for (int u = 0; u < 4; ++u) {
    const std::string unit = "K-" + std::to_string(u), order = "R-" + std::to_string(u);
    built.Unit(unit, -10);
    built.Order(order, -5, 0, 11);  // due on day 10
    built.HandOver(unit, order, At(0));
    if (u < 3) built.PickUp(unit, order, At(10 + 2 * u));
  }
  const v1::Measure odds = Only(built, Window(0, 20, "late-return-odds"), At(21));
  EXPECT_EQ(odds.case_count(), 4);
  EXPECT_EQ(odds.open_count(), 1);
  EXPECT_NEAR(odds.value(), 75, 1e-9);
  const v1::Measure days = Only(built, Window(0, 20, "days-to-pick-up"), At(21));
  EXPECT_NEAR(days.value(), 2, 1e-9);
}

TEST(SearchList, NamesTheMissingAndTheLongOverdue) {
  BuiltRecords built;
  built.Unit("K-1", -10, 400'000);
  built.Unit("K-2", -10, 300'000);
  built.Unit("K-3", -10);
  built.Order("R-1", -5, 0, 10);
  built.HandOver("K-1", "R-1", At(0));
  built.Step("K-2", At(5), v1::Fact::kUnitMissing,
             [](UnitStep& s) { s.custody = v1::CUSTODY_UNACCOUNTED; });
  const v1::Measure m = Only(built, Window(0, 60, "search-list"), At(61));
  EXPECT_EQ(m.value(), 2);
  ASSERT_EQ(m.records_size(), 2);
  EXPECT_THAT(m.records(0).text(), HasSubstr("overdue by"));
  EXPECT_THAT(m.records(0).text(), HasSubstr("odds"));
  EXPECT_EQ(m.parts(0).value(), 7000);
  EXPECT_EQ(Only(built, Window(0, 60, "loss-rate"), At(61)).numerator_value(), 1);
}

// Four orders for days 1 to 4 and one withdrawn in time: one set up on its day, one late, one not
// at all, one on a day that is not over. Common practice, no source: 2 of 3 were not met.
TEST(Demand, RequestsNotMetOnTheirDay) {
  BuiltRecords built;
  for (int i = 1; i <= 5; ++i) {
    const std::string name = std::to_string(i);
    built.Unit("K-" + name, -10);
    built.Order("R-" + name, -5, i);
  }
  built.HandOver("K-1", "R-1", At(1));
  built.HandOver("K-2", "R-2", At(3));
  built.OrderStepOn("R-5", At(2), v1::Fact::kOrderCancelled,
                    [](OrderStep& s) { s.status = v1::ORDER_STATUS_CANCELLED; });
  const v1::Measure m = Only(built, Window(0, 10, "requests-not-met"), At(4));
  EXPECT_EQ(m.numerator_value(), 2);
  EXPECT_EQ(m.denominator_value(), 3);
  EXPECT_NEAR(m.value(), 200.0 / 3, 1e-9);
  ASSERT_EQ(m.records_size(), 2);
  EXPECT_THAT(m.records(1).text(), HasSubstr("no unit yet"));
  // Cancelled after its day, the third was missed all the same.
  built.OrderStepOn("R-3", At(6), v1::Fact::kOrderCancelled,
                    [](OrderStep& s) { s.status = v1::ORDER_STATUS_CANCELLED; });
  EXPECT_EQ(Only(built, Window(0, 3, "requests-not-met"), At(8)).numerator_value(), 2);
}

// Two units, both out at the end of days 2 and 3, of five days: 40 %.
TEST(Demand, DaysWithAnEmptyShelf) {
  BuiltRecords built;
  for (const char* unit : {"K-1", "K-2"}) built.Unit(unit, -10);
  built.Order("R-1", -5, 0);
  built.Order("R-2", -5, 2);
  built.HandOver("K-1", "R-1", At(0));
  built.HandOver("K-2", "R-2", At(2));
  built.PickUp("K-1", "R-1", At(3));
  built.MakeReady("K-1", At(3, 15), At(4, 9), At(4, 10), At(4, 11));
  const v1::Measure m = Only(built, Window(0, 4, "days-without-ready"), At(6));
  EXPECT_NEAR(m.value(), 40, 1e-9);
  EXPECT_EQ(m.case_count(), 5);
  ASSERT_EQ(m.records_size(), 1);
  EXPECT_EQ(m.records(0).value(), 2);
}

// 90.00 and 30.00 over two turns are 60.00 a turn.
TEST(Demand, RepairCostIsSpreadOverTheTurns) {
  BuiltRecords built;
  for (const char* n : {"1", "2"}) {
    built.Unit(std::string("K-") + n, -10);
    built.Order(std::string("R-") + n, -5, 0);
    built.Rental(std::string("K-") + n, std::string("R-") + n, 0, 10, 12);
    built.Step(std::string("K-") + n, At(14), v1::Fact::kRepairClosed,
               [&](UnitStep& s) { s.of = n[0] == '1' ? 9000 : 3000; });
  }
  const v1::Measure m = Only(built, Window(0, 20, "repair-cost-per-turn"), At(21));
  EXPECT_NEAR(m.value(), 60, 1e-9);
  EXPECT_EQ(m.numerator_value(), 120);
  EXPECT_EQ(m.denominator_value(), 2);
}

TEST(MeasuresOfNothing, GiveNoFigureAndNoNaN) {
  BuiltRecords built;
  const auto response = Measures(built.AsOf(At(30)), Window(0, 29), At(30));
  ASSERT_TRUE(response.ok()) << response.status();
  EXPECT_GE(response->measures_size(), 20);
  for (const v1::Measure& m : response->measures()) {
    EXPECT_FALSE(m.has_value()) << m.measure();
    EXPECT_TRUE(std::isfinite(m.numerator_value()) && std::isfinite(m.denominator_value()));
    EXPECT_FALSE(m.text().empty());
    EXPECT_FALSE(m.formula().empty());
  }
}

TEST(MeasuresAsked, WrongNamesAndWindowsAreTold) {
  BuiltRecords built;
  const Records& records = built.AsOf(At(30));
  EXPECT_EQ(Measures(records, Window(0, 29, "speed"), At(30)).status().code(),
            absl::StatusCode::kNotFound);
  EXPECT_THAT(std::string(Measures(records, Window(0, 29, "speed"), At(30)).status().message()),
              HasSubstr("time-utilisation"));
  EXPECT_EQ(Measures(records, Window(29, 0), At(30)).status().code(),
            absl::StatusCode::kInvalidArgument);
  EXPECT_EQ(Measures(records, Window(40, 50), At(30)).status().code(),
            absl::StatusCode::kInvalidArgument);
  v1::ReportMeasuresRequest request = Window(0, 29);
  request.set_branch("nowhere");
  EXPECT_EQ(Measures(records, request, At(30)).status().code(), absl::StatusCode::kNotFound);
}

}  // namespace
}  // namespace ferrule::outlook
