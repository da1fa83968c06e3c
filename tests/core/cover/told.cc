#include "tests/core/cover/told.h"

#include <algorithm>
#include <stdexcept>

#include "absl/strings/str_cat.h"
#include "core/time/civil.h"
#include "google/protobuf/text_format.h"
#include "tests/core/cover/spec.h"

namespace ferrule::testing {
namespace {

constexpr int64_t kDayUs = 86'400'000'000;

std::string Words(const google::type::Date& date) { return time::FormatDay(time::ToDay(date)); }

class Teller {
 public:
  explicit Teller(const Rental& rental) : order_(rental.order) {}

  std::vector<ToldFact> Tell() {
    Order();
    for (const v1::UsePoint& use : order_.uses()) Use(use);
    for (const v1::PatientStay& stay : order_.stays()) Stay(stay);
    for (const v1::OrderPaper& paper : order_.papers()) Paper(paper);
    for (const v1::Authorisation& a : order_.authorisations()) Authorised(a);
    for (const v1::RentalLeg& leg : order_.legs()) Leg(leg);
    std::stable_sort(facts_.begin(), facts_.end(),
                     [](const ToldFact& a, const ToldFact& b) { return a.at_us < b.at_us; });
    return std::move(facts_);
  }

 private:
  v1::Fact& Add(int64_t at_us, std::string command) {
    facts_.push_back({at_us, {}, std::move(command)});
    time::SetMicros(at_us, facts_.back().fact.mutable_happened_time());
    return facts_.back().fact;
  }
  // Days have no clock: what is dated by one is told at noon of Greenwich.
  static int64_t Noon(const google::type::Date& date) {
    return time::StartOfDayMicros(time::ToDay(date), absl::UTCTimeZone()) + kDayUs / 2;
  }

  // Ten days before anything else happens.
  void Order() {
    int64_t first_us = INT64_MAX;
    const v1::OrderDetails& d = order_.details();
    for (const auto& leg : order_.legs()) {
      first_us = std::min(first_us, time::ToMicros(leg.from().time()));
    }
    for (const auto& use : order_.uses()) {
      first_us = std::min(first_us, time::ToMicros(use.noted().time()));
    }
    if (d.has_surgery_date()) first_us = std::min(first_us, Noon(d.surgery_date()));
    std::string command = "take-order R-1 --class knee --branch north --side left --patient P-1";
    if (!order_.payers().empty()) command += " --payer payer";
    if (d.length_of_need_days() > 0) {
      absl::StrAppend(&command, " --days ", d.length_of_need_days());
    }
    if (d.has_surgery_date()) absl::StrAppend(&command, " --surgery ", Words(d.surgery_date()));
    if (d.has_surgery_time()) {
      absl::StrAppend(&command, " --surgery-time ",
                      time::FormatUtc(time::ToMicros(d.surgery_time())));
    }
    if (d.has_discharge_date()) {
      absl::StrAppend(&command, " --discharge ", Words(d.discharge_date()));
    }
    v1::OrderTaken& taken = *Add(first_us - 10 * kDayUs, command).mutable_order_taken();
    taken.set_order("R-1");
    *taken.mutable_details() = d;
    taken.mutable_details()->set_branch("north");
    if (!order_.payers().empty()) taken.mutable_details()->set_payer("payer");
  }

  void Use(const v1::UsePoint& use) {
    const bool started = use.change() == v1::USE_CHANGE_STARTED;
    v1::UseNoted& noted = *Add(time::ToMicros(use.noted().time()),
                               absl::StrCat("use R-1 ", started ? "started" : "stopped"))
                               .mutable_use_noted();
    noted.set_order("R-1");
    noted.set_change(use.change());
  }

  void Stay(const v1::PatientStay& stay) {
    const char* where = stay.stay() == v1::STAY_HOME       ? "home"
                        : stay.stay() == v1::STAY_HOSPITAL ? "hospital"
                                                           : "facility";
    v1::PatientStayNoted& noted =
        *Add(time::ToMicros(stay.noted().time()), absl::StrCat("stay R-1 ", where))
             .mutable_patient_stay_noted();
    noted.set_order("R-1");
    noted.set_stay(stay.stay());
  }

