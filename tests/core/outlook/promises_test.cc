// Tests core/outlook/measures_promise.cc, core/outlook/measures_home.cc,
//   core/outlook/measures_money.cc, and of core/outlook/measures_bench.cc planned service.
#include "core/outlook/figure.h"
#include "gmock/gmock.h"
#include "tests/core/outlook/ask_measures.h"

namespace ferrule::outlook {
namespace {

using ::testing::HasSubstr;

void Promise(BuiltRecords* built, const std::string& order, int64_t at_day, int64_t first_day,
             int64_t odds) {
  built->OrderStepOn(order, At(at_day), v1::Fact::kUnitPromised, [&](OrderStep& s) {
    s.value = odds;
    s.of_day = kDay0 + first_day;
  });
}

// Five promises for day 5: one kept, one late, one of an order cancelled and one of an order moved
// before, one put off by a new promise for day 8, which was kept.
TEST(Promises, AreJudgedByTheDayThatStood) {
  BuiltRecords built;
  for (int i = 1; i <= 5; ++i) {
    const std::string n = std::to_string(i);
    built.Unit("K-" + n, -10);
    built.Order("R-" + n, -5, 5);
    Promise(&built, "R-" + n, -4, 5, i == 1 ? 990 : 700);
  }
  built.HandOver("K-1", "R-1", At(5));
  built.HandOver("K-2", "R-2", At(6));
  built.OrderStepOn("R-3", At(2), v1::Fact::kOrderCancelled,
                    [](OrderStep& s) { s.status = v1::ORDER_STATUS_CANCELLED; });
  built.OrderStepOn("R-4", At(2), v1::Fact::kOrderChanged,
                    [](OrderStep& s) { s.needed_day = s.surgery_day = kDay0 + 30; });
  Promise(&built, "R-5", 3, 8, 960);
  built.HandOver("K-5", "R-5", At(8));
  const v1::Measure m = Only(built, Window(0, 20, "promise-kept"), At(21));
  EXPECT_EQ(m.numerator_value(), 2);
  EXPECT_EQ(m.denominator_value(), 3);
  ASSERT_EQ(m.records_size(), 1);
  EXPECT_EQ(m.records(0).name(), "orders/R-2");
  EXPECT_THAT(m.records(0).text(), HasSubstr("70.0 %"));
  ASSERT_EQ(m.parts_size(), 2);
  EXPECT_EQ(m.parts(0).value(), 0);    // told 70 %
  EXPECT_EQ(m.parts(1).value(), 100);  // told 99 % and 96 %
  // A day that is not over is not judged yet.
  EXPECT_EQ(Only(built, Window(0, 20, "promise-kept"), At(5)).denominator_value(), 0);
}

TEST(Promises, RefusedOnesCountEachOrderOnce) {
  BuiltRecords built;
  for (const char* order : {"R-1", "R-2", "R-3"}) built.Order(order, -5, 5);
  for (int64_t day : {-4, -3}) {
    built.OrderStepOn("R-1", At(day), v1::Fact::kPromiseRefused,
                      [](OrderStep& s) { s.of_day = kDay0 + 5; });
  }
  Promise(&built, "R-1", -2, 6, 900);
  Promise(&built, "R-2", -2, 5, 900);
  const v1::Measure m = Only(built, Window(0, 20, "promises-refused"), At(21));
  EXPECT_EQ(m.numerator_value(), 1);
  EXPECT_EQ(m.denominator_value(), 2);
  EXPECT_EQ(m.record_count(), 1);
}

// Needed on day 2: one set up on day 2, one on day 5 (3 days), one cancelled on day 4 (2 days), one
// still waiting on day 10 (8 days).
TEST(UnitDaysShort, AreCountedToTheEndOfTheWait) {
  BuiltRecords built;
  for (int i = 1; i <= 4; ++i) {
    built.Unit("K-" + std::to_string(i), -10);
    built.Order("R-" + std::to_string(i), -5, 2);
  }
  built.HandOver("K-1", "R-1", At(2));
  built.HandOver("K-2", "R-2", At(5));
  built.OrderStepOn("R-3", At(4), v1::Fact::kOrderCancelled,
                    [](OrderStep& s) { s.status = v1::ORDER_STATUS_CANCELLED; });
  const v1::Measure m = Only(built, Window(0, 20, "unit-days-short"), At(10));
  EXPECT_EQ(m.value(), 13);
  EXPECT_EQ(m.open_count(), 1);
  EXPECT_EQ(m.record_count(), 3);
  EXPECT_EQ(Only(built, Window(4, 6, "unit-days-short"), At(10)).value(), 4);
}

TEST(ForecastError, OpensToTheForecastsThatWereKept) {
  BuiltRecords built;
  FillSteady(&built, 400, 16);
  v1::ForecastNoted noted;
  noted.set_branch("north");
  *noted.mutable_as_of_date() = time::FromDay(time::DayFromNumber(kDay0 + 350));
  v1::ClassForecastNoted& c = *noted.add_classes();
  c.set_device_class("knee");
  for (int d = 0; d < 80; ++d) c.add_days()->set_median(0);
  built.records.diary.push_back(noted);
  built.records.diary_facts.push_back({7, 0});
  // Nothing was forecast, so everything that came is error.
  const v1::Measure m = Only(built, Window(340, 380, "forecast-error"), At(400));
  EXPECT_EQ(m.case_count(), 30);
  EXPECT_NEAR(m.value(), 100, 1e-9);
  ASSERT_EQ(m.records_size(), 1);
  EXPECT_EQ(m.records(0).value(), m.numerator_value());
  EXPECT_EQ(m.records(0).stamp().fact().entry_id(), "7");
  EXPECT_EQ(Only(built, Window(0, 100, "forecast-error"), At(400)).case_count(), 0);
}

// 210.00 for 21 days of which 11 lie in the window; 4 of these are corrected to 5.00 a day: 90.00.
TEST(Billing, CorrectionsTakeThePlaceOfWhatWasBilled) {
  BuiltRecords built;
  built.Unit("K-1", -10, 100'000);
  built.Order("R-1", -5, 0);
  const auto bill = [&](int64_t at, int64_t first, int64_t last, int64_t minor, bool correction) {
    built.OrderStepOn("R-1", At(at), v1::Fact::kDaysBilled, [&](OrderStep& s) {
      s.billing = Billing{kDay0 + first, kDay0 + last, minor, correction};
    });
  };
  bill(21, 0, 20, 21'000, false);
  bill(25, 10, 13, 2'000, true);
  EXPECT_NEAR(BilledMinor(built.OrderOf("R-1"), kDay0 + 10, kDay0 + 30), 9'000, 1e-6);
  EXPECT_NEAR(BilledMinor(built.OrderOf("R-1"), kDay0, kDay0 + 20), 19'000, 1e-6);
  // 190.00 in 21 days with 1,000.00 of fleet: 190 x 365 / 21,000.
  const v1::Measure m = Only(built, Window(0, 20, "financial-utilisation"), At(30));
  EXPECT_NEAR(m.value(), 100 * 190.0 * 365 / 21'000, 1e-6);
  EXPECT_EQ(m.record_count(), 1);
}

TEST(Billing, EndedRentalsWithoutABillAreNamed) {
  BuiltRecords built;
  for (const char* n : {"1", "2", "3"}) {
    built.Unit(std::string("K-") + n, -10);
    built.Order(std::string("R-") + n, -5, 0);
    built.HandOver(std::string("K-") + n, std::string("R-") + n, At(0));
  }
  built.PickUp("K-1", "R-1", At(10));
  built.PickUp("K-2", "R-2", At(11));
  EXPECT_THAT(Only(built, Window(0, 20, "unbilled-rentals"), At(21)).missing(),
              HasSubstr("no bill was ever noted"));
  built.OrderStepOn("R-1", At(15), v1::Fact::kDaysBilled, [](OrderStep& s) {
    s.billing = Billing{kDay0, kDay0 + 9, 9'000, false};
  });
  const v1::Measure m = Only(built, Window(0, 20, "unbilled-rentals"), At(21));
  EXPECT_EQ(m.numerator_value(), 1);
  EXPECT_EQ(m.denominator_value(), 2);
  EXPECT_EQ(m.records(0).name(), "orders/R-2");
}

// 30 h of 40 h; an order that does not say how long, and a reading outside the window.
TEST(Home, UseIsComparedWithThePrescription) {
  BuiltRecords built;
  for (const char* order : {"R-1", "R-2"}) built.Order(order, -5, 0);
  OrderRecord& order = built.OrderOf("R-1");
  order.prescribed_daily_s = 4 * 3600;
  order.doubtful_readings = 1;
  order.use = {{kDay0 + 10, 10, 30 * 3600}, {kDay0 + 30, 20, 10 * 3600}};
  built.OrderOf("R-2").use = {{kDay0 + 10, 5, 3600}};
  const v1::Measure m = Only(built, Window(0, 20, "usage-adherence"), At(21));
  EXPECT_NEAR(m.value(), 75, 1e-9);
  EXPECT_EQ(m.case_count(), 1);
  EXPECT_THAT(m.missing(), HasSubstr("1 reading in doubt is set aside"));
  EXPECT_THAT(m.missing(), HasSubstr("1 order does not say"));
}

// The first ticket counts: cured later, it was not right the first time.
TEST(Home, DeliveriesAreProvedByTheFirstTicket) {
  BuiltRecords built;
  for (int i = 1; i <= 3; ++i) {
    const std::string n = std::to_string(i);
    built.Unit("K-" + n, -10);
    built.Order("R-" + n, -5, 0);
    built.HandOver("K-" + n, "R-" + n, At(0));
  }
  const auto ticket = [&](const std::string& order, int64_t day, int64_t proved) {
    built.OrderStepOn(order, At(day), v1::Fact::kTicketReturned,
                      [&](OrderStep& s) { s.value = proved; });
  };
  ticket("R-1", 1, 1);
  ticket("R-2", 1, 0);
  ticket("R-2", 4, 1);
  const v1::Measure m = Only(built, Window(0, 20, "delivery-proved"), At(21));
  EXPECT_EQ(m.numerator_value(), 1);
  EXPECT_EQ(m.denominator_value(), 3);
  EXPECT_EQ(m.open_count(), 1);
  EXPECT_EQ(m.record_count(), 2);
}

// Calls settled after 2, 4 and 30 hours: the median is 4 hours. One that the pick-up ended was not
// settled, and one outside of the window does not count.
TEST(Home, BreakdownsAreCountedFromTheCall) {
  BuiltRecords built;
  for (int i = 1; i <= 5; ++i) {
    const std::string n = std::to_string(i);
    built.Unit("K-" + n, -10);
    built.Order("R-" + n, -5, 0);
    built.HandOver("K-" + n, "R-" + n, At(0));
  }
  const auto nothing = [](OrderStep&) {};
  const auto call = [&](const std::string& order, int64_t day, double hour) {
    built.OrderStepOn(order, At(day, hour), v1::Fact::kBreakdownReported, nothing);
  };
  call("R-1", 1, 8);
  built.OrderStepOn("R-1", At(1, 9), v1::Fact::kBreakdownReported, nothing);
  built.OrderStepOn("R-1", At(1, 10), v1::Fact::kBreakdownSettled, nothing);
  call("R-2", 2, 8);
  built.OrderStepOn("R-2", At(2, 12), v1::Fact::kExchanged, nothing);
  call("R-3", 3, 8);
  built.OrderStepOn("R-3", At(4, 14), v1::Fact::kBreakdownSettled, nothing);
  call("R-4", 5, 8);
  built.OrderStepOn("R-4", At(7, 8), v1::Fact::kPickedUp,
                    [](OrderStep& s) { s.status = v1::ORDER_STATUS_CLOSED; });
  call("R-5", 25, 8);
  const v1::Measure m = Only(built, Window(0, 20, "breakdown-response"), At(26));
  EXPECT_EQ(m.case_count(), 4);
  EXPECT_EQ(m.open_count(), 1);
  EXPECT_NEAR(m.value(), 4, 1e-9);
  EXPECT_EQ(m.record_count(), 4);
}

// Answers after 1, 2 and 9 days and one open for 11: half are answered after 2 days.
TEST(Home, ComplaintsAreCountedToTheirFirstAnswer) {
  BuiltRecords built;
  const auto complain = [&](const std::string& number, int64_t day, int64_t answered) {
    built.records.complaints.push_back({number,
                                        "north",
                                        At(day),
                                        answered < 0 ? kNever : At(answered),
                                        false,
                                        {++built.records.sequence, 0}});
  };
  complain("B-1", 0, 1);
  complain("B-2", 1, 3);
  complain("B-3", 2, 11);
  complain("B-4", 10, -1);
  complain("B-5", 40, 41);
  built.records.complaints.push_back(
      {"B-6", "north", At(3), kNever, true, {++built.records.sequence, 0}});
  const v1::Measure m = Only(built, Window(0, 20, "complaint-response"), At(21));
  EXPECT_EQ(m.case_count(), 4);
  EXPECT_EQ(m.open_count(), 1);
  EXPECT_NEAR(m.value(), 2, 1e-9);
  ASSERT_EQ(m.parts_size(), 2);  // the curve does not come down to 90 %
  EXPECT_EQ(m.parts(1).value(), 1);
}

// Two done in time, one late, and one overdue now that stays in the denominator: 2 of 4.
TEST(Service, OverdueUnitsStayInTheDenominator) {
  BuiltRecords built;
  for (int i = 1; i <= 4; ++i) built.Unit("K-" + std::to_string(i), -10);
  for (int i = 1; i <= 3; ++i) {
    built.Step("K-" + std::to_string(i), At(5), v1::Fact::kServiceDone,
               [&](UnitStep& s) { s.value = i == 3 ? 0 : 1; });
  }
  built.UnitOf("K-4").service_overdue = true;
  const v1::Measure m = Only(built, Window(0, 20, "service-on-time"), At(21));
  EXPECT_NEAR(m.value(), 50, 1e-9);
  EXPECT_EQ(m.open_count(), 1);
  EXPECT_EQ(m.record_count(), 2);
}

}  // namespace
}  // namespace ferrule::outlook
