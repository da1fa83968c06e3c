// From the van to the pick-up: loaded, delivered, exchanged, extended, agreed, picked up.
#include <algorithm>
#include <utility>

#include "absl/strings/str_cat.h"
#include "core/demo/rates.h"
#include "core/demo/simulation.h"
#include "core/time/civil.h"

namespace ferrule::demo {
namespace {

constexpr int64_t kReadingStep = 360;  // meters show tenths of an hour

constexpr const char* kFaults[] = {"stops in mid-range", "pendant dead", "noise from the drive",
                                   "does not reach the set flexion", "screen dark"};

}  // namespace

void Simulation::Load(uint32_t order) {
  Order& o = orders_[order];
  if (o.phase != Phase::kHeld) return;
  Unit& u = units_[o.unit];
  u.van = static_cast<int8_t>(random_.Between(1, 2));
  SendMove(o.unit, Stand::kVanClean, u.branch, now_us_, Rep(u.branch), "handheld");
  o.phase = Phase::kLoaded;
  const int today = calendar_.DayOf(o.branch, now_us_);
  PlanOrder(Step::kDeliver, calendar_.At(o.branch, today, random_.Between(9 * 60, 16 * 60)), order);
}

void Simulation::Deliver(uint32_t order) {
  Order& o = orders_[order];
  if (o.phase != Phase::kLoaded) return;
  if (!random_.Chance(rates::kDeliveryFailed)) return HandOver(order);
  // The bag was not opened, so the unit goes back on the shelf as it is.
  v1::Entry entry = Begin(Rep(o.branch), "handheld");
  AddMove(&entry, o.unit, Stand::kShelf, o.branch, now_us_);
  entry.mutable_facts(0)->set_note("nobody home; seal whole");
  Send(std::move(entry));
  o.phase = Phase::kHeld;
  const int today = calendar_.DayOf(o.branch, now_us_);
  PlanOrder(Step::kLoad, calendar_.At(o.branch, today + 1, 7 * 60 + 20), order);
}

void Simulation::HandOver(uint32_t order) {
  Order& o = orders_[order];
  Unit& u = units_[o.unit];
  const std::string rep = Rep(o.branch);
  v1::Entry entry = Begin(rep, "handheld");
  v1::HandedOver* handed = Add(&entry, now_us_)->mutable_handed_over();
  const v1::Model& model = ModelOf(u);
  handed->set_unit(UnitTag(o.unit));
  handed->set_order(OrderId(o));
  handed->set_unit_model(model.id());
  handed->set_unit_side(u.side);
  handed->set_meter_s(u.meter_s);
  Way way = HandheldWay(&u, &o);
  const bool flawed = random_.Chance(rates::kFlawedHandOver);
  const bool no_kit = flawed && random_.Chance(0.5);
  const bool to_follow = !flawed && random_.Chance(rates::kKitToFollow);
  AddKit(&o, no_kit || to_follow, handed->mutable_kit());
  if (to_follow) {
    v1::Override* waiver = entry.mutable_facts(0)->add_overrides();
    waiver->set_rule(v1::REASON_KIT_MISSING);
    waiver->set_authority("manager");
    waiver->set_because("out of stock; brought tomorrow, before first use");
  }
  for (int i = 1; i < model.parts_size(); ++i) handed->add_accessories(model.parts(i).position());
  SetMotion(o, static_cast<int>(5 * random_.Between(0, 6)), handed->mutable_motion());
  handed->add_papers("instructions");
  handed->add_papers("rights");
  static constexpr const char* kSigners[] = {"patient", "patient", "spouse", "daughter", "son"};
  if (!flawed || no_kit) handed->set_signed_by(kSigners[random_.Bits() % 5]);
  if (flawed) {
    // A paper found later: it has happened, so it is recorded and questioned.
    way.mode = v1::ENTRY_MODE_OBSERVED;
    way.arrives_us = std::max(way.arrives_us, now_us_ + random_.Between(2, 30) * kHour);
    u.settled_us = o.settled_us = way.arrives_us;
    entry.set_channel("paper");
    AskLater("orders/" + OrderId(o), entry.entry_id(),
             no_kit ? v1::REASON_KIT_MISSING : v1::REASON_SIGNATURE_MISSING, o.branch,
             way.arrives_us);
  }
  AddFirstUse(o, &entry);
  u.read_us = now_us_;
  u.stand = Stand::kHome;
  u.use_hours = std::min(random_.Real(rates::kUseHoursLeast, rates::kUseHoursMost),
                         static_cast<double>(o.daily_use_s) / 3600);
  ++u.turns;
  o.phase = Phase::kOnRent;
  o.handed_day = calendar_.DayOf(o.branch, now_us_);
  const bool evening_check = way.arrives_us > now_us_ + 19 * kHour && random_.Chance(0.6);
  Send(std::move(entry), way);
  // The same handheld's evening reading sometimes goes up before the hand-over does.
  if (evening_check) {
    const int64_t at = now_us_ + 5 * kHour;
    v1::Entry check = Begin(rep, "handheld");
    ReadMeter(o.unit, at, &check);
    v1::MeterRead* read = Add(&check, at)->mutable_meter_read();
    read->set_unit(UnitTag(o.unit));
    read->set_reading_s(u.meter_s);
    Send(std::move(check), {v1::ENTRY_MODE_OBSERVED, way.arrives_us - 2 * kHour});
  }
  PlanRental(order);
}

// What payers ask for beside the hand-over: the patient is at home, and uses the device.
void Simulation::AddFirstUse(const Order& o, v1::Entry* entry) const {
  v1::PatientStayNoted* stay = Add(entry, now_us_)->mutable_patient_stay_noted();
  stay->set_order(OrderId(o));
  stay->set_stay(v1::STAY_HOME);
  v1::UseNoted* use = Add(entry, now_us_)->mutable_use_noted();
  use->set_order(OrderId(o));
  use->set_change(v1::USE_CHANGE_STARTED);
}

// Brings the meter up to date with use at home. A meter that passes its width is recorded as
// rolled over.
void Simulation::ReadMeter(uint32_t unit, int64_t at_us, v1::Entry* entry) {
  Unit& u = units_[unit];
  const double hours = static_cast<double>(at_us - u.read_us) / kHour;
  const auto seconds = static_cast<int64_t>(hours * u.use_hours / 24 * 3600);
  const int64_t added = seconds / kReadingStep * kReadingStep;
  const int64_t width = AllModels()[static_cast<size_t>(u.model)].meter_width_s;
  u.meter_s += added;
  u.run_s += added;
  u.read_us = at_us;
  if (u.meter_s < width) return;
  u.meter_s -= width;
  v1::MeterRolledOver* rolled = Add(entry, at_us)->mutable_meter_rolled_over();
  rolled->set_unit(UnitTag(unit));
  rolled->set_reading_s(u.meter_s);
  rolled->set_width_s(width);
}

int Simulation::DueDay(const Order& order) const {
  int due = std::max(order.handed_day + order.need_days - 1, order.extended_through);
  if (order.authorised_through >= 0) due = std::min(due, order.authorised_through);
  if (order.covered_through >= 0) due = std::min(due, order.covered_through);
  return due;
}

void Simulation::PlanRental(uint32_t order) {
  Order& o = orders_[order];
  const int due = std::max(DueDay(o), o.handed_day + 3);
  const auto at_day = [&](int day) {
    return calendar_.At(o.branch, day, random_.Between(9 * 60, 16 * 60));
  };
  if (random_.Chance(rates::kExchanged)) {
    const int day = static_cast<int>(random_.Between(o.handed_day + 1, due - 1));
    PlanAside(Step::kExchangeLoad, calendar_.At(o.branch, day, 8 * 60), order);
  }
  int pickup = due + 1 + static_cast<int>(random_.Weighted(rates::kPickupDelay));
  const double turns_a_year = 365.0 / (o.need_days + 14);
  o.lost = random_.Chance(rates::kLostPerUnitYear / 2 / turns_a_year);
  const bool extends = !o.lost && random_.Chance(rates::kExtended);
  const bool late = extends && random_.Chance(rates::kExtendedLate);
  if (extends) {
    const int day = late
                        ? due + static_cast<int>(random_.Between(1, 3))
                        : std::max(due - static_cast<int>(random_.Between(1, 5)), o.handed_day + 1);
    PlanAside(Step::kExtend, at_day(day), order);
    if (late) pickup = due + 5;
  } else if (!o.lost && random_.Chance(rates::kPickupBeyond14)) {
    o.elusive_until = due + 15 + static_cast<int>(random_.Between(0, 25));
  }
  PlanPickup(order, pickup);
  if (!late && random_.Chance(rates::kPickupAgreed)) {
    PlanAside(Step::kAgree, at_day(std::max(due - 1, o.handed_day + 1)), order);
  }
}

void Simulation::PlanPickup(uint32_t order, int day) {
  Order& o = orders_[order];
  if (calendar_.Weekday(day) == 6) ++day;
  o.pickup_day = day;
  PlanOrder(Step::kPickup, calendar_.At(o.branch, day, random_.Between(9 * 60, 16 * 60)), order);
}

void Simulation::LoadExchange(uint32_t order) {
  if (orders_[order].phase != Phase::kOnRent || orders_[order].spare != kNone) return;
  const uint32_t spare = TakeFromReady(orders_[order].branch, orders_[order]);
  Order& o = orders_[order];
  const int today = calendar_.DayOf(o.branch, now_us_);
  if (spare == kNone) {
    if (today + 1 >= o.pickup_day) return;
    return PlanAside(Step::kExchangeLoad, calendar_.At(o.branch, today + 1, 8 * 60), order);
  }
  Unit& u = units_[spare];
  v1::Entry entry = Begin(Rep(o.branch), "handheld");
  if (ModelOf(u).sided() && u.side != o.side) {
    u.side = o.side;
    v1::SideConfigured* side = Add(&entry, now_us_)->mutable_side_configured();
    side->set_unit(UnitTag(spare));
    side->set_side(u.side);
  }
  u.van = static_cast<int8_t>(random_.Between(1, 2));
  AddMove(&entry, spare, Stand::kVanClean, u.branch, now_us_);
  Send(std::move(entry));
  o.spare = spare;
  PlanAside(Step::kExchange, calendar_.At(o.branch, today, random_.Between(10 * 60, 15 * 60)),
            order);
}

void Simulation::Exchange(uint32_t order) {
  Order& o = orders_[order];
  if (o.phase != Phase::kOnRent || o.spare == kNone) return;
  const uint32_t out = o.unit;
  const uint32_t in = std::exchange(o.spare, kNone);
  Unit& away = units_[out];
  Unit& stays = units_[in];
  v1::Entry entry = Begin(Rep(o.branch), "handheld");
  ReadMeter(out, now_us_, &entry);
  v1::Exchanged* exchanged = Add(&entry, now_us_)->mutable_exchanged();
  exchanged->set_order(OrderId(o));
  exchanged->set_unit_out(UnitTag(out));
  away.branch = o.branch;
  away.stand = Stand::kVanDirty;
  exchanged->set_to_place(PlaceId(away));
  exchanged->set_out_meter_s(away.meter_s);
  exchanged->set_unit_in(UnitTag(in));
  exchanged->set_unit_in_model(ModelOf(stays).id());
  exchanged->set_unit_in_side(stays.side);
  exchanged->set_in_meter_s(stays.meter_s);
  exchanged->set_reason(kFaults[random_.Bits() % 5]);
  SetMotion(o, static_cast<int>(5 * random_.Between(0, 3)), exchanged->mutable_motion());
  Send(std::move(entry));
  stays.stand = Stand::kHome;
  stays.read_us = now_us_;
  stays.use_hours = away.use_hours;
  stays.order = order;
  ++stays.turns;
  away.order = kNone;
  away.faulty = true;
  o.unit = in;
  const int today = calendar_.DayOf(o.branch, now_us_);
  PlanUnit(Step::kReturnReceive,
           std::max(calendar_.At(o.branch, today, 16 * 60 + 30), now_us_ + 45 * kMinute), out);
}

void Simulation::Extend(uint32_t order) {
  Order& o = orders_[order];
  if (o.phase != Phase::kOnRent || o.spare != kNone) return;
  const int today = calendar_.DayOf(o.branch, now_us_);
  const int prescribed = std::max(o.handed_day + o.need_days - 1, o.extended_through);
  o.extended_through = std::max(prescribed, today) + 7 * static_cast<int>(random_.Between(1, 2));
  v1::Entry entry = Begin(desks_[static_cast<size_t>(o.branch)], "counter");
  v1::OrderExtended* extended = Add(&entry, now_us_)->mutable_order_extended();
  extended->set_order(OrderId(o));
  SetDate(o.extended_through, extended->mutable_through_date());
  SetDate(today - static_cast<int>(random_.Between(0, 1)), extended->mutable_signed_date());
  if (o.authorised_through >= 0 || o.covered_through >= 0) {
    v1::OrderDetails* details = AddChange(o, &entry);
    if (o.authorised_through >= 0) {
      o.authorised_through = o.extended_through;
      SetDate(o.authorised_through, details->mutable_authorisation_end_date());
    }
    // Beyond cover the extension is paid otherwise; the desk records the new end of what is paid.
    if (o.covered_through >= 0) {
      o.covered_through = std::max(o.covered_through, o.extended_through);
      SetDate(o.covered_through, details->mutable_cover_end_date());
    }
  }
  const int pickup =
      o.extended_through + 1 + static_cast<int>(random_.Weighted(rates::kPickupDelay));
  if (o.agreed_day >= 0) {
    o.agreed_day = calendar_.Weekday(pickup) == 6 ? pickup + 1 : pickup;
    v1::PickupAgreed* agreed = Add(&entry, now_us_)->mutable_pickup_agreed();
    agreed->set_order(OrderId(o));
    SetDate(o.agreed_day, agreed->mutable_pickup_date());
  }
  Send(std::move(entry));
  PlanPickup(order, pickup);
}

v1::OrderDetails* Simulation::AddChange(const Order& order, v1::Entry* entry) const {
  v1::OrderChanged* changed = Add(entry, now_us_)->mutable_order_changed();
  changed->set_order(OrderId(order));
  return changed->mutable_details();
}

void Simulation::AgreePickup(uint32_t order) {
  Order& o = orders_[order];
  if (o.phase != Phase::kOnRent || o.lost) return;
  const auto agree = [&](int day, v1::Entry* entry) {
    v1::PickupAgreed* agreed = Add(entry, now_us_)->mutable_pickup_agreed();
    agreed->set_order(OrderId(o));
    SetDate(day, agreed->mutable_pickup_date());
  };
  const std::string& desk = desks_[static_cast<size_t>(o.branch)];
  o.agreed_day = o.pickup_day;
  v1::Entry entry = Begin(desk, "telephone");
  const bool mistyped = random_.Chance(rates::kMistyped);
  agree(mistyped ? o.pickup_day + 30 : o.pickup_day, &entry);
  const std::string entry_id = entry.entry_id();
  Send(std::move(entry));
  if (!mistyped) return;
  v1::Entry right = Begin(desk, "telephone");
  v1::Reversal* reversal = Add(&right, now_us_)->mutable_reversal();
  reversal->mutable_fact()->set_entry_id(entry_id);
  reversal->add_subjects(absl::StrCat("orders/", OrderId(o)));
  reversal->set_because("wrong month typed");
  agree(o.pickup_day, &right);
  Send(std::move(right));
}

void Simulation::Pickup(uint32_t order) {
  Order& o = orders_[order];
  if (o.phase != Phase::kOnRent) return;
  const int today = calendar_.DayOf(o.branch, now_us_);
  if (o.spare != kNone) return PlanPickup(order, today + 1);
  const bool nobody = o.lost || today < o.elusive_until;
  if (!nobody && !random_.Chance(rates::kPickupFailed)) return FinishPickup(order);
  static constexpr const char* kOutcomes[] = {"nobody home", "not ready to hand it back",
                                              "address not found", "no answer at the door"};
  v1::Entry entry = Begin(Rep(o.branch), "handheld");
  v1::PickupFailed* failed = Add(&entry, now_us_)->mutable_pickup_failed();
  failed->set_order(OrderId(o));
  failed->set_outcome(kOutcomes[random_.Bits() % 4]);
  Send(std::move(entry));
  ++o.failed_pickups;
  if (o.lost && o.failed_pickups >= 3) {
    return PlanOrder(Step::kMissingAtHome,
                     calendar_.At(o.branch, calendar_.WorkingFrom(today + 14), 10 * 60), order);
  }
  PlanPickup(order,
             today + static_cast<int>(nobody ? random_.Between(4, 7) : random_.Between(1, 3)));
}

void Simulation::FinishPickup(uint32_t order) {
  Order& o = orders_[order];
  const uint32_t unit = o.unit;
  Unit& u = units_[unit];
  v1::Entry entry = Begin(Rep(o.branch), "handheld");
  ReadMeter(unit, now_us_, &entry);
  v1::PickedUp* picked = Add(&entry, now_us_)->mutable_picked_up();
  picked->set_unit(UnitTag(unit));
  picked->set_order(OrderId(o));
  u.branch = o.branch;
  u.stand = Stand::kVanDirty;
  u.order = kNone;
  picked->set_to_place(PlaceId(u));
  picked->set_meter_s(u.meter_s);
  const v1::Model& model = ModelOf(u);
  const int missing = random_.Chance(rates::kAccessoryMissing)
                          ? static_cast<int>(random_.Between(1, model.parts_size() - 1))
                          : 0;
  for (int i = 1; i < model.parts_size(); ++i) {
    if (i == missing) {
      picked->add_missing(model.parts(i).position());
      u.missing = static_cast<uint8_t>(u.missing | 1U << i);
    } else {
      picked->add_accessories(model.parts(i).position());
    }
  }
  Way way = HandheldWay(&u, &o);
  if (random_.Chance(rates::kReturnedBeforePickup)) {
    ReturnBeforePickup(order, std::move(entry));
  } else {
    Send(std::move(entry), way);
    const int today = calendar_.DayOf(o.branch, now_us_);
    const bool tonight = random_.Chance(0.7);
    const int64_t back = tonight ? calendar_.At(o.branch, today, 16 * 60 + random_.Between(30, 75))
                                 : calendar_.At(o.branch, calendar_.WorkingFrom(today + 1),
                                                random_.Between(480, 560));
    PlanUnit(Step::kReturnReceive, std::max(back, now_us_ + 45 * kMinute), unit);
  }
  const ClassTraits& traits = AllClasses()[static_cast<size_t>(o.device_class)];
  if (traits.second_sides && !o.second_side && random_.Chance(rates::kStagedSecondSide)) {
    const size_t band = random_.Weighted(rates::kSecondSideBand);
    const int weeks = static_cast<int>(random_.Between(rates::kSecondSideWeekFrom[band],
                                                       rates::kSecondSideWeekFrom[band + 1] - 1));
    FollowUp(o, o.surgery_day + 7 * weeks, true);
  }
  FreeOrder(order);
}

// The dock scans the unit in the next morning although its pick-up is still on the handheld: the
// receipt is questioned until the pick-up arrives.
void Simulation::ReturnBeforePickup(uint32_t order, v1::Entry pickup) {
  const Order& o = orders_[order];
  const uint32_t unit = o.unit;
  Unit& u = units_[unit];
  const int day = calendar_.WorkingFrom(calendar_.DayOf(o.branch, now_us_) + 1);
  const int64_t back = calendar_.At(o.branch, day, random_.Between(8 * 60, 9 * 60));
  const int64_t known = std::min(back, end_us_) + random_.Between(3, 20) * kHour;
  u.stand = Stand::kDock;
  u.settled_us = known;
  v1::Entry receipt = Begin(Tech(o.branch), "station");
  v1::ReceivedBack* received = Add(&receipt, back)->mutable_received_back();
  received->set_unit(UnitTag(unit));
  received->set_place(PlaceId(u));
  Send(std::move(receipt), {v1::ENTRY_MODE_OBSERVED, back});
  Send(std::move(pickup), {v1::ENTRY_MODE_OBSERVED, known});
  PlanUnit(Step::kToBay, OfficeTime(u.branch, known + 30 * kMinute), unit);
}

}  // namespace ferrule::demo
