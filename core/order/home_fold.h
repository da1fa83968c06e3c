// The part of an order's fold that is about promises of days to come and about the device in the
// home: measures, limits, what is set, use.
#pragma once

#include <cstdint>
#include <optional>
#include <string>

#include "core/depot/settings_book.h"
#include "core/fact/fact_view.h"
#include "core/finding/raise.h"
#include "ferrule/v1/facts.pb.h"
#include "ferrule/v1/states.pb.h"

namespace ferrule::order {

// One fact on its way into one order. The life cycle is the caller's.
class HomeFold {
 public:
  HomeFold(const fact::FactView& view, const depot::Rules& rules, finding::Raiser* raiser,
           v1::OrderState* order)
      : view_(view), rules_(rules), raiser_(raiser), order_(order) {}

  void On(const v1::UsageReported& f);
  void On(const v1::MotionChanged& f);
  void On(const v1::WaitingNoted& f);
  void On(const v1::PromiseRefused& f);
  void On(const v1::UnitPromised& f);

  // What an order that was taken or changed says: measures that look like a slip are questioned.
  void Ordered(const v1::OrderDetails& said);
  // It has its unit, or wants none any more: promise and place in the line are over.
  void Served();
  // A unit went out: its meter, its model and what was set on it.
  void WentOut(const std::string& unit, const std::string& model, const v1::Motion& motion,
               std::optional<int64_t> meter_s);
  // A reading at the door.
  void MeterSeen(const std::string& unit, std::optional<int64_t> meter_s);
  // A promise whose time is up no longer binds.
  void LetPromiseLapse();

 private:
  void CheckUsage(const v1::UsageReported& f, const std::string& unit);
  void CheckMeter(const std::string& unit, int64_t meter_s);
  void CheckAhead(const v1::Motion& motion);
  void KeepChange(v1::MotionChanger changer, const std::string& reason);
  v1::UsageReading* AddReading(const std::string& unit, v1::UsageSource source);
  absl::TimeZone zone() const { return rules_.ZoneOf(order_->details().branch()); }
  absl::CivilDay today() const;

  const fact::FactView& view_;
  const depot::Rules& rules_;
  finding::Raiser* raiser_;
  v1::OrderState* order_;
};

}  // namespace ferrule::order
