// Records put together by hand: what the ledger would have given, day by day, for tests of what is
// computed from them. Everything happens at branch "north" in UTC.
#pragma once

#include <algorithm>
#include <cstdint>
#include <memory>
#include <string>

#include "core/outlook/records.h"
#include "core/time/civil.h"
#include "google/protobuf/text_format.h"

namespace ferrule::outlook {

inline constexpr int64_t kDay0 = 20'000;  // 2024-10-04, a Friday
inline constexpr int64_t kDayLength = int64_t{86'400} * 1'000'000;

// An instant `hour` hours into a day counted from kDay0.
inline int64_t At(int64_t day, double hour = 12) {
  return (kDay0 + day) * kDayLength + static_cast<int64_t>(hour * 3'600'000'000);
}

class BuiltRecords {
 public:
  explicit BuiltRecords(const std::string& planning = "") {
    v1::SettingsState state;
    v1::SettingsVersion* version = state.add_versions();
    const std::string text = R"(
      version: "1" currency: "EUR"
      branches { id: "north" time_zone: "UTC"
        places { id: "dock" kind: PLACE_KIND_DOCK } places { id: "bench" kind: PLACE_KIND_BENCH }
        places { id: "shelf" kind: PLACE_KIND_CLEAN_SHELF }
        places { id: "van" kind: PLACE_KIND_VAN_DIRTY }
        places { id: "closet" kind: PLACE_KIND_CLOSET } }
      branches { id: "west" time_zone: "UTC" places { id: "west-shelf" kind: PLACE_KIND_CLEAN_SHELF } }
      device_classes { id: "knee" } device_classes { id: "elbow" }
      models { id: "knee-a" device_class: "knee" }
      models { id: "elbow-a" device_class: "elbow" })" +
                             planning;
    if (!google::protobuf::TextFormat::ParseFromString(text, version->mutable_settings()))
      std::abort();
    records.book = std::make_shared<const depot::SettingsBook>(state);
    records.sequence = 1;
  }

  // A unit on the shelf, ready, from a day on.
  UnitRecord& Unit(const std::string& name, int64_t day, int64_t cost_minor = 0,
                   const std::string& place = "shelf", const std::string& device_class = "knee") {
    UnitRecord unit;
    unit.unit = name;
    unit.model = device_class + "-a";
    unit.device_class = device_class;
    unit.cost_minor = cost_minor;
    records.units.push_back(unit);
    Step(name, At(day, 0), v1::Fact::kUnitReceived, [&](UnitStep& step) {
      step.custody = v1::CUSTODY_PLACE;
      step.hygiene = v1::HYGIENE_CLEANED;
      step.condition = v1::CONDITION_PASSED;
      step.commitment = v1::COMMITMENT_FREE;
      step.purpose = v1::PURPOSE_RENTAL;
      step.place = place;
      step.ready = true;
    });
    return records.units.back();
  }

  OrderRecord& Order(const std::string& name, int64_t taken, int64_t surgery, int length = 21,
                     const std::string& branch = "north",
                     const std::string& device_class = "knee") {
    OrderRecord order;
    order.order = name;
    order.branch = branch;
    order.device_class = device_class;
    order.prescriber = "D-1";
    records.orders.push_back(order);
    OrderStep step;
    step.happened_us = At(taken, 9);
    step.fact = {++records.sequence, 0};
    step.what = v1::Fact::kOrderTaken;
    step.status = v1::ORDER_STATUS_OPEN;
    step.surgery_day = step.needed_day = kDay0 + surgery;
    step.length_days = length;
    step.complete = true;
    records.orders.back().steps.push_back(step);
    return records.orders.back();
  }

  template <typename Change>
  void Step(const std::string& unit, int64_t at_us, v1::Fact::WhatCase what, Change change) {
    UnitRecord& record = UnitOf(unit);
    UnitStep step = record.steps.empty() ? UnitStep() : record.steps.back();
    step.happened_us = at_us;
    step.fact = {++records.sequence, 0};
    step.what = what;
    step.value = step.of = 0;
    change(step);
    record.steps.push_back(step);
  }
  template <typename Change>
  void OrderStepOn(const std::string& order, int64_t at_us, v1::Fact::WhatCase what,
                   Change change) {
    OrderRecord& record = OrderOf(order);
    OrderStep step = record.steps.back();
    step.happened_us = at_us;
    step.fact = {++records.sequence, 0};
    step.what = what;
    step.value = 0;
    step.of_day = kNever;
    step.billing.reset();
    change(step);
    record.steps.push_back(step);
  }

  // Out to the order's home at an instant.
  void HandOver(const std::string& unit, const std::string& order, int64_t at_us) {
    const int length = OrderOf(order).steps.back().length_days;
    Step(unit, at_us, v1::Fact::kHandedOver, [&](UnitStep& step) {
      step.custody = v1::CUSTODY_HOME;
      step.hygiene = v1::HYGIENE_SOILED;
      step.commitment = v1::COMMITMENT_ON_RENT;
      step.order = order;
      step.ready = false;
    });
    OrderStepOn(order, at_us, v1::Fact::kHandedOver, [&](OrderStep& step) {
      step.status = v1::ORDER_STATUS_ON_RENT;
      step.unit = unit;
      step.due_day = at_us / kDayLength + length - 1;
    });
  }
  // Back on the van.
  void PickUp(const std::string& unit, const std::string& order, int64_t at_us) {
    Step(unit, at_us, v1::Fact::kPickedUp, [&](UnitStep& step) {
      step.custody = v1::CUSTODY_PLACE;
      step.place = "van";
      step.condition = v1::CONDITION_UNTESTED;
      step.commitment = v1::COMMITMENT_FREE;
      step.order.clear();
    });
    OrderStepOn(order, at_us, v1::Fact::kPickedUp,
                [&](OrderStep& step) { step.status = v1::ORDER_STATUS_CLOSED; });
  }
  // To the dock, cleaned, passed and on the shelf, at those instants.
  void MakeReady(const std::string& unit, int64_t dock_us, int64_t clean_us, int64_t passed_us,
                 int64_t shelf_us) {
    Step(unit, dock_us, v1::Fact::kReceivedBack, [](UnitStep& step) { step.place = "dock"; });
    Step(unit, clean_us, v1::Fact::kCleaningFinished,
         [](UnitStep& step) { step.hygiene = v1::HYGIENE_CLEANED; });
    Step(unit, passed_us, v1::Fact::kInspectionDone, [](UnitStep& step) {
      step.condition = v1::CONDITION_PASSED;
      step.value = 1;
    });
    Step(unit, shelf_us, v1::Fact::kUnitMoved, [](UnitStep& step) {
      step.place = "shelf";
      step.ready = true;
    });
  }
  // A whole rental in whole days.
  void Rental(const std::string& unit, const std::string& order, int64_t out, int64_t back,
              int64_t ready) {
    HandOver(unit, order, At(out));
    PickUp(unit, order, At(back));
    MakeReady(unit, At(back, 15), At(ready, 9), At(ready, 10), At(ready, 11));
  }

  UnitRecord& UnitOf(const std::string& unit) {
    return *std::find_if(records.units.begin(), records.units.end(),
                         [&](const UnitRecord& u) { return u.unit == unit; });
  }
  OrderRecord& OrderOf(const std::string& order) {
    return *std::find_if(records.orders.begin(), records.orders.end(),
                         [&](const OrderRecord& o) { return o.order == order; });
  }
  // In the order that the ledger's reader gives, as of an instant.
  const Records& AsOf(int64_t at_us) {
    records.known_us = at_us;
    std::sort(records.units.begin(), records.units.end(),
              [](const auto& a, const auto& b) { return a.unit < b.unit; });
    std::sort(records.orders.begin(), records.orders.end(),
              [](const auto& a, const auto& b) { return a.order < b.order; });
    return records;
  }

  Records records;
};

// Two years of a steady branch: an order on most weekdays, 21 days out, two days of turnaround.
inline void FillSteady(BuiltRecords* built, int days, int units, int every = 2) {
  for (int u = 0; u < units; ++u) built->Unit("U" + std::to_string(1000 + u), 0, 300'000);
  std::vector<int64_t> free_from(static_cast<size_t>(units), 0);
  int number = 0;
  for (int64_t day = 10; day < days + 12; ++day) {
    if ((kDay0 + day + 3) % 7 >= 5 || day % every != 0) continue;
    size_t pick = 0;
    while (pick < free_from.size() && free_from[pick] > day) ++pick;
    const std::string order = "R" + std::to_string(10'000 + number++);
    const int64_t taken = day - 7 - day % 5;
    if (taken >= days) continue;
    built->Order(order, taken, day);
    if (pick == free_from.size() || day >= days) continue;
    const std::string unit = "U" + std::to_string(1000 + static_cast<int>(pick));
    const int64_t back = day + 20 + day % 4;
    built->HandOver(unit, order, At(day));
    free_from[pick] = back + 3;
    if (back < days) built->PickUp(unit, order, At(back));
    if (back + 2 < days) {
      built->MakeReady(unit, At(back, 15), At(back + 2, 9), At(back + 2, 10), At(back + 2, 11));
    }
  }
}

}  // namespace ferrule::outlook
