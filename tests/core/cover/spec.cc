#include "tests/core/cover/spec.h"

#include <map>
#include <stdexcept>
#include <vector>

#include "absl/strings/numbers.h"
#include "absl/strings/str_cat.h"
#include "absl/strings/str_split.h"
#include "core/time/civil.h"

namespace ferrule::testing {
namespace {

using Parts = std::vector<std::string>;

class Reader {
 public:
  explicit Reader(Rental* out) : out_(*out), order_(out->order) {}

  void Read(const std::string& line) {
    const Parts words = absl::StrSplit(line, ' ', absl::SkipEmpty());
    for (const std::string& word : words) {
      const size_t equals = word.find('=');
      if (equals == std::string::npos) throw std::invalid_argument("no value: " + word);
      values_.emplace_back(word.substr(0, equals), word.substr(equals + 1));
      if (values_.back().first == "zone") out_.zone = Zone(values_.back().second);
    }
    Begin();
    for (const auto& [key, value] : values_) Put(key, value);
    if (has_payer_ && has_other_) {
      v1::PayerTerms& other = *out_.settings.add_payer_terms();
      other = out_.settings.payer_terms(0);
      other.set_id("other");
      v1::CoverRule& rule = *other.mutable_rules(0);
      while (rule.readings_size() > 1) rule.mutable_readings()->RemoveLast();
    }
  }

 private:
  static absl::TimeZone Zone(const std::string& name) { return time::Zone(name).value(); }
  static int Whole(const std::string& text) {
    int value = 0;
    if (!absl::SimpleAtoi(text, &value)) throw std::invalid_argument("no number: " + text);
    return value;
  }
  static google::type::Date Date(const std::string& text) {
    return time::FromDay(time::ParseDay(text).value());
  }
  int64_t Instant(const std::string& text) const {
    return time::ParseInstant(text, out_.zone).value();
  }
  google::type::Date LocalDate(int64_t us) const {
    return time::FromDay(time::LocalDay(us, out_.zone));
  }

  void Begin() {
    order_.set_order("R-1");
    order_.mutable_details()->set_branch("b");
    order_.mutable_details()->set_patient("P-1");
    order_.mutable_details()->set_device_class("knee");
    order_.mutable_details()->set_side(v1::SIDE_LEFT);
    v1::Branch& branch = *out_.settings.add_branches();
    branch.set_id("b");
    branch.set_time_zone(out_.zone.name());
    v1::PayerTerms& payer = *out_.settings.add_payer_terms();
    payer.set_id("payer");
    payer.add_rules();
    order_.add_payers()->set_payer("payer");
  }

  v1::CoverRule& rule() { return *out_.settings.mutable_payer_terms(0)->mutable_rules(0); }

  void Leg(const Parts& parts) {
    v1::RentalLeg& leg = *order_.add_legs();
    leg.set_unit(parts.at(0));
    const int64_t from_us = Instant(absl::StrCat(parts.at(1)));
    time::SetMicros(from_us, leg.mutable_from()->mutable_time());
    *leg.mutable_from_date() = LocalDate(from_us);
    if (!order_.has_handed_over()) {
      *order_.mutable_handed_over() = leg.from();
      *order_.mutable_handed_over_date() = leg.from_date();
    }
    if (parts.at(2).empty()) return;
    const int64_t to_us = Instant(parts.at(2));
    time::SetMicros(to_us, leg.mutable_to()->mutable_time());
    *leg.mutable_to_date() = LocalDate(to_us);
  }

  void Stay(const std::string& where, const std::string& at) {
    static const std::map<std::string, v1::Stay> kStays = {{"home", v1::STAY_HOME},
                                                           {"hospital", v1::STAY_HOSPITAL},
                                                           {"facility", v1::STAY_FACILITY},
                                                           {"died", v1::STAY_DIED}};
    v1::PatientStay& stay = *order_.add_stays();
    stay.set_stay(kStays.at(where));
    *stay.mutable_from_date() = LocalDate(Instant(at));
    time::SetMicros(Instant(at), stay.mutable_noted()->mutable_time());
  }

  void Use(const std::string& change, const std::string& at) {
    v1::UsePoint& point = *order_.add_uses();
    point.set_change(change == "started" ? v1::USE_CHANGE_STARTED : v1::USE_CHANGE_STOPPED);
    *point.mutable_date() = LocalDate(Instant(at));
    time::SetMicros(Instant(at), point.mutable_noted()->mutable_time());
  }

  static v1::CoverAnchor Anchor(const std::string& word) {
    static const std::map<std::string, v1::CoverAnchor> kAnchors = {
        {"surgery", v1::COVER_ANCHOR_SURGERY},
        {"discharge", v1::COVER_ANCHOR_DISCHARGE},
        {"use", v1::COVER_ANCHOR_FIRST_USE},
        {"hand-over", v1::COVER_ANCHOR_HAND_OVER}};
    return kAnchors.at(word);
  }

