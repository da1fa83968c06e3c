// The day ledgers of 100,000 rentals, against copying the answers that they give.
#include "core/cover/day_ledger.h"

#include <random>
#include <string>
#include <vector>

#include "core/time/civil.h"
#include "google/protobuf/text_format.h"
#include "tests/bench/benches.h"
#include "tests/bench/process.h"

namespace ferrule::bench {
namespace {

constexpr int kRentals = 100'000;
constexpr int64_t kHourUs = 3'600'000'000;

depot::Rules MakeRules() {
  v1::Settings settings;
  const bool parsed = google::protobuf::TextFormat::ParseFromString(
      R"(version: 'bench' branches { id: 'north' time_zone: 'America/New_York' }
         payer_terms { id: 'payer' rules { home_only: true amount_minor: 2500
           readings { id: 'day-0' anchor: COVER_ANCHOR_SURGERY length_days: 21
             start { anchor: COVER_ANCHOR_SURGERY measure: WINDOW_MEASURE_CALENDAR_DAYS most: 2 } }
           readings { id: 'day-1' anchor: COVER_ANCHOR_SURGERY anchor_day_number: 1
             length_days: 21 } } })",
      &settings);
  if (!parsed) GiveUp("the bench's settings cannot be read");
  return depot::Rules(std::move(settings));
}

void Put(int64_t us, absl::TimeZone zone, v1::Stamp* stamp, google::type::Date* date) {
  time::SetMicros(us, stamp->mutable_time());
  *date = time::FromDay(time::LocalDay(us, zone));
}

// A rental of two to five weeks with its operation, discharge and use; one in eight with a stay in
// a hospital, one in ten with an exchange.
v1::OrderState MakeRental(int number, absl::TimeZone zone, std::mt19937_64* random) {
  const auto below = [random](uint64_t n) { return static_cast<int64_t>((*random)() % n); };
  v1::OrderState order;
  order.set_order("R-" + std::to_string(number));
  v1::OrderDetails& details = *order.mutable_details();
  details.set_patient("P-" + std::to_string(number));
  details.set_branch("north");
  details.set_device_class("knee");
  details.set_side(number % 2 == 0 ? v1::SIDE_LEFT : v1::SIDE_RIGHT);
  details.set_length_of_need_days(28);
  order.add_payers()->set_payer("payer");
  const absl::CivilDay surgery = absl::CivilDay(2024, 1, 1) + below(700);
  *details.mutable_surgery_date() = time::FromDay(surgery);
  const int64_t home_us = time::StartOfDayMicros(surgery + 2, zone) + 11 * kHourUs;
  v1::PatientStay* stay = order.add_stays();
  stay->set_stay(v1::STAY_HOME);
  Put(home_us, zone, stay->mutable_noted(), stay->mutable_from_date());
  v1::UsePoint* use = order.add_uses();
  use->set_change(v1::USE_CHANGE_STARTED);
  Put(home_us - 20 * kHourUs, zone, use->mutable_noted(), use->mutable_date());
  const int64_t end_us = home_us + (14 * 24 + below(21 * 24)) * kHourUs;
  v1::RentalLeg* leg = order.add_legs();
  leg->set_unit("K-1");
  Put(home_us + kHourUs, zone, leg->mutable_from(), leg->mutable_from_date());
  *order.mutable_handed_over() = leg->from();
  *order.mutable_handed_over_date() = leg->from_date();
  if (number % 10 == 0) {
    Put(home_us + 5 * 24 * kHourUs, zone, leg->mutable_to(), leg->mutable_to_date());
    v1::RentalLeg* next = order.add_legs();
    next->set_unit("K-2");
    *next->mutable_from() = order.legs(0).to();
    *next->mutable_from_date() = order.legs(0).to_date();
    leg = next;
  }
  Put(end_us, zone, leg->mutable_to(), leg->mutable_to_date());
  if (number % 8 == 0) {
    for (const auto& [where, days] :
         {std::pair(v1::STAY_HOSPITAL, 6), std::pair(v1::STAY_HOME, 9)}) {
      v1::PatientStay* more = order.add_stays();
      more->set_stay(where);
      Put(home_us + days * 24 * kHourUs, zone, more->mutable_noted(), more->mutable_from_date());
    }
  }
  return order;
}

}  // namespace

void DayLedgers(const Options& options, Report* report) {
  const depot::Rules rules = MakeRules();
  const absl::TimeZone zone = rules.ZoneOf("north");
  std::mt19937_64 random(7);
  std::vector<v1::OrderState> rentals;
  rentals.reserve(kRentals);
  for (int i = 0; i < kRentals; ++i) rentals.push_back(MakeRental(i, zone, &random));
  const cover::Until until{absl::CivilDay(2027, 1, 1), 0};
  std::vector<v1::DayLedger> answers(kRentals);
  int64_t days = 0;
  const double count_s = MedianOf(options, [&] {
    const Stopwatch watch;
    days = 0;
    for (int i = 0; i < kRentals; ++i) {
      answers[static_cast<size_t>(i)] =
          cover::CountDays(rentals[static_cast<size_t>(i)], rules, 0, until);
      days += answers[static_cast<size_t>(i)].days_size();
    }
    return watch.Seconds();
  });
  const double copy_s = MedianOf(options, [&] {
    const Stopwatch watch;
    std::vector<v1::DayLedger> copies(kRentals);
    for (size_t i = 0; i < copies.size(); ++i) copies[i] = answers[i];
    return watch.Seconds();
  });
  report->Put("day_ledgers", "rentals", kRentals);
  report->Put("day_ledgers", "days", days);
  report->PutAgainst("day_ledgers", "count_s", count_s, "copying the same answers", copy_s, false);
}

}  // namespace ferrule::bench
