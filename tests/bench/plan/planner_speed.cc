// planner_speed: how long the planner takes, beside a floor of the same run: ten million numbers of
// its own generator. One JSON line. Cells are branches of one class with three years of orders.
#include <chrono>
#include <cstdio>
#include <vector>

#include "core/plan/occupancy.h"
#include "core/plan/random.h"
#include "core/plan/simulation.h"

namespace ferrule::bench {
namespace {

double Seconds(const std::chrono::steady_clock::time_point& since) {
  return std::chrono::duration<double>(std::chrono::steady_clock::now() - since).count();
}

plan::OccupancyInput Cell(uint64_t seed, int years) {
  plan::OccupancyInput input;
  input.now = 20'000;
  input.horizon = 56;
  plan::Random random(seed, 1);
  for (int64_t day = input.now - 365 * years; day < input.now + 30; ++day) {
    for (int64_t n = random.Poisson(day % 7 < 5 ? .8 : 0); n > 0; --n) {
      plan::Booking b;
      b.booked = day - random.Poisson(12);
      b.surgery = day;
      b.prescribed_days = 21;
      if (b.booked > input.now) continue;
      if (day <= input.now) {
        b.start = day + 1;
        b.returned = b.start + 20 + random.Poisson(2);
        b.ready = b.returned + 1 + random.Poisson(1);
      }
      input.bookings.push_back(b);
    }
  }
  return input;
}

double Nightly(int cells, int years, double* mean) {
  std::vector<plan::OccupancyInput> inputs;
  for (int c = 0; c < cells; ++c) inputs.push_back(Cell(static_cast<uint64_t>(c) + 1, years));
  const auto begin = std::chrono::steady_clock::now();
  for (const plan::OccupancyInput& input : inputs) {
    *mean += plan::Mean(plan::ForecastOccupancy(input)[0].days[20].units);
  }
  return Seconds(begin);
}

int Run() {
  const auto begin = std::chrono::steady_clock::now();
  plan::Random random(1);
  uint64_t sum = 0;
  for (int i = 0; i < 10'000'000; ++i) sum += random.Next();
  const double floor = Seconds(begin);
  double mean = 0;
  const double small = Nightly(54, 3, &mean);  // 54 x 56 = 3,024 days
  const double cells_500 = Nightly(500, 3, &mean);
  const double half_history = Nightly(100, 2, &mean), double_history = Nightly(100, 4, &mean);
  plan::SimulationInput input;
  input.orders.assign(365, 4);
  for (int k = 0; k < 42; ++k) input.length_chance.push_back(k < 14 ? 0 : 1);
  const auto paths = std::chrono::steady_clock::now();
  const double wanted = plan::SimulateWanted(input).mean[300];
  const double monte_carlo = Seconds(paths);
  std::printf(
      "{\"floor_s\":%.4f,\"occupancy_3024_days_s\":%.3f,\"occupancy_ratio\":%.2f,"
      "\"nightly_500_cells_s\":%.3f,\"nightly_ratio\":%.1f,\"cells_growth\":%.2f,"
      "\"history_growth\":%.2f,\"monte_carlo_365x2000_s\":%.3f,\"monte_carlo_ratio\":%.2f,"
      "\"check\":%.3f}\n",
      floor, small, small / floor, cells_500, cells_500 / floor, cells_500 / 500 / (small / 54),
      double_history / half_history, monte_carlo, monte_carlo / floor,
      mean / 754 + wanted + static_cast<double>(sum % 2));
  return 0;
}

}  // namespace
}  // namespace ferrule::bench

int main() { return ferrule::bench::Run(); }