  void Paper(const v1::OrderPaper& paper) {
    const std::string through = Words(paper.through_date());
    if (paper.stops()) {
      v1::OrderStopped& stopped =
          *Add(Noon(paper.through_date()), "stop R-1 " + through).mutable_order_stopped();
      stopped.set_order("R-1");
      *stopped.mutable_through_date() = paper.through_date();
      return;
    }
    std::string command = "extend R-1 " + through;
    if (paper.has_from_date()) absl::StrAppend(&command, " --from ", Words(paper.from_date()));
    v1::OrderExtended& extended =
        *Add(Noon(paper.has_from_date() ? paper.from_date() : paper.through_date()), command)
             .mutable_order_extended();
    extended.set_order("R-1");
    *extended.mutable_through_date() = paper.through_date();
    if (paper.has_from_date()) *extended.mutable_from_date() = paper.from_date();
  }

  void Authorised(const v1::Authorisation& a) {
    const std::string number = absl::StrCat("PA-", ++authorisations_);
    v1::AuthorisationNoted& noted =
        *Add(Noon(a.from_date()),
             absl::StrCat("authorise R-1 ", number, " ", Words(a.from_date()), " ",
                          Words(a.through_date()), " --units ", a.unit_count()))
             .mutable_authorisation_noted();
    noted.set_order("R-1");
    noted.set_number(number);
    *noted.mutable_from_date() = a.from_date();
    *noted.mutable_through_date() = a.through_date();
    noted.set_unit_count(a.unit_count());
  }

  void Leg(const v1::RentalLeg& leg) {
    const int64_t from_us = time::ToMicros(leg.from().time());
    v1::UnitReceived& received =
        *Add(from_us - 20 * kDayUs, absl::StrCat("add-unit ", leg.unit(), " knee-a north-dock"))
             .mutable_unit_received();
    received.set_unit(leg.unit());
    received.set_model("knee-a");
    received.set_place("north-dock");
    v1::HandedOver& handed =
        *Add(from_us, absl::StrCat("hand-over ", leg.unit(), " R-1 --signed-by patient --observed"))
             .mutable_handed_over();
    handed.set_unit(leg.unit());
    handed.set_order("R-1");
    handed.set_unit_model("knee-a");
    handed.set_signed_by("patient");
    if (!leg.has_to()) return;
    v1::PickedUp& picked = *Add(time::ToMicros(leg.to().time()),
                                absl::StrCat("pick-up ", leg.unit(), " north-van-dirty --observed"))
                                .mutable_picked_up();
    picked.set_unit(leg.unit());
    picked.set_order("R-1");
    picked.set_to_place("north-van-dirty");
  }

  const v1::OrderState& order_;
  std::vector<ToldFact> facts_;
  int authorisations_ = 0;
};

}  // namespace

v1::Settings SettingsOf(const std::string& line, const std::string& base) {
  v1::Settings settings;
  if (!google::protobuf::TextFormat::ParseFromString(base, &settings)) {
    throw std::invalid_argument("the settings are no settings");
  }
  const Rental rental = RentalOf(line);
  for (v1::Branch& branch : *settings.mutable_branches()) {
    branch.set_time_zone(rental.zone.name());
  }
  *settings.mutable_payer_terms() = rental.settings.payer_terms();
  *settings.mutable_holidays() = rental.settings.holidays();
  for (v1::Holiday& holiday : *settings.mutable_holidays()) holiday.set_display_name("day off");
  for (v1::PayerTerms& terms : *settings.mutable_payer_terms()) {
    terms.set_display_name(terms.id());
  }
  return settings;
}

std::vector<ToldFact> FactsOf(const std::string& line) { return Teller(RentalOf(line)).Tell(); }

}  // namespace ferrule::testing
