#include "core/order/fold.h"

#include <algorithm>
#include <optional>
#include <set>
#include <string>
#include <string_view>
#include <tuple>
#include <vector>

#include "core/finding/enum_words.h"
#include "core/order/contradiction.h"
#include "core/order/due.h"
#include "core/order/fit.h"
#include "core/order/home_fold.h"
#include "core/order/in_home.h"
#include "core/order/lifecycle.h"
#include "core/order/missing.h"
#include "core/order/noted.h"
#include "core/order/records.h"
#include "core/time/civil.h"
#include "google/protobuf/descriptor.h"
#include "google/protobuf/message.h"

namespace ferrule::order {
namespace {

std::optional<int64_t> MeterOf(bool read, int64_t seconds) {
  return read ? std::optional<int64_t>(seconds) : std::nullopt;
}

// Takes one field away, by its path in OrderDetails: "side", "motion.flexion_deg". An unknown path,
// of a later release, takes nothing.
void ClearDetail(std::string_view path, google::protobuf::Message* in) {
  const size_t dot = path.find('.');
  const auto* field = in->GetDescriptor()->FindFieldByName(std::string(path.substr(0, dot)));
  if (field == nullptr) return;
  const auto& reflection = *in->GetReflection();
  if (dot == std::string_view::npos) return reflection.ClearField(in, field);
  if (field->is_repeated() || field->message_type() == nullptr) return;
  if (!reflection.HasField(*in, field)) return;
  ClearDetail(path.substr(dot + 1), reflection.MutableMessage(in, field));
}

// One fact on its way into one order: first what it breaks is raised, then it takes effect.
class OrderFold {
 public:
  OrderFold(const fact::FactView& view, const depot::SettingsBook& book, finding::Raiser* raiser,
            v1::SubjectState* state)
      : view_(view), book_(book), raiser_(raiser), order_(state->mutable_order()) {}

  void Apply();

 private:
  void On(const v1::OrderTaken& f);
  void On(const v1::OrderChanged& f);
  void On(const v1::OrderCancelled& f);
  void On(const v1::UnitHeldForOrder& f);
  void On(const v1::OrderHoldReleased& f);
  void On(const v1::HandedOver& f);
  void On(const v1::Exchanged& f);
  void On(const v1::OrderExtended& f);
  void On(const v1::PickupAgreed& f);
  void On(const v1::PickupFailed& f);
  void On(const v1::PickedUp& f);
  void On(const v1::UsageReported& f);
  void On(const v1::MotionChanged& f);
  void On(const v1::WaitingNoted& f);
  void On(const v1::PromiseRefused& f);
  void On(const v1::UnitPromised& f);
  void On(const v1::OrderReinstated& f);
  void On(const v1::DetailsConfirmed& f);
  void On(const v1::AuthorisationNoted& f);
  void On(const v1::PatientStayNoted& f);
  void On(const v1::OrderStopped& f);
  void On(const v1::UseNoted& f);
  void On(const v1::DaysBilled& f);
  void On(const v1::CarriedOver& f);
  void OnFollowing(const std::string& following);
  void On(const v1::OrderMessageReceived& f);

  // Moves the status by the table; false when the order was never taken, which is then the one
  // thing that is raised.
  bool Take(Event event);
  std::string_view UnitNamed() const;
  bool IsUnknown(Event event);
  bool IsOlder(int64_t sender_version);
  bool IsTheSame(const v1::OrderTaken& f) const;
  void TakeAgain(const v1::OrderTaken& f);
  void CompareWithOthers(const v1::OrderMessageReceived& f);
  void CheckReferences(const v1::OrderDetails& details);
  void Merge(const v1::OrderDetails& details);
  void LetLapse();
  void CheckMayGoOut();
  void RaiseContradictions();
  void RaiseIfBilledTwice(const v1::DaysBilled& f);
  void BeginRental(const std::string& unit, const std::string& signed_by, const v1::Motion* motion);
  void EndRental(const std::string& unit);
  absl::TimeZone Zone() { return rules().ZoneOf(order_->details().branch()); }
  google::type::Date Today() { return time::FromDay(time::LocalDay(view_.happened_us, Zone())); }
  void BeginLeg(const std::string& unit);
  bool EndLeg(const std::string& unit);
  bool HasOpenLeg(const std::string& unit) const;
  int OpenLegs() const;

