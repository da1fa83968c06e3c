#include "tests/bench/plan/branch.h"

#include <fstream>
#include <map>

#include "absl/time/civil_time.h"

namespace ferrule::bench {
namespace {

const absl::CivilDay kDayZero(2021, 1, 3);

bool IsHoliday(absl::CivilDay day) {
  const int date = day.month() * 100 + day.day();
  for (int holiday : {101, 501, 704, 1224, 1225, 1226, 1231})
    if (date == holiday) return true;
  return false;
}

}  // namespace

int64_t DayNumber(double day) {
  return day == kMissing ? plan::kNotYet
                         : kDayZero - absl::CivilDay(1970, 1, 1) + static_cast<int64_t>(day);
}

int64_t BranchFolder::InUse(int device_class, int day) const {
  const size_t row = static_cast<size_t>(day - 1);
  if (row >= truth.rows.size()) return -1;
  return static_cast<int64_t>(truth.Number(row, names[static_cast<size_t>(device_class)]));
}

BranchFolder ReadBranch(const std::string& folder) {
  const Table protocol = ReadTable(folder + "/protocol.csv");
  const Table cases = ReadTable(folder + "/cases.csv");
  BranchFolder branch;
  if (std::ifstream(folder + "/truth_busy.csv"))
    branch.truth = ReadTable(folder + "/truth_busy.csv");
  std::map<std::string, int> number;
  const bool has_patients = cases.Has("patient") && cases.Has("side");
  for (size_t i = 0; i < cases.rows.size(); ++i) {
    const std::string& model = cases.At(i, "model");
    const auto [it, fresh] = number.emplace(model, static_cast<int>(branch.names.size()));
    if (fresh) branch.names.push_back(model);
    plan::Booking b;
    b.device_class = it->second;
    b.booked = DayNumber(cases.Number(i, "booked"));
    b.surgery = DayNumber(cases.Number(i, "surgery"));
    b.changed = DayNumber(cases.Number(i, "changed"));
    b.start = DayNumber(cases.Number(i, "start"));
    b.returned = DayNumber(cases.Number(i, "returned"));
    b.ready = DayNumber(cases.Number(i, "ready"));
    b.prescribed_days = static_cast<int>(cases.Number(i, "prescribed"));
    if (has_patients && cases.Number(i, "patient") > 0 && cases.Number(i, "side") > 0) {
      b.patient = static_cast<uint64_t>(cases.Number(i, "patient"));
      b.side = static_cast<int>(cases.Number(i, "side"));
    }
    branch.input.bookings.push_back(b);
  }
  const int last = static_cast<int>(protocol.Number(0, "n"));
  branch.input.horizon = static_cast<int>(protocol.Number(0, "h"));
  for (int day = -400; day <= last + 400; ++day)
    if (IsHoliday(kDayZero + day)) branch.input.holidays.push_back(DayNumber(day));
  const int step = static_cast<int>(protocol.Number(0, "step"));
  for (int origin = static_cast<int>(protocol.Number(0, "first_origin"));
       origin + branch.input.horizon <= last; origin += step)
    branch.origins.push_back(origin);
  return branch;
}

}  // namespace ferrule::bench
