// When a unit will be ready again: learned from the rentals and turnarounds on the records, as they
// were known day by day.
#pragma once

#include <cstdint>
#include <optional>
#include <vector>

#include "core/plan/survival.h"

namespace ferrule::promise {

// Days are day numbers, and everything is told as at the end of its day.

// A rental with what was known of its due day, and from when on. `dues` is in rising order of
// `known_from`; the first is known from the start.
struct RentalSeen {
  struct Due {
    int64_t known_from = 0;
    int64_t due = 0;
    bool agreed = false;  // a pick-up agreed with the patient, else the end of a prescription
  };
  int64_t start = 0;
  std::vector<Due> dues;
  std::optional<int64_t> returned;  // none while it is out
};

// A unit from its return until it was ready again.
struct TurnSeen {
  int64_t returned = 0;
  std::optional<int64_t> ready;  // none while it is not
};

// Odds of return and readiness. A rental is judged by how late it is, counted from the due day that
// is known now: the law looks at all rentals that stood the same way on some earlier day and at
// what became of them (a curve for each day of lateness: landmarking, product limit), whether or
// not they were extended after that day. Thin data are drawn towards what is usual: returns 1 to 4
// days after the due day, few before (common practice, no source), and a turnaround of the length
// that the settings give.
class ReturnLaw {
 public:
  // `turnaround_days` is the settings' figure, 0 or more.
  ReturnLaw(const std::vector<RentalSeen>& rentals, const std::vector<TurnSeen>& turns,
            int64_t today, int turnaround_days);

  // P(back within `ahead` days | still out `late` days after the due day; negative: before it).
  double BackWithin(int64_t late, bool agreed, int64_t ahead) const;
  // P(ready within `ahead` days | returned `age` days ago and not ready); age -1: just about to
  // return.
  double ReadyWithin(int64_t age, int64_t ahead) const;
  // P(back and ready again within 0, 1, ... `horizon` days | still out as above).
  std::vector<double> ReadyAfterRental(int64_t late, bool agreed, int64_t horizon) const;

  // Rentals that it was learned from.
  int64_t rentals() const { return rentals_; }

 private:
  struct Landmark {
    plan::SurvivalCurve curve;
    double weight = 0;  // stays it rests on
  };
  double Usual(int64_t late, bool agreed, int64_t ahead) const;

  std::vector<Landmark> landmarks_[2];  // not agreed, agreed
  plan::SurvivalCurve turns_;
  double turn_weight_ = 0;
  double usual_turn_ = 0;  // chance a day to become ready, where nothing is known
  int64_t rentals_ = 0;
};

}  // namespace ferrule::promise