  void Reading(const Parts& parts) {
    v1::CoverReading& reading = *rule().add_readings();
    reading.set_id(absl::StrCat("reading-", rule().readings_size()));
    reading.set_anchor(Anchor(parts.at(0)));
    reading.set_anchor_day_number(Whole(parts.at(1)));
    reading.set_length_days(Whole(parts.at(2)));
    if (parts.size() <= 3) return;
    static const std::map<std::string, v1::WindowMeasure> kMeasures = {
        {"days", v1::WINDOW_MEASURE_CALENDAR_DAYS},
        {"hours", v1::WINDOW_MEASURE_HOURS},
        {"working", v1::WINDOW_MEASURE_WORKING_DAYS}};
    reading.mutable_start()->set_anchor(Anchor(parts.at(3)));
    reading.mutable_start()->set_measure(kMeasures.at(parts.at(4)));
    reading.mutable_start()->set_most(Whole(parts.at(5)));
  }

  void Paper(bool stops, const std::string& from, const std::string& through) {
    v1::OrderPaper& paper = *order_.add_papers();
    paper.set_stops(stops);
    if (!from.empty()) *paper.mutable_from_date() = Date(from);
    *paper.mutable_through_date() = Date(through);
  }

  void Put(const std::string& key, const std::string& value) {
    // Instants have colons of their own, so only keys with days and words are split everywhere.
    const size_t colon = value.find(':');
    const std::string head = value.substr(0, colon);
    const std::string tail = colon == std::string::npos ? "" : value.substr(colon + 1);
    if (key == "zone") return;
    if (key == "leg") {
      const Parts parts = absl::StrSplit(value, '/');
      return Leg(parts);
    }
    if (key == "stay") return Stay(head, tail);
    if (key == "use") return Use(head, tail);
    const Parts parts = absl::StrSplit(value, ':');
    if (key == "reading") return Reading(parts);
    if (key == "extension") return Paper(false, parts.at(0), parts.at(1));
    if (key == "stop") return Paper(true, "", value);
    if (key == "auth") return Auth(parts);
    PutDetail(key, value);
  }

  void Auth(const Parts& parts) {
    v1::Authorisation& a = *order_.add_authorisations();
    *a.mutable_from_date() = Date(parts.at(0));
    *a.mutable_through_date() = Date(parts.at(1));
    a.set_unit_count(Whole(parts.at(2)));
  }

  void PutDetail(const std::string& key, const std::string& value) {
    v1::OrderDetails& details = *order_.mutable_details();
    if (key == "lon") return details.set_length_of_need_days(Whole(value));
    if (key == "surgery") {
      *details.mutable_surgery_date() = Date(value);
    } else if (key == "surgery_at") {
      time::SetMicros(Instant(value), details.mutable_surgery_time());
    } else if (key == "planned") {
      *details.mutable_discharge_date() = Date(value);
    } else if (key == "cancelled") {
      time::SetMicros(1, order_.mutable_cancelled()->mutable_time());
    } else if (key == "payer") {
      has_payer_ = false;
      order_.clear_payers();
    } else if (key == "other") {
      has_other_ = true;
      v1::PayerPeriod& period = *order_.add_payers();
      period.set_payer("other");
      *period.mutable_from_date() = Date(value);
    } else if (key == "holiday") {
      *out_.settings.add_holidays()->mutable_date() = Date(value);
    } else {
      PutRule(key, value);
    }
  }

  void PutRule(const std::string& key, const std::string& value) {
    if (key == "away") {
      rule().set_away_days(value == "paid"   ? v1::AWAY_DAYS_PAID
                           : value == "stop" ? v1::AWAY_DAYS_STOP_THE_COUNT
                                             : v1::AWAY_DAYS_NOT_PAID);
    } else if (key == "home_only") {
      rule().set_home_only(true);
    } else if (key == "admission") {
      rule().set_admission_day_paid(true);
    } else if (key == "last_day") {
      rule().set_last_day_not_paid(true);
    } else if (key == "needs_auth") {
      rule().set_needs_authorisation(true);
    } else if (key == "amount") {
      rule().set_amount_minor(Whole(value));
    } else if (key == "monthly") {
      rule().set_billing_unit(v1::BILLING_UNIT_MONTH);
    } else if (key == "interruption") {
      rule().set_interruption_days(Whole(value));
    } else if (key == "month_rule") {
      rule().set_month_rule(value == "next" ? v1::MONTH_RULE_FIRST_OF_NEXT
                                            : v1::MONTH_RULE_LAST_DAY);
    } else if (key == "most_months") {
      rule().set_most_months(Whole(value));
    } else if (key == "not_covered") {
      rule().set_not_covered(true);
    } else {
      throw std::invalid_argument("not understood: " + key);
    }
  }

  Rental& out_;
  v1::OrderState& order_;
  std::vector<std::pair<std::string, std::string>> values_;
  bool has_payer_ = true;
  bool has_other_ = false;
};

}  // namespace

Rental RentalOf(const std::string& line) {
  Rental rental;
  rental.zone = absl::UTCTimeZone();
  Reader(&rental).Read(line);
  return rental;
}

v1::GetDayLedgerResponse CountRental(const Rental& rental, const std::string& through) {
  const depot::Rules rules(rental.settings);
  cover::Until until;
  if (const auto day = time::ParseDay(through); day.ok()) {
    until = {*day, time::StartOfDayMicros(*day + 1, rental.zone)};
  } else {
    until.us = time::ParseInstant(through, rental.zone).value();
    until.day = time::LocalDay(until.us, rental.zone);
  }
  return cover::CountByEveryReading(rental.order, rules, until);
}

}  // namespace ferrule::testing