  void Raise(v1::Reason reason, finding::Values values = {}, finding::Evidence evidence = {}) {
    raiser_->Raise(reason, values, evidence);
  }
  void Stamp(v1::Stamp* stamp) { finding::SetStamp(view_, stamp); }
  const depot::Rules& rules() { return book_.At(view_.happened_us); }
  HomeFold home() { return HomeFold(view_, rules(), raiser_, order_); }

  const fact::FactView& view_;
  const depot::SettingsBook& book_;
  finding::Raiser* raiser_;
  v1::OrderState* order_;
};

void OrderFold::Apply() {
  const v1::Fact& fact = view_.fact();
  if (fact.what_case() != v1::Fact::kOrderHoldReleased) LetLapse();
  home().LetPromiseLapse();
  switch (fact.what_case()) {
    case v1::Fact::kOrderTaken:
      return On(fact.order_taken());
    case v1::Fact::kOrderChanged:
      return On(fact.order_changed());
    case v1::Fact::kOrderCancelled:
      return On(fact.order_cancelled());
    case v1::Fact::kUnitHeldForOrder:
      return On(fact.unit_held_for_order());
    case v1::Fact::kOrderHoldReleased:
      return On(fact.order_hold_released());
    case v1::Fact::kHandedOver:
      return On(fact.handed_over());
    case v1::Fact::kExchanged:
      return On(fact.exchanged());
    case v1::Fact::kOrderExtended:
      return On(fact.order_extended());
    case v1::Fact::kPickupAgreed:
      return On(fact.pickup_agreed());
    case v1::Fact::kPickupFailed:
      return On(fact.pickup_failed());
    case v1::Fact::kPickedUp:
      return On(fact.picked_up());
    case v1::Fact::kUsageReported:
      return On(fact.usage_reported());
    case v1::Fact::kMotionChanged:
      return On(fact.motion_changed());
    case v1::Fact::kWaitingNoted:
      return On(fact.waiting_noted());
    case v1::Fact::kPromiseRefused:
      return On(fact.promise_refused());
    case v1::Fact::kUnitPromised:
      return On(fact.unit_promised());
    case v1::Fact::kOrderReinstated:
      return On(fact.order_reinstated());
    case v1::Fact::kDetailsConfirmed:
      return On(fact.details_confirmed());
    case v1::Fact::kAuthorisationNoted:
      return On(fact.authorisation_noted());
    case v1::Fact::kPatientStayNoted:
      return On(fact.patient_stay_noted());
    case v1::Fact::kOrderStopped:
      return On(fact.order_stopped());
    case v1::Fact::kUseNoted:
      return On(fact.use_noted());
    case v1::Fact::kDaysBilled:
      return On(fact.days_billed());
    case v1::Fact::kCarriedOver:
      return On(fact.carried_over());
    case v1::Fact::kOrderMessageReceived:
      return On(fact.order_message_received());
    case v1::Fact::kSetUpDone:
    case v1::Fact::kTicketReturned:
    case v1::Fact::kCallMade:
    case v1::Fact::kPrecautionsNoted:
    case v1::Fact::kBreakdownReported:
    case v1::Fact::kBreakdownSettled:
      if (IsUnknown(Event::kChanged)) return;
      return NoteInHome(view_, raiser_, order_);
    case v1::Fact::kRecordsHeld:
    case v1::Fact::kRecordsReleased:
    case v1::Fact::kRecordsDisclosed:
      if (IsUnknown(Event::kNoted)) return;
      return NoteRecords(view_, raiser_, order_);
    default:
      return;  // not about an order
  }
}

bool OrderFold::Take(Event event) {
  const Step step = StatusAfter(order_->status(), event);
  if (step.reason == v1::REASON_ORDER_UNKNOWN) {
    Raise(step.reason, {{"order", order_->order()}});
    return false;
  }
  if (step.reason != v1::REASON_UNSPECIFIED) {
    const bool in_use = step.reason == v1::REASON_ORDER_NUMBER_IN_USE;
    Raise(step.reason, {{"unit", UnitNamed()}},
          {in_use ? &order_->taken() : &order_->status_since()});
  }
  if (step.next != order_->status()) Stamp(order_->mutable_status_since());
  order_->set_status(step.next);
  if (step.next != v1::ORDER_STATUS_HELD) {
    order_->clear_hold_firm();
    order_->clear_hold_until_time();
  }
  if (step.next == v1::ORDER_STATUS_OPEN || step.next == v1::ORDER_STATUS_CANCELLED) {
    order_->clear_unit();
  }
  return true;
}

// The unit that a finding is about: for a hold the one that the fact names, otherwise the order's.
std::string_view OrderFold::UnitNamed() const {
  const v1::Fact& fact = view_.fact();
  if (fact.has_order_hold_released()) return fact.order_hold_released().unit();
  return order_->unit();
}

// Raises it, too.
bool OrderFold::IsUnknown(Event event) {
  return order_->status() == v1::ORDER_STATUS_UNSPECIFIED && !Take(event);
}

// A hold that has lapsed no longer binds.
void OrderFold::LetLapse() {
  if (order_->status() != v1::ORDER_STATUS_HELD || !order_->has_hold_until_time()) return;
  if (view_.happened_us < time::ToMicros(order_->hold_until_time())) return;
  order_->set_status(v1::ORDER_STATUS_OPEN);
  *order_->mutable_status_since()->mutable_time() = order_->hold_until_time();
  order_->clear_hold_firm();
  order_->clear_hold_until_time();
  order_->clear_unit();
}

// The sender's last version counts, whatever the order of arrival; 0 is the depot's own. An older
// one is kept in the ledger and not applied.
bool OrderFold::IsOlder(int64_t sender_version) {
  if (sender_version == 0) return false;
  if (sender_version >= order_->sender_version()) {
    order_->set_sender_version(sender_version);
    return false;
  }
  Raise(v1::REASON_OLDER_VERSION, {{"found", std::to_string(sender_version)},
                                   {"expected", std::to_string(order_->sender_version())}});
  return true;
}

void OrderFold::CheckReferences(const v1::OrderDetails& details) {
  if (!details.branch().empty() && rules().FindBranch(details.branch()) == nullptr) {
    Raise(v1::REASON_BRANCH_UNKNOWN, {{"branch", details.branch()}});
  }
  if (!details.device_class().empty() &&
      rules().FindDeviceClass(details.device_class()) == nullptr) {
    Raise(v1::REASON_DEVICE_CLASS_UNKNOWN, {{"class", details.device_class()}});
  }
  if (!details.payer().empty() && rules().FindPayer(details.payer()) == nullptr) {
    Raise(v1::REASON_PAYER_UNKNOWN, {{"item", details.payer()}});
  }
  if (!details.procedure_code().empty() &&
      rules().FindProcedure(details.procedure_code()) == nullptr) {
    Raise(v1::REASON_PROCEDURE_UNKNOWN, {{"item", details.procedure_code()}});
  }
}

void OrderFold::On(const v1::OrderTaken& f) {
  if (f.order() != order_->order()) return OnFollowing(f.order());
  const v1::OrderStatus before = order_->status();
  const bool applies =
      before == v1::ORDER_STATUS_UNSPECIFIED || before == v1::ORDER_STATUS_CANCELLED;
  if (!applies && IsTheSame(f)) return TakeAgain(f);
  if (!applies) {
    // Another order with the same number, or this one entered twice: this one stays as it is.
    Take(Event::kTaken);
    return;
  }
  if (IsOlder(f.sender_version())) return;
  CheckReferences(f.details());
  Take(Event::kTaken);
  *order_->mutable_details() = f.details();
  order_->set_sender_reference(f.sender_reference());
  NoteValidAgain(order_);
  order_->clear_payers();
  NotePayer(f.details(), order_);
  Stamp(order_->mutable_taken());
  home().Ordered(f.details());
}

// Whether a sender tells again of an order that is taken already: another version of it, or by
// another channel. The sender's number tells it from another order with the same number of ours.
bool OrderFold::IsTheSame(const v1::OrderTaken& f) const {
  return f.sender_version() != 0 && !f.sender_reference().empty() &&
         f.sender_reference() == order_->sender_reference();
}

// What the depot has put beside it stays.
void OrderFold::TakeAgain(const v1::OrderTaken& f) {
  if (IsOlder(f.sender_version())) return;
  CheckReferences(f.details());
  Merge(f.details());
}

// Only fields that are present: dates and motion are merged by their own presence; a progression is
// one thing, and a new one replaces the old.
void OrderFold::Merge(const v1::OrderDetails& details) {
  if (details.has_progression()) order_->mutable_details()->clear_progression();
  order_->mutable_details()->MergeFrom(details);
  home().Ordered(details);
  NotePayer(details, order_);
}

void OrderFold::On(const v1::OrderChanged& f) {
  if (f.order() != order_->order()) return OnFollowing(f.order());
  if (IsUnknown(Event::kChanged) || IsOlder(f.sender_version())) return;
  CheckReferences(f.details());
  Take(Event::kChanged);
  Merge(f.details());
}

void OrderFold::On(const v1::OrderCancelled& f) {
  if (IsUnknown(Event::kCancelled) || IsOlder(f.sender_version())) return;
  const v1::OrderStatus before = order_->status();
  Take(Event::kCancelled);
  order_->set_cancel_reason(f.reason());
  if (order_->status() == v1::ORDER_STATUS_CANCELLED) home().Served();
  // A rental that is over stays as it was; one that is still out is cancelled all the same, and
  // nothing prescribes the days after it.
  if (before == v1::ORDER_STATUS_CLOSED || order_->has_cancelled()) return;
  Stamp(order_->mutable_cancelled());
  if (before == v1::ORDER_STATUS_ON_RENT) NoteCancelledOut(view_, Today(), order_);
}

void OrderFold::On(const v1::UnitHeldForOrder& f) {
  RaiseContradictions();
  const bool again = order_->status() == v1::ORDER_STATUS_HELD && order_->unit() == f.unit();
  if (!Take(again ? Event::kHeldAgain : Event::kHeld)) return;
  if (order_->status() != v1::ORDER_STATUS_HELD) return;
  order_->set_unit(f.unit());
  order_->clear_waiting();
  order_->set_hold_firm(f.firm());
  if (f.has_until_time()) {
    *order_->mutable_hold_until_time() = f.until_time();
  } else {
    order_->clear_hold_until_time();
  }
}

void OrderFold::On(const v1::OrderHoldReleased& f) {
  const bool held = order_->unit() == f.unit();
  if (order_->promise().unit() == f.unit() && order_->has_promise()) {
    if (!Take(Event::kPromiseReleased)) return;
    order_->clear_promise();
    if (order_->status() != v1::ORDER_STATUS_HELD || !held) return;
  }
  Take(held ? Event::kHoldReleased : Event::kOtherHoldReleased);
}

void OrderFold::On(const v1::HandedOver& f) {
  if (IsUnknown(Event::kHandedOver)) return;
  const depot::Rules& in_force = rules();
  CheckMayGoOut();
  if (order_->status() == v1::ORDER_STATUS_HELD && order_->unit() != f.unit()) {
    Raise(v1::REASON_ORDER_HAS_OTHER_UNIT, {{"unit", order_->unit()}, {"found", f.unit()}},
          {&order_->status_since()});
  }
  CheckUnit(*order_, {f.unit(), f.unit_model(), f.unit_side(), f.motion()}, in_force, raiser_);
  CheckKit(*order_, f, in_force, raiser_);
  if (f.signed_by().empty()) Raise(v1::REASON_SIGNATURE_MISSING);
  BeginRental(f.unit(), f.signed_by(), f.has_motion() ? &f.motion() : nullptr);
  home().WentOut(f.unit(), f.unit_model(), f.motion(), MeterOf(f.has_meter_s(), f.meter_s()));
  NoteLeft(f, order_);
}

// What an order must say before a unit goes out for it, and that the patient lives.
void OrderFold::CheckMayGoOut() {
  const std::vector<std::string> missing = MissingToGoOut(*order_, rules());
  if (!missing.empty()) {
    std::string list;
    for (const std::string& item : missing) list += (list.empty() ? "" : "; ") + item;
    Raise(v1::REASON_ORDER_INCOMPLETE, {{"list", list}});
  }
  RaiseContradictions();
  for (const v1::PatientStay& stay : order_->stays()) {
    if (stay.stay() == v1::STAY_DIED) Raise(v1::REASON_PATIENT_DIED, {}, {&stay.noted()});
  }
}

void OrderFold::RaiseContradictions() {
  for (const Contradiction& c : OpenContradictions(*order_, rules())) {
    Raise(v1::REASON_ORDER_CONTRADICTS,
          {{"kind", finding::Words(c.kind)}, {"expected", c.says}, {"list", c.but}});
  }
}

void OrderFold::BeginRental(const std::string& unit, const std::string& signed_by,
                            const v1::Motion* motion) {
  Take(Event::kHandedOver);
  if (!order_->has_handed_over()) {
    order_->set_delivery_signed_by(signed_by);
    if (order_->details().has_discharge_date()) {
      *order_->mutable_discharge_planned_date() = order_->details().discharge_date();
    }
  }
  BeginLeg(unit);
  order_->clear_motion_set();
  if (motion != nullptr) *order_->mutable_motion_set() = *motion;
  home().Served();
}

void OrderFold::On(const v1::Exchanged& f) {
  if (IsUnknown(Event::kExchanged)) return;
  if (order_->status() == v1::ORDER_STATUS_ON_RENT && !HasOpenLeg(f.unit_out())) {
    Raise(v1::REASON_ORDER_HAS_OTHER_UNIT, {{"unit", order_->unit()}, {"found", f.unit_out()}},
          {&order_->status_since()});
  }
  CheckUnit(*order_, {f.unit_in(), f.unit_in_model(), f.unit_in_side(), f.motion()}, rules(),
            raiser_);
  Take(Event::kExchanged);
  EndLeg(f.unit_out());
  SettleByExchange(view_, order_);
  home().MeterSeen(f.unit_out(), MeterOf(f.has_out_meter_s(), f.out_meter_s()));
  BeginLeg(f.unit_in());
  if (f.has_motion()) *order_->mutable_motion_set() = f.motion();
  home().WentOut(f.unit_in(), f.unit_in_model(), f.motion(),
                 MeterOf(f.has_in_meter_s(), f.in_meter_s()));
}

// The rental begins with its first unit; its days are those of the branch.
void OrderFold::BeginLeg(const std::string& unit) {
  if (!order_->has_handed_over()) {
    Stamp(order_->mutable_handed_over());
    *order_->mutable_handed_over_date() = Today();
  }
  order_->set_unit(unit);
  v1::RentalLeg* leg = order_->add_legs();
  leg->set_unit(unit);
  Stamp(leg->mutable_from());
  *leg->mutable_from_date() = Today();
}

bool OrderFold::HasOpenLeg(const std::string& unit) const {
  return std::any_of(order_->legs().begin(), order_->legs().end(),
                     [&](const v1::RentalLeg& leg) { return leg.unit() == unit && !leg.has_to(); });
}

int OrderFold::OpenLegs() const {
  return static_cast<int>(std::count_if(order_->legs().begin(), order_->legs().end(),
                                        [](const v1::RentalLeg& leg) { return !leg.has_to(); }));
}

bool OrderFold::EndLeg(const std::string& unit) {
  for (v1::RentalLeg& leg : *order_->mutable_legs()) {
    if (leg.unit() != unit || leg.has_to()) continue;
    Stamp(leg.mutable_to());
    *leg.mutable_to_date() = Today();
    return true;
  }
  return false;
}

void OrderFold::On(const v1::OrderExtended& f) {
  if (IsUnknown(Event::kExtended)) return;
  Take(Event::kExtended);
  const std::optional<absl::CivilDay> end = PrescriptionEnd(*order_);
  const absl::CivilDay through = time::ToDay(f.through_date());
  if (end && through < *end) {
    Raise(v1::REASON_EXTENSION_SHORTENS,
          {{"found", time::FormatDay(through)}, {"expected", time::FormatDay(*end)}});
  }
  Stamp(order_->mutable_extended());
  // An extension never takes days away; ending early is another paper.
  if (!time::IsValid(order_->extended_through_date()) ||
      through > time::ToDay(order_->extended_through_date())) {
    *order_->mutable_extended_through_date() = f.through_date();
  }
  NotePaper(view_, f, order_);
}

void OrderFold::On(const v1::OrderStopped& f) {
  if (!Take(Event::kStopped)) return;
  const std::optional<absl::CivilDay> end = PrescriptionEnd(*order_);
  const absl::CivilDay through = time::ToDay(f.through_date());
  if (end && through > *end) {
    Raise(v1::REASON_STOP_LENGTHENS,
          {{"found", time::FormatDay(through)}, {"expected", time::FormatDay(*end)}});
  }
  NotePaper(view_, f, order_);
}

void OrderFold::On(const v1::OrderReinstated& f) {
  if (IsUnknown(Event::kReinstated) || IsOlder(f.sender_version())) return;
  if (!Take(Event::kReinstated)) return;
  NoteValidAgain(order_);
}

void OrderFold::On(const v1::DetailsConfirmed& f) {
  if (!Take(Event::kNoted)) return;
  NoteConfirmation(view_, f, ConfirmedWords(*order_, f.kind(), rules()), order_);
}

void OrderFold::On(const v1::AuthorisationNoted& f) {
  if (Take(Event::kNoted)) NoteAuthorisation(view_, f, order_);
}

void OrderFold::On(const v1::PatientStayNoted& f) {
  if (Take(Event::kNoted)) NoteStay(view_, f, Zone(), order_);
}

void OrderFold::On(const v1::UseNoted& f) {
  if (Take(Event::kNoted)) NoteUse(view_, f, Zone(), order_);
}

void OrderFold::On(const v1::DaysBilled& f) {
  if (!Take(Event::kNoted)) return;
  RaiseIfBilledTwice(f);
  std::vector<v1::MissingItem> missing = Missing(*order_, rules());
  missing.erase(std::remove_if(missing.begin(), missing.end(),
                               [](const v1::MissingItem& item) { return !item.to_bill(); }),
                missing.end());
  if (!missing.empty()) Raise(v1::REASON_NOT_ENOUGH_TO_BILL, {{"list", InOneLine(missing)}});
  NoteBilled(view_, f, order_);
}

void OrderFold::RaiseIfBilledTwice(const v1::DaysBilled& f) {
  if (f.correction()) return;
  for (const v1::BilledDays& billed : order_->billed()) {
    const bool apart = time::ToDay(f.through_date()) < time::ToDay(billed.from_date()) ||
                       time::ToDay(billed.through_date()) < time::ToDay(f.from_date());
    if (apart) continue;
    return Raise(
        v1::REASON_DAYS_BILLED_ALREADY,
        {{"item", billed.claim()}, {"found", time::FormatDay(time::ToDay(billed.through_date()))}},
        {&billed.noted()});
  }
}

// One order's rental ends and the other's begins, with the same unit in the same home.
void OrderFold::On(const v1::CarriedOver& f) {
  const bool begins = f.to_order() == order_->order();
  if (IsUnknown(begins ? Event::kHandedOver : Event::kPickedUp)) return;
  if (order_->details().patient() != f.patient()) {
    Raise(v1::REASON_OTHER_PATIENT, {{"found", f.patient()}});
  }
  if (!begins) {
    home().MeterSeen(f.unit(), MeterOf(f.has_meter_s(), f.meter_s()));
    return EndRental(f.unit());
  }
  CheckMayGoOut();
  CheckUnit(*order_, {f.unit(), f.unit_model(), f.unit_side(), f.motion()}, rules(), raiser_);
  if (f.signed_by().empty()) Raise(v1::REASON_SIGNATURE_MISSING);
  BeginRental(f.unit(), f.signed_by(), f.has_motion() ? &f.motion() : nullptr);
  home().WentOut(f.unit(), f.unit_model(), f.motion(), MeterOf(f.has_meter_s(), f.meter_s()));
}

// Another order names this one as the earlier one.
void OrderFold::OnFollowing(const std::string& following) {
  if (Take(Event::kNoted)) NoteFollowing(following, order_);
}

void OrderFold::On(const v1::PickupAgreed& f) {
  if (!Take(Event::kPickupAgreed)) return;
  *order_->mutable_pickup_date() = f.pickup_date();
  Stamp(order_->mutable_pickup_agreed());
}

void OrderFold::On(const v1::PickupFailed& f) {
  if (!Take(Event::kPickupFailed)) return;
  order_->set_failed_pickup_count(order_->failed_pickup_count() + 1);
  order_->set_pickup_failed_outcome(f.outcome());
  Stamp(order_->mutable_pickup_failed());
}

void OrderFold::On(const v1::PickedUp& f) {
  if (IsUnknown(Event::kPickedUp)) return;
  home().MeterSeen(f.unit(), MeterOf(f.has_meter_s(), f.meter_s()));
  EndRental(f.unit());
}

void OrderFold::EndRental(const std::string& unit) {
  Event event = Event::kPickedUp;
  if (order_->status() == v1::ORDER_STATUS_ON_RENT && !HasOpenLeg(unit)) {
    event = Event::kOtherUnitPickedUp;
  } else if (OpenLegs() > 1) {
    event = Event::kOneOfTwoPickedUp;
  }
  if (!Take(event)) return;
  EndLeg(unit);
  if (event != Event::kOneOfTwoPickedUp) return;
  for (const v1::RentalLeg& leg : order_->legs()) {
    if (!leg.has_to()) order_->set_unit(leg.unit());
  }
}

void OrderFold::On(const v1::UsageReported& f) {
  if (IsUnknown(Event::kUsageReported)) return;
  home().On(f);
  Take(Event::kUsageReported);
}

void OrderFold::On(const v1::MotionChanged& f) {
  if (IsUnknown(Event::kMotionChanged)) return;
  home().On(f);
  Take(Event::kMotionChanged);
}

void OrderFold::On(const v1::WaitingNoted& f) {
  if (!Take(Event::kWaiting)) return;
  home().On(f);
}

void OrderFold::On(const v1::PromiseRefused& f) {
  if (!Take(Event::kPromiseRefused)) return;
  home().On(f);
}

void OrderFold::On(const v1::UnitPromised& f) {
  if (IsUnknown(Event::kPromised)) return;
  home().On(f);
  Take(Event::kPromised);
}

// A source of the order is noted, and what its message takes away goes. The content is in other
// facts of the same entry.
void OrderFold::On(const v1::OrderMessageReceived& f) {
  bool known = false;
  for (const v1::Sender& sender : rules().settings().senders()) known |= sender.id() == f.sender();
  if (!known) Raise(v1::REASON_SENDER_UNKNOWN, {{"item", f.sender()}});
  CompareWithOthers(f);
  if (f.sender_version() == 0 || f.sender_version() >= order_->sender_version()) {
    for (const std::string& field : f.cleared()) ClearDetail(field, order_->mutable_details());
  }
  v1::OrderSource* source = order_->add_sources();
  source->set_sender(f.sender());
  source->set_sender_reference(f.sender_reference());
  source->set_sender_version(f.sender_version());
  source->set_kind(f.kind());
  source->set_message(f.message());
  Stamp(source->mutable_received());
  source->set_device_class(f.device_class());
  source->set_side(f.side());
  source->set_patient(f.patient());
  if (f.has_surgery_date()) *source->mutable_surgery_date() = f.surgery_date();
  const auto place = [](const v1::OrderSource& s) {
    return std::tuple(s.sender_version(), std::string_view(s.sender()),
                      std::string_view(s.message()));
  };
  std::stable_sort(order_->mutable_sources()->begin(), order_->mutable_sources()->end(),
                   [&](const auto& a, const auto& b) { return place(a) < place(b); });
}

// Two senders that differ in what a patient could come to harm by. A sender that changes its own
// word does not contradict itself.
void OrderFold::CompareWithOthers(const v1::OrderMessageReceived& f) {
  std::set<std::string_view> compared;
  for (int i = order_->sources_size() - 1; i >= 0; --i) {
    const v1::OrderSource& other = order_->sources(i);
    if (other.sender() == f.sender() || !compared.insert(other.sender()).second) continue;
    const auto differ = [&](std::string_view item, std::string_view said, std::string_view says) {
      if (said.empty() || says.empty() || said == says) return;
      Raise(v1::REASON_SOURCES_DIFFER, {{"item", item}, {"expected", said}, {"found", says}},
            {&other.received()});
    };
    differ("class of device", other.device_class(), f.device_class());
    differ("patient", other.patient(), f.patient());
    if (other.side() != v1::SIDE_UNSPECIFIED && f.side() != v1::SIDE_UNSPECIFIED) {
      differ("side", finding::Words(other.side()), finding::Words(f.side()));
    }
  }
}

}  // namespace

void Apply(const fact::FactView& view, const depot::SettingsBook& book, finding::Raiser* raiser,
           v1::SubjectState* state) {
  OrderFold(view, book, raiser, state).Apply();
}

}  // namespace ferrule::order
