// planner_speed: how long the planner takes, beside a floor of the same run: ten million numbers of
// its own generator. One JSON line. Cells are branches of one class with three years of orders.
// With Rscript and its package survival, survfit's time on the same rentals stands beside ours.
#include <algorithm>
#include <chrono>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <string>
#include <vector>

#include "core/plan/occupancy.h"
#include "core/plan/other_branches.h"
#include "core/plan/random.h"
#include "core/plan/simulation.h"
#include "core/plan/survival.h"

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
  std::vector<const plan::OccupancyInput*> branches;
  for (const plan::OccupancyInput& input : inputs) branches.push_back(&input);
  const auto begin = std::chrono::steady_clock::now();
  const std::vector<plan::OtherBranches> others = plan::TellOthers(branches);
  for (size_t i = 0; i < inputs.size(); ++i) {
    plan::OccupancyInput& input = inputs[i];
    input.others = others[i];
    *mean += plan::Mean(plan::ForecastOccupancy(input)[0].days[20].units);
  }
  return Seconds(begin);
}

// Rentals of 14, 21 or 28 days and an overstay, a part of them still out.
std::vector<plan::Stay> Rentals(int n) {
  std::vector<plan::Stay> rentals;
  plan::Random random(42);
  for (int i = 0; i < n; ++i) {
    const double u = random.Uniform(), due = u < .2 ? 14 : u < .8 ? 21 : 28;
    const double length =
        due + static_cast<double>(random.Poisson(-3 * std::log(random.Uniform())));
    const double seen = std::ceil(400 * random.Uniform());
    rentals.push_back({std::min(length, seen), length <= seen, 0});
  }
  return rentals;
}

// Least of `repeats` times, as the first touches the memory for all.
template <typename Work>
double Least(int repeats, const Work& work) {
  double least = 1e300;
  for (int i = 0; i < repeats; ++i) {
    const auto begin = std::chrono::steady_clock::now();
    work();
    least = std::min(least, Seconds(begin));
  }
  return least;
}

struct BesideR {
  double seconds = 0;  // 0: R is not there
  double left = 0;     // share that lasts beyond 21 days, as R has it
};

BesideR Survfit(const std::vector<plan::Stay>& rentals) {
  std::string name = std::filesystem::temp_directory_path() / "rentals-XXXXXX";
  const int file = mkstemp(name.data());
  FILE* out = file < 0 ? nullptr : fdopen(file, "w");
  if (out == nullptr) return {};
  for (const plan::Stay& stay : rentals) std::fprintf(out, "%.0f %d\n", stay.exit, stay.ended);
  std::fclose(out);
  const std::string command =
      std::string("Rscript --vanilla -e 'suppressMessages(library(survival)); d <- read.table(\"") +
      name +
      "\"); f <- function() survfit(Surv(V1, V2) ~ 1, d); r <- replicate(5, "
      "system.time(f())[[3]]); cat(min(r), summary(f(), times = 21)$surv)' 2>/dev/null";
  BesideR r;
  if (FILE* pipe = popen(command.c_str(), "r")) {
    if (std::fscanf(pipe, "%lf %lf", &r.seconds, &r.left) != 2) r = {};
    pclose(pipe);
  }
  std::remove(name.c_str());
  return r;
}

int Run() {
  const auto begin = std::chrono::steady_clock::now();
  plan::Random random(1);
  uint64_t sum = 0;
  for (int i = 0; i < 10'000'000; ++i) sum += random.Next();
  const double floor = Seconds(begin);
  const std::vector<plan::Stay> rentals = Rentals(100'000);
  double left = 0;
  const double curve = Least(5, [&] { left = plan::ProductLimit(rentals)->At(21); });
  const BesideR survfit = Survfit(rentals);
  if (survfit.seconds > 0 && !(std::abs(left - survfit.left) < 1e-9)) {
    std::fprintf(stderr, "the curve has %.12f beyond 21 days, survfit %.12f\n", left, survfit.left);
    return 1;
  }
  double mean = 0;
  const plan::OccupancyInput cell = Cell(1, 3);
  const double refit =
      Least(3, [&] { mean += plan::Mean(plan::ForecastOccupancy(cell)[0].days[20].units); });
  mean = 0;
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
      "{\"floor_s\":%.4f,\"curve_100000_rentals_s\":%.5f,\"survfit_s\":%.4f,"
      "\"survfit_ratio\":%.1f,\"refit_one_cell_s\":%.4f,\"occupancy_3024_days_s\":%.3f,\"occupancy_"
      "ratio\":%.2f,"
      "\"nightly_500_cells_s\":%.3f,\"nightly_ratio\":%.1f,\"cells_growth\":%.2f,"
      "\"history_growth\":%.2f,\"monte_carlo_365x2000_s\":%.3f,\"monte_carlo_ratio\":%.2f,"
      "\"check\":%.3f}\n",
      floor, curve, survfit.seconds, survfit.seconds / curve, refit, small, small / floor,
      cells_500, cells_500 / floor, cells_500 / 500 / (small / 54), double_history / half_history,
      monte_carlo, monte_carlo / floor, mean / 754 + wanted + static_cast<double>(sum % 2));
  return 0;
}

}  // namespace
}  // namespace ferrule::bench

int main() { return ferrule::bench::Run(); }
