#include "core/outlook/planner_input.h"

#include "gtest/gtest.h"
#include "tests/core/outlook/built_records.h"

namespace ferrule::outlook {
namespace {

const BranchInput& North(const std::vector<BranchInput>& inputs) {
  for (const BranchInput& input : inputs)
    if (input.branch == "north") return input;
  std::abort();
}

TEST(PlannerInput, AnOrderIsABookingWithTheUseThatCameOfIt) {
  BuiltRecords built;
  built.Unit("K-1", 0);
  built.Order("R-1", 1, 5, 14);
  built.Rental("K-1", "R-1", 6, 22, 24);
  const auto inputs = PlannerInput(built.AsOf(At(30)), At(30));
  const BranchInput& north = North(inputs);
  EXPECT_EQ(north.input.now, kDay0 + 30);
  ASSERT_EQ(north.input.bookings.size(), 1u);
  const plan::Booking& b = north.input.bookings[0];
  EXPECT_EQ(b.booked, kDay0 + 1);
  EXPECT_EQ(b.surgery, kDay0 + 5);
  EXPECT_EQ(b.start, kDay0 + 6);
  EXPECT_EQ(b.returned, kDay0 + 22);
  EXPECT_EQ(b.ready, kDay0 + 24);
  EXPECT_EQ(b.changed, plan::kNotYet);
  EXPECT_EQ(b.prescribed_days, 14);
  EXPECT_EQ(north.sources[0].unit, "K-1");
  EXPECT_EQ(north.fleets[0].units, 1);
  EXPECT_EQ(north.fleets[0].ready, 1);
}

TEST(PlannerInput, AMovedOperationIsTwoBookingsOfWhichTheFirstChanged) {
  BuiltRecords built;
  built.Order("R-1", 1, 20);
  built.OrderStepOn("R-1", At(8), v1::Fact::kOrderChanged,
                    [](OrderStep& s) { s.surgery_day = kDay0 + 27; });
  built.OrderStepOn("R-1", At(9), v1::Fact::kOrderChanged,
                    [](OrderStep& s) { s.length_days = 28; });  // moves nothing
  const auto inputs = PlannerInput(built.AsOf(At(10)), At(10));
  const auto& bookings = North(inputs).input.bookings;
  ASSERT_EQ(bookings.size(), 2u);
  EXPECT_EQ(bookings[0].surgery, kDay0 + 20);
  EXPECT_EQ(bookings[0].changed, kDay0 + 8);
  EXPECT_EQ(bookings[1].surgery, kDay0 + 27);
  EXPECT_EQ(bookings[1].booked, kDay0 + 8);
  EXPECT_EQ(bookings[1].changed, plan::kNotYet);
  EXPECT_NE(bookings[0].id, bookings[1].id);
}

TEST(PlannerInput, ACancelledOrderChangedAndATurnedAwayOneIsDemand) {
  BuiltRecords built;
  for (const char* order : {"R-1", "R-2"}) built.Order(order, 1, 20);
  built.OrderStepOn("R-2", At(15), v1::Fact::kPromiseRefused, [](OrderStep&) {});
  for (const char* order : {"R-1", "R-2"}) {
    built.OrderStepOn(order, At(16), v1::Fact::kOrderCancelled,
                      [](OrderStep& s) { s.status = v1::ORDER_STATUS_CANCELLED; });
  }
  const auto inputs = PlannerInput(built.AsOf(At(30)), At(30));
  const BranchInput& north = North(inputs);
  ASSERT_EQ(north.input.bookings.size(), 2u);
  EXPECT_FALSE(north.input.bookings[0].refused);
  EXPECT_EQ(north.input.bookings[0].changed, kDay0 + 16);
  EXPECT_TRUE(north.input.bookings[1].refused);
  EXPECT_EQ(north.refused[0], 1);
}

TEST(PlannerInput, WhoWaitedLongAfterTheDayWentElsewhere) {
  BuiltRecords built;
  built.Order("R-1", 1, 20);
  built.OrderStepOn("R-1", At(15), v1::Fact::kWaitingNoted, [](OrderStep&) {});
  const auto soon = PlannerInput(built.AsOf(At(30)), At(30));
  EXPECT_FALSE(North(soon).input.bookings[0].refused);
  const auto late = PlannerInput(built.AsOf(At(60)), At(60));
  EXPECT_TRUE(North(late).input.bookings[0].refused);
}

TEST(PlannerInput, AnExchangeIsAFurtherUseAtOnce) {
  BuiltRecords built;
  built.Unit("K-1", 0);
  built.Unit("K-2", 0);
  built.Order("R-1", 1, 5, 21);
  built.HandOver("K-1", "R-1", At(5));
  built.Step("K-1", At(12), v1::Fact::kExchanged, [](UnitStep& s) {
    s.custody = v1::CUSTODY_PLACE;
    s.place = "van";
    s.order.clear();
  });
  built.Step("K-2", At(12), v1::Fact::kExchanged, [](UnitStep& s) {
    s.custody = v1::CUSTODY_HOME;
    s.order = "R-1";
    s.ready = false;
  });
  const auto inputs = PlannerInput(built.AsOf(At(15)), At(15));
  const auto& bookings = North(inputs).input.bookings;
  ASSERT_EQ(bookings.size(), 2u);
  EXPECT_EQ(bookings[0].returned, kDay0 + 12);
  EXPECT_TRUE(bookings[1].exchange);
  EXPECT_EQ(bookings[1].booked, kDay0 + 12);
  EXPECT_EQ(bookings[1].start, kDay0 + 12);
  EXPECT_EQ(bookings[1].prescribed_days, 14);  // what is left of 21
}

TEST(PlannerInput, AHeldUnitIsInTheFleetButNotLendable) {
  BuiltRecords built;
  built.Unit("K-1", 0);
  built.Unit("K-2", 0);
  built.Step("K-2", At(3), v1::Fact::kHoldPlaced, [](UnitStep& s) {
    s.held = true;
    s.ready = false;
  });
  built.Unit("K-3", 0);
  built.Step("K-3", At(3), v1::Fact::kUnitWrittenOff,
             [](UnitStep& s) { s.custody = v1::CUSTODY_LEFT_FLEET; });
  const auto inputs = PlannerInput(built.AsOf(At(5)), At(5));
  EXPECT_EQ(North(inputs).fleets[0].units, 2);
  EXPECT_EQ(North(inputs).fleets[0].held, 1);
}

TEST(PlannerInput, TheLatestForecastOfTheDiaryNamesTheIncumbents) {
  BuiltRecords built;
  const auto note = [&](int64_t day, const std::string& knee) {
    v1::ForecastNoted noted;
    noted.set_branch("north");
    *noted.mutable_as_of_date() = time::FromDay(time::DayFromNumber(kDay0 + day));
    v1::ClassForecastNoted* c = noted.add_classes();
    c->set_device_class("knee");
    c->set_basis(knee);
    built.records.diary.push_back(noted);
  };
  EXPECT_TRUE(North(PlannerInput(built.AsOf(At(30)), At(30))).input.incumbents.empty());
  note(20, "orders; weekly level by tsb: scaled pinball loss 0.2");
  note(10, "orders; weekly level by croston: scaled pinball loss 0.2");
  auto inputs = PlannerInput(built.AsOf(At(30)), At(30));
  ASSERT_EQ(North(inputs).classes[0], "knee");
  EXPECT_EQ(North(inputs).input.incumbents[0], plan::Method::kTsb);
  EXPECT_EQ(North(inputs).input.incumbents[1], plan::Method::kCalendar);
  note(25, "as an older program said it");
  inputs = PlannerInput(built.AsOf(At(30)), At(30));
  EXPECT_EQ(North(inputs).input.incumbents[0], plan::Method::kCalendar);
}

TEST(PastUses, CountAtTheEndOfEachDay) {
  BuiltRecords built;
  built.Unit("K-1", 0);
  built.Unit("K-2", 3);
  built.Order("R-1", 1, 5, 14);
  built.Rental("K-1", "R-1", 5, 8, 10);
  const PastUses uses(built.AsOf(At(20)), kDay0 + 2, kDay0 + 12);
  const PastUse& use = uses.Of("north", "knee");
  EXPECT_EQ(use.in_use, (std::vector<int>{0, 0, 0, 1, 1, 1, 1, 1, 0, 0, 0}));
  EXPECT_EQ(use.fleet, (std::vector<int>{1, 2, 2, 2, 2, 2, 2, 2, 2, 2, 2}));
  EXPECT_EQ(uses.Of("west", "knee").in_use, std::vector<int>(11, 0));
}

}  // namespace
}  // namespace ferrule::outlook
