// From the order to the hold: taken, completed, moved, cancelled, a unit found and kept for it.
#include <algorithm>
#include <utility>

#include "absl/strings/str_cat.h"
#include "core/demo/rates.h"
#include "core/demo/simulation.h"
#include "core/time/civil.h"

namespace ferrule::demo {
namespace {

// Days of a cycle beside the prescribed ones: kept for the order, overdue, turnaround, and the
// share of extensions.
constexpr double kCycleBesideCourse = 12.0;
constexpr int kDaysHeldBefore = 3;
// An order for which no unit is found by then goes to somebody else.
constexpr int kDaysWaited = 8;

double MeanCourse(const ClassTraits& traits) {
  double days = 0;
  double weights = 0;
  for (const Course& course : traits.courses) {
    days += course.days * course.weight;
    weights += course.weight;
  }
  return days / weights;
}

}  // namespace

void Simulation::RunOrderDay(uint32_t branch_id) {
  const int branch = static_cast<int>(branch_id);
  const int day = calendar_.DayOf(branch, now_us_);
  Plan(Step::kOrderDay, calendar_.At(branch, day + 1, 7 * 60), branch_id, 0);
  if (!calendar_.IsWorking(day)) return;
  const double season =
      rates::kMonthShare[static_cast<size_t>(calendar_.Month(day) - 1)] * 12 / 100;
  for (size_t c = 0; c < AllClasses().size(); ++c) {
    const ClassTraits& traits = AllClasses()[c];
    // Second sides come on top of what is drawn here.
    const double first_sides = traits.second_sides ? 0.9 : 1.0;
    const double per_day = rates::kOfferedLoad * units_at_[branch_id][c] /
                           (MeanCourse(traits) + kCycleBesideCourse) * first_sides;
    for (int left = random_.Count(per_day * season * 7 / 5); left > 0; --left) {
      const size_t band = random_.Weighted(rates::kLeadBand);
      const int lead = static_cast<int>(
          random_.Between(rates::kLeadBandFrom[band], rates::kLeadBandFrom[band + 1] - 1));
      int surgery = SurgeryDayNear(day + lead);
      if (surgery <= day) surgery += 7;
      const uint32_t order = NewOrder(branch, static_cast<int>(c), surgery);
      orders_[order].patient = ++next_patient_;
      PlanOrder(Step::kTake, calendar_.At(branch, day, random_.Between(8 * 60, 16 * 60)), order);
    }
  }
}

// A day of the same week on which surgery is likely.
int Simulation::SurgeryDayNear(int day) {
  const int weekday = static_cast<int>(random_.Weighted(rates::kSurgeryWeekday));
  return day - calendar_.Weekday(day) + weekday;
}

uint32_t Simulation::NewOrder(int branch, int device_class, int surgery_day) {
  uint32_t slot = static_cast<uint32_t>(orders_.size());
  if (free_orders_.empty()) {
    orders_.emplace_back();
  } else {
    slot = free_orders_.back();
    free_orders_.pop_back();
    orders_[slot] = Order();
  }
  Order& o = orders_[slot];
  const ClassTraits& traits = AllClasses()[static_cast<size_t>(device_class)];
  o.life = ++next_life_;
  o.number = ++next_order_;
  o.branch = static_cast<int16_t>(branch);
  o.device_class = static_cast<int8_t>(device_class);
  o.side = random_.Chance(0.5) ? v1::SIDE_LEFT : v1::SIDE_RIGHT;
  o.surgery_day = surgery_day;
  o.discharge_day = surgery_day + static_cast<int>(random_.Weighted(rates::kStayNights));
  std::array<double, 8> weights{};
  for (size_t i = 0; i < traits.courses.size(); ++i) weights[i] = traits.courses[i].weight;
  o.need_days = traits.courses[random_.Weighted(weights)].days;
  o.flexion_deg = static_cast<int32_t>(
      5 * random_.Between(static_cast<int64_t>(traits.flexion_deg_least) / 5,
                          static_cast<int64_t>(traits.flexion_deg_greatest) / 5));
  o.daily_use_s = 1800 * random_.Between(8, 12);  // 4 to 6 hours; chosen freely
  o.has_authorisation = random_.Chance(rates::kHasAuthorisation);
  o.has_cover_end = device_class == 0 && random_.Chance(rates::kKneeCoverEnd);
  return slot;
}

void Simulation::FreeOrder(uint32_t order) {
  orders_[order].life = 0;
  free_orders_.push_back(order);
}

// A later order of the same patient: the case rebooked, or the other side.
void Simulation::FollowUp(const Order& first, int surgery_day, bool other_side) {
  const int lead = static_cast<int>(random_.Between(8, 30));
  const int today = calendar_.DayOf(first.branch, now_us_);
  const int take_day = calendar_.WorkingFrom(std::max(surgery_day - lead, today + 1));
  if (take_day >= calendar_.days()) return;
  const Order before = first;  // the slots may move
  const uint32_t order = NewOrder(before.branch, before.device_class,
                                  std::max(SurgeryDayNear(surgery_day), take_day + 1));
  Order& o = orders_[order];
  o.patient = before.patient;
  o.second_side = other_side || before.second_side;
  o.rebooked = !other_side;
  const v1::Side opposite = before.side == v1::SIDE_LEFT ? v1::SIDE_RIGHT : v1::SIDE_LEFT;
  o.side = other_side ? opposite : before.side;
  PlanOrder(Step::kTake, calendar_.At(o.branch, take_day, random_.Between(8 * 60, 16 * 60)), order);
}

void Simulation::TakeOrder(uint32_t order) {
  const Order& first = orders_[order];
  const bool both_sides = AllClasses()[static_cast<size_t>(first.device_class)].second_sides &&
                          !first.second_side && !first.rebooked &&
                          random_.Chance(rates::kBothSidesAtOnce);
  Order& o = orders_[order];
  o.taken_day = calendar_.DayOf(o.branch, now_us_);
  o.lacks_side = random_.Chance(rates::kIncompleteOrder / 2);
  o.lacks_signature = !o.lacks_side && random_.Chance(rates::kIncompleteOrder / 2);
  static constexpr const char* kChannels[] = {"fax", "portal", "interface"};
  v1::Entry entry = Begin(absl::StrCat("intake-", random_.Between(1, 3)),
                          kChannels[static_cast<size_t>(random_.Between(0, 2))]);
  v1::OrderTaken* taken = Add(&entry, now_us_)->mutable_order_taken();
  taken->set_order(OrderId(o));
  taken->set_sender_reference(absl::StrCat("REQ-", 500000 + o.number));
  taken->set_sender_version(o.version);
  FillDetails(o, taken->mutable_details());
  Send(std::move(entry));

  const int lead = o.surgery_day - o.taken_day;
  const auto office_hour = [&](int day) {
    return calendar_.At(o.branch, calendar_.WorkingFrom(day), random_.Between(8 * 60, 16 * 60));
  };
  if (o.lacks_side || o.lacks_signature) {
    PlanAside(Step::kComplete, office_hour(o.taken_day + static_cast<int>(random_.Between(1, 2))),
              order);
  }
  if (!o.rebooked && random_.Chance(rates::kCancelled)) {
    const int mean = random_.Chance(0.5) ? rates::kPatientCancelDays : rates::kMedicalCancelDays;
    const int before = static_cast<int>(random_.Between(0, std::min<int64_t>(2 * mean, lead)));
    PlanAside(Step::kCancel,
              calendar_.At(o.branch, o.surgery_day - before, random_.Between(8 * 60, 12 * 60)),
              order);
  } else if (lead >= 2 && random_.Chance(rates::kMoved)) {
    PlanAside(Step::kMove,
              office_hour(o.taken_day + static_cast<int>(random_.Between(1, lead - 1))), order);
  }
  PlanAllocation(order);
  if (!both_sides) return;
  const Order twin = orders_[order];
  const uint32_t second = NewOrder(twin.branch, twin.device_class, twin.surgery_day);
  orders_[second].patient = twin.patient;
  orders_[second].side = twin.side == v1::SIDE_LEFT ? v1::SIDE_RIGHT : v1::SIDE_LEFT;
  orders_[second].discharge_day = twin.discharge_day;
  orders_[second].need_days = twin.need_days;
  orders_[second].second_side = true;
  PlanOrder(Step::kTake, now_us_ + 3 * kMinute, second);
}

void Simulation::FillDetails(Order& o, v1::OrderDetails* details) {
  const ClassTraits& traits = AllClasses()[static_cast<size_t>(o.device_class)];
  details->set_patient(absl::StrCat("pt-", absl::Dec(o.patient, absl::kZeroPad6)));
  details->set_prescriber(absl::StrCat("prescriber-", 1 + o.patient * 7 % 40));
  details->set_facility(absl::StrCat("facility-", 1 + o.branch * 3 + o.patient % 3));
  details->set_branch(editions_[0].branches(o.branch).id());
  details->set_device_class(std::string(traits.id));
  if (!o.lacks_side) details->set_side(o.side);
  details->set_procedure(std::string(traits.procedure));
  SetDate(o.surgery_day, details->mutable_surgery_date());
  SetDate(o.discharge_day, details->mutable_discharge_date());
  SetDate(o.discharge_day, details->mutable_needed_date());
  details->set_length_of_need_days(o.need_days);
  details->set_payer(std::string(PayerOf(o.has_cover_end, o.has_authorisation)));
  SetMotion(o, 0, details->mutable_motion());
  if (!o.lacks_signature) SetDate(o.taken_day, details->mutable_signed_date());
  SetPayerDates(o, details);
}

// Authorisations are asked for the stay at home as planned, now and then for too short a time.
void Simulation::SetPayerDates(Order& o, v1::OrderDetails* details) {
  if (o.has_authorisation) {
    static constexpr int kBeyond[] = {-4, 0, 0, 7};
    o.authorised_through = o.discharge_day + o.need_days - 1 + kBeyond[o.number % 4];
    SetDate(o.authorised_through, details->mutable_authorisation_end_date());
  }
  if (o.has_cover_end) {
    o.covered_through = o.surgery_day + rates::kKneeCoverDays;
    SetDate(o.covered_through, details->mutable_cover_end_date());
  }
}

void Simulation::CompleteOrder(uint32_t order) {
  Order& o = orders_[order];
  if (!o.lacks_side && !o.lacks_signature) return;
  v1::Entry entry = Begin(desks_[static_cast<size_t>(o.branch)], "counter");
  v1::OrderChanged* changed = Add(&entry, now_us_)->mutable_order_changed();
  changed->set_order(OrderId(o));
  if (o.lacks_side) changed->mutable_details()->set_side(o.side);
  if (o.lacks_signature) {
    SetDate(calendar_.DayOf(o.branch, now_us_), changed->mutable_details()->mutable_signed_date());
  }
  o.lacks_side = false;
  o.lacks_signature = false;
  Send(std::move(entry));
}

void Simulation::MoveOrder(uint32_t order) {
  Order& o = orders_[order];
  if (o.phase != Phase::kOpen && o.phase != Phase::kHeld) return;
  const int today = calendar_.DayOf(o.branch, now_us_);
  const bool earlier = o.surgery_day - today > 4 && random_.Chance(rates::kMovedEarlier);
  const int target = earlier ? static_cast<int>(random_.Between(today + 2, o.surgery_day - 1))
                             : o.surgery_day + static_cast<int>(random_.Between(1, 28));
  const int stay = o.discharge_day - o.surgery_day;
  o.surgery_day = std::max(SurgeryDayNear(target), today + 1);
  o.discharge_day = o.surgery_day + stay;
  v1::Entry entry = Begin("intake-1", "interface");
  const bool release = o.phase == Phase::kHeld && o.discharge_day - today > kDaysHeldBefore + 2;
  if (release) ReleaseHold(order, "surgery moved", &entry);
  v1::OrderChanged* changed = Add(&entry, now_us_)->mutable_order_changed();
  changed->set_order(OrderId(o));
  changed->set_sender_version(++o.version);
  SetDate(o.surgery_day, changed->mutable_details()->mutable_surgery_date());
  SetDate(o.discharge_day, changed->mutable_details()->mutable_discharge_date());
  SetDate(o.discharge_day, changed->mutable_details()->mutable_needed_date());
  SetPayerDates(o, changed->mutable_details());
  Send(std::move(entry));
  if (o.phase == Phase::kOpen) {
    PlanAllocation(order);
  } else {
    PlanLoad(order);
  }
}

void Simulation::CancelOrder(uint32_t order, const char* reason) {
  Order& o = orders_[order];
  if (o.phase == Phase::kLoaded) return PlanAside(Step::kCancel, now_us_ + 20 * kHour, order);
  if (o.phase != Phase::kOpen && o.phase != Phase::kHeld) return;
  const bool by_surgery = reason == nullptr;
  static constexpr const char* kReasons[] = {"patient put it off", "not fit for surgery",
                                             "surgeon not available"};
  v1::Entry entry = by_surgery ? Begin("intake-2", "interface")
                               : Begin(desks_[static_cast<size_t>(o.branch)], "counter");
  if (o.phase == Phase::kHeld) ReleaseHold(order, "order cancelled", &entry);
  if (!by_surgery) {
    v1::PromiseRefused* refused = Add(&entry, now_us_)->mutable_promise_refused();
    refused->set_order(OrderId(o));
    *refused->mutable_asked_date() = time::FromDay(calendar_.Civil(o.discharge_day));
    refused->set_kind(v1::REFUSAL_KIND_NO_UNIT);
  }
  v1::OrderCancelled* cancelled = Add(&entry, now_us_)->mutable_order_cancelled();
  cancelled->set_order(OrderId(o));
  cancelled->set_reason(by_surgery ? kReasons[static_cast<size_t>(random_.Between(0, 2))] : reason);
  if (by_surgery) cancelled->set_sender_version(++o.version);
  Send(std::move(entry));
  if (by_surgery && random_.Chance(rates::kRebooked)) {
    const int later = static_cast<int>(rates::kRebookDays * random_.Real(0.2, 1.8));
    FollowUp(o, o.surgery_day + later, false);
  }
  FreeOrder(order);
}

void Simulation::PlanAllocation(uint32_t order) {
  const Order& o = orders_[order];
  const int today = calendar_.DayOf(o.branch, now_us_);
  const int day = calendar_.WorkingFrom(std::max(today, o.discharge_day - kDaysHeldBefore));
  const int64_t afternoon = calendar_.At(o.branch, day, 14 * 60 + random_.Between(0, 59));
  PlanOrder(Step::kAllocate, std::max(afternoon, now_us_ + 20 * kMinute), order);
}

void Simulation::Allocate(uint32_t order) {
  if (orders_[order].phase != Phase::kOpen) return;
  CompleteOrder(order);
  const int today = calendar_.DayOf(orders_[order].branch, now_us_);
  const uint32_t unit = FindReady(order);
  Order& o = orders_[order];
  if (unit == kNone) {
    if (today > o.discharge_day + kDaysWaited) {
      return CancelOrder(order, "no unit free; supplied by another depot");
    }
    const int next = calendar_.WorkingFrom(today + 1);
    return PlanOrder(Step::kAllocate, calendar_.At(o.branch, next, 14 * 60), order);
  }
  Unit& u = units_[unit];
  v1::Entry entry = Begin(desks_[static_cast<size_t>(o.branch)], "counter");
  if (ModelOf(u).sided() && u.side != o.side) {
    u.side = o.side;
    v1::SideConfigured* side = Add(&entry, now_us_)->mutable_side_configured();
    side->set_unit(UnitTag(unit));
    side->set_side(u.side);
  }
  v1::UnitHeldForOrder* held = Add(&entry, now_us_)->mutable_unit_held_for_order();
  held->set_unit(UnitTag(unit));
  held->set_order(OrderId(o));
  held->set_firm(o.discharge_day - today <= 2);
  const int64_t until = calendar_.At(o.branch, std::max(o.discharge_day, today) + 14, 18 * 60);
  if (!held->firm() && until != kNever) time::SetMicros(until, held->mutable_until_time());
  Send(std::move(entry));
  o.phase = Phase::kHeld;
  o.unit = unit;
  u.order = order;
  PlanLoad(order);
}

void Simulation::PlanLoad(uint32_t order) {
  const Order& o = orders_[order];
  const int today = calendar_.DayOf(o.branch, now_us_);
  PlanOrder(
      Step::kLoad,
      calendar_.At(o.branch, std::max(today + 1, o.discharge_day), 7 * 60 + random_.Between(0, 40)),
      order);
}

uint32_t Simulation::FindReady(uint32_t order) {
  const Order o = orders_[order];
  uint32_t unit = TakeFromReady(o.branch, o);
  if (unit != kNone) return unit;
  // A neighbour branch helps out when it has units to spare.
  constexpr int kNeighbours = 3;
  constexpr size_t kToSpare = 3;
  for (int step = 1; step <= kNeighbours; ++step) {
    const int other = (o.branch + step) % branch_count_;
    const auto& ready =
        stock_[static_cast<size_t>(other)].ready[static_cast<size_t>(o.device_class)];
    if (other == o.branch || ready.size() < kToSpare) continue;
    unit = TakeFromReady(other, o);
    if (unit == kNone) continue;
    SendMove(unit, Stand::kShelf, o.branch, now_us_, desks_[static_cast<size_t>(other)], "counter");
    return unit;
  }
  return kNone;
}

// A free unit off the branch's shelf that stays clear of service for the whole rental; units that
// do not are sent to be serviced.
uint32_t Simulation::TakeFromReady(int branch, const Order& order) {
  auto& ready = stock_[static_cast<size_t>(branch)].ready[static_cast<size_t>(order.device_class)];
  while (!ready.empty()) {
    const uint32_t unit = ready[random_.Bits() % ready.size()];
    RemoveFromReady(unit);
    if (!ServiceDueWithin(units_[unit], order.need_days + kServiceMarginDays,
                          static_cast<int>(rates::kUseHoursMost) * (order.need_days + 14))) {
      return unit;
    }
    const int day = calendar_.WorkingFrom(calendar_.DayOf(branch, now_us_) + 1);
    PlanUnit(Step::kServiceOnShelf, calendar_.At(branch, day, random_.Between(9 * 60, 12 * 60)),
             unit);
  }
  return kNone;
}

void Simulation::ReleaseHold(uint32_t order, const char* reason, v1::Entry* entry) {
  Order& o = orders_[order];
  v1::OrderHoldReleased* released = Add(entry, now_us_)->mutable_order_hold_released();
  released->set_unit(UnitTag(o.unit));
  released->set_order(OrderId(o));
  released->set_reason(reason);
  units_[o.unit].order = kNone;
  AddToReady(o.unit);
  o.unit = kNone;
  o.phase = Phase::kOpen;
}

}  // namespace ferrule::demo
