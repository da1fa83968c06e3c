// How long a unit takes from the patient's door to the shelf, counted in days on which the bench
// works.
#pragma once

#include <cstdint>
#include <optional>
#include <set>
#include <vector>

#include "core/plan/survival.h"
#include "core/promise/open_days.h"

namespace ferrule::promise {

// Days are day numbers, and everything is told as at the end of its day.

// A unit from the patient until it was ready again.
struct TurnSeen {
  int64_t left = 0;                 // it left the patient
  std::optional<int64_t> received;  // it stood in the house; none while it is on the way
  std::optional<int64_t> ready;     // none while it is not
  std::optional<int64_t> gone;      // it left the turnaround otherwise: lost, sold
};

// The law: product limits of open days, with a usual turnaround in place of thin data.
class TurnLaw {
 public:
  TurnLaw() = default;
  // `usual_days` is the settings' figure, open days, 0 or more.
  TurnLaw(const std::vector<TurnSeen>& turns, int64_t today, int usual_days,
          std::set<int64_t> days_off);

  // P(ready by the end of day `through` | it leaves the patient on day `left`).
  double FromPatient(int64_t left, int64_t through) const;
  // The same by the open days between the two.
  double FromPatientWithin(int64_t open_days) const;
  // P(ready by the end of day `through` | received on day `received`, not ready at the end of
  // `today`).
  double FromHouse(int64_t received, int64_t today, int64_t through) const;
  // P(ready by the end of day `through` | still on the way at the end of `today`).
  double FromVan(int64_t today, int64_t through) const;

  const OpenDays& open_days() const { return open_days_; }
  int64_t turns() const { return turns_; }

 private:
  struct Curve {
    plan::SurvivalCurve curve;
    double weight = 0;
  };
  // P(ready within `ahead` open days | not ready after `age` of them); age -1: about to begin.
  double Within(const Curve& curve, int64_t age, int64_t ahead) const;

  OpenDays open_days_;
  Curve from_patient_;
  Curve from_house_;
  double usual_ = 1;  // chance to become ready, each open day
  int64_t turns_ = 0;
};

}  // namespace ferrule::promise
