// When a unit will be ready again: learned from the rentals and turnarounds on the records, as they
// were known day by day.
#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <set>
#include <vector>

#include "core/promise/turn_law.h"

namespace ferrule::promise {

// Days are day numbers, and everything is told as at the end of its day.

// A rental with what was known of its due day, and from when on. `dues` is in rising order of
// `known_from`; the first is known from the start.
struct RentalSeen {
  struct Due {
    int64_t known_from = 0;
    int64_t due = 0;
    bool agreed = false;  // a pick-up agreed with the patient, else the day that the policy gives
  };
  int64_t start = 0;
  std::vector<Due> dues;
  std::optional<int64_t> returned;  // none while it is out
};

// Odds of return and readiness. A rental is judged by how late it is, counted from the due day that
// is known now: the law looks at all rentals that stood the same way on some earlier day and at
// what became of them (chances of each day ahead, for each day of lateness: landmarking), whether
// or not they were extended after that day. Each weekday has its factor, since few units are
// fetched on a Sunday. Thin data are drawn towards what is usual: returns 1 to 4 days after the due
// day, few before (common practice, no source).
class ReturnLaw {
 public:
  // `turnaround_days` is the settings' figure, 0 or more; `days_off` the branch's.
  ReturnLaw(const std::vector<RentalSeen>& rentals, const std::vector<TurnSeen>& turns,
            int64_t today, int turnaround_days, std::set<int64_t> days_off = {});

  // P(back by the end of `today` + `ahead` | still out at the end of `today`, `late` days after the
  // due day; negative: before it).
  double BackWithin(int64_t today, int64_t late, bool agreed, int64_t ahead) const;
  // P(back and ready again within 0, 1, ... `horizon` days | still out as above).
  std::vector<double> ReadyAfterRental(int64_t today, int64_t late, bool agreed,
                                       int64_t horizon) const;
  const TurnLaw& turn() const { return turn_; }

  // Rentals that it was learned from.
  int64_t rentals() const { return rentals_; }
  // How many more come back on that day of the week than on a usual one; 0 is Monday.
  double WeekdayFactor(int weekday) const { return weekday_[static_cast<size_t>(weekday)]; }

 private:
  // Chances of coming back 1, 2, ... days ahead of a landmark, before the weekday's factor.
  struct Landmark {
    std::vector<double> hazard;
    double tail = 0;    // beyond them
    double weight = 0;  // stays it rests on
  };
  struct Stay;
  using Stays = std::vector<std::vector<Stay>>;

  static void AddRental(const RentalSeen& rental, int64_t today, Stays* stays);
  static std::vector<Stay> WithNeighbours(const Stays& stays, size_t index);
  void LearnWeekdays(const Stays* stays);
  Landmark Learn(const std::vector<Stay>& stays) const;
  double Factor(int64_t day) const { return weekday_[static_cast<size_t>(WeekdayOf(day))]; }
  std::vector<double> BackBy(int64_t today, int64_t late, bool agreed, int64_t horizon) const;

  std::vector<Landmark> landmarks_[2];  // not agreed, agreed
  std::array<double, 7> weekday_ = {1, 1, 1, 1, 1, 1, 1};
  TurnLaw turn_;
  int64_t rentals_ = 0;
};

}  // namespace ferrule::promise
