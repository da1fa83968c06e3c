// Tests core/board/rentals_seen.cc.
#include "core/board/rentals_seen.h"

#include <gtest/gtest.h>

#include "core/time/civil.h"
#include "google/protobuf/text_format.h"
#include "tests/core/cover/spec.h"

namespace ferrule::board {
namespace {

class RentalsSeen : public ::testing::Test {
 protected:
  // An order with a rental out of a line of tests/core/cover/spec.h; papers, authorisations and the
  // pick-up are noted at the days given, in their order.
  v1::OrderState Order(const std::string& line) {
    testing::Rental rental = testing::RentalOf("zone=Europe/Berlin payer=none " + line);
    v1::SettingsState state;
    v1::SettingsVersion& version = *state.add_versions();
    *version.mutable_settings() = rental.settings;
    book_ = depot::SettingsBook(state);
    return rental.order;
  }
  static v1::Stamp On(const std::string& day) {
    v1::Stamp stamp;
    time::SetMicros(time::ParseInstant(day + " 12:00", time::Zone("Europe/Berlin").value()).value(),
                    stamp.mutable_time());
    return stamp;
  }
  static int64_t Day(const std::string& day) {
    return time::DayNumber(time::ParseDay(day).value());
  }

  depot::SettingsBook book_;
};

TEST_F(RentalsSeen, TheDueDayIsThePolicysAsItWasKnown) {
  v1::OrderState order = Order(
      "lon=21 leg=K-1/2026-05-04T10:00/2026-06-03T10:00 auth=2026-05-04:2026-05-20:17 "
      "extension=2026-05-25:2026-05-31");
  *order.mutable_authorisations(0)->mutable_noted() = On("2026-05-06");
  *order.mutable_papers(0)->mutable_noted() = On("2026-05-23");
  order.set_status(v1::ORDER_STATUS_CLOSED);
  *order.mutable_pickup_agreed() = On("2026-05-30");
  *order.mutable_pickup_date() = time::FromDay(time::ParseDay("2026-06-02").value());
  const auto rental = RentalOf(order, book_);
  ASSERT_TRUE(rental);
  EXPECT_EQ(rental->start, Day("2026-05-04"));
  EXPECT_EQ(rental->returned, Day("2026-06-03"));
  // The prescription's end, then the authorisation's, which an extension does not move; with no
  // policy in the settings the earliest end is due, an agreed pick-up among them.
  ASSERT_EQ(rental->dues.size(), 2u);
  EXPECT_EQ(rental->dues[0].known_from, Day("2026-05-04"));
  EXPECT_EQ(rental->dues[0].due, Day("2026-05-24"));
  EXPECT_EQ(rental->dues[1].known_from, Day("2026-05-06"));
  EXPECT_EQ(rental->dues[1].due, Day("2026-05-20"));
}

TEST_F(RentalsSeen, AnExtensionAndAnAgreedPickupCountFromWhenTheyWereNoted) {
  v1::OrderState order = Order("lon=21 leg=K-1/2026-05-04T10:00/ extension=2026-05-25:2026-05-31");
  *order.mutable_papers(0)->mutable_noted() = On("2026-05-23");
  order.set_status(v1::ORDER_STATUS_ON_RENT);
  *order.mutable_pickup_agreed() = On("2026-05-28");
  *order.mutable_pickup_date() = time::FromDay(time::ParseDay("2026-05-30").value());
  const auto rental = RentalOf(order, book_);
  ASSERT_TRUE(rental);
  EXPECT_FALSE(rental->returned);
  ASSERT_EQ(rental->dues.size(), 3u);
  EXPECT_EQ(rental->dues[0].due, Day("2026-05-24"));
  EXPECT_EQ(rental->dues[1].known_from, Day("2026-05-23"));
  EXPECT_EQ(rental->dues[1].due, Day("2026-05-31"));
  EXPECT_FALSE(rental->dues[1].agreed);
  EXPECT_EQ(rental->dues[2].known_from, Day("2026-05-28"));
  EXPECT_EQ(rental->dues[2].due, Day("2026-05-30"));
  EXPECT_TRUE(rental->dues[2].agreed);
}

// An extension moves the authorisation's end that the order says; before it the earlier end was
// due.
TEST_F(RentalsSeen, EndsThatTheOrderSaidEarlierCountUntilTheyWereChanged) {
  v1::OrderState order =
      Order("lon=21 leg=K-1/2026-05-04T10:00/2026-06-03T10:00 extension=2026-05-25:2026-05-31");
  *order.mutable_papers(0)->mutable_noted() = On("2026-05-18");
  *order.mutable_extended() = On("2026-05-18");
  order.set_status(v1::ORDER_STATUS_CLOSED);
  const auto date = [](const std::string& day) {
    return time::FromDay(time::ParseDay(day).value());
  };
  EXPECT_FALSE(NeedsSaidEnds(order));
  *order.mutable_details()->mutable_authorisation_end_date() = date("2026-05-31");
  EXPECT_TRUE(NeedsSaidEnds(order));
  const std::vector<SaidEnds> said = {{Day("2026-04-20"), date("2026-05-20"), {}},
                                      {Day("2026-05-18"), date("2026-05-31"), {}}};
  const auto rental = RentalOf(order, book_, said);
  ASSERT_TRUE(rental);
  ASSERT_EQ(rental->dues.size(), 2u);
  EXPECT_EQ(rental->dues[0].due, Day("2026-05-20"));
  EXPECT_EQ(rental->dues[1].known_from, Day("2026-05-18"));
  EXPECT_EQ(rental->dues[1].due, Day("2026-05-31"));
}

TEST_F(RentalsSeen, WhatAnOrderSaidIsToldByItsFacts) {
  v1::Entry entry;
  const auto add = [&](const std::string& text) {
    ASSERT_TRUE(google::protobuf::TextFormat::ParseFromString(text, entry.add_facts()));
  };
  add("order_changed { order: 'R-1' details { authorisation_end_date { year: 2026 month: 6 day: 9 "
      "} } }");
  add("order_taken { order: 'R-1' details { authorisation_end_date { year: 2026 month: 6 day: 1 } "
      "cover_end_date { year: 2026 month: 6 day: 4 } } }");
  add("order_extended { order: 'R-1' }");
  std::vector<fact::FactView> views(3);
  for (int i = 0; i < 3; ++i) {
    views[static_cast<size_t>(i)].entry = &entry;
    views[static_cast<size_t>(i)].index = i;
  }
  const int64_t day_us = 86'400'000'000;
  views[0].happened_us = 20 * day_us;
  views[1].happened_us = 10 * day_us;
  views[2].happened_us = 20 * day_us;
  const std::vector<SaidEnds> said = SaidEndsOf(views, absl::UTCTimeZone());
  ASSERT_EQ(said.size(), 2u);
  EXPECT_EQ(said[0].day, 10);
  EXPECT_EQ(said[0].authorisation_end->day(), 1);
  EXPECT_EQ(said[1].day, 20);
  EXPECT_EQ(said[1].authorisation_end->day(), 9);
  EXPECT_EQ(said[1].cover_end->day(), 4) << "not said again, so it stands";
}

TEST_F(RentalsSeen, WithoutAHandOverOrADueDayThereIsNothingToLearn) {
  EXPECT_FALSE(RentalOf(Order("lon=21"), book_));
  EXPECT_FALSE(RentalOf(Order("leg=K-1/2026-05-04T10:00/2026-06-03T10:00"), book_));
}

}  // namespace
}  // namespace ferrule::board
