#include "core/promise/turn_law.h"

#include <algorithm>
#include <cmath>
#include <utility>

namespace ferrule::promise {
namespace {

constexpr double kPriorWeight = 8;  // turns that the usual odds weigh

std::vector<int64_t> ReadyDays(const std::vector<TurnSeen>& turns, int64_t today) {
  std::vector<int64_t> days;
  for (const TurnSeen& turn : turns) {
    if (turn.ready && *turn.ready <= today) days.push_back(*turn.ready);
  }
  return days;
}

// Where every turn has ended the curve itself is the answer; beyond what was seen the tail's hazard
// goes on.
double EndedWithin(const plan::SurvivalCurve& curve, double age, double ahead) {
  const bool whole = !curve.steps().empty() && curve.steps().back().survival <= 0;
  const double going_on = curve.At(age);
  if (whole && going_on > 0) return 1 - curve.At(age + ahead) / going_on;
  return 1 - curve.Remaining(age, ahead);
}

}  // namespace

TurnLaw::TurnLaw(const std::vector<TurnSeen>& turns, int64_t today, int usual_days,
                 std::set<int64_t> days_off)
    : open_days_(ReadyDays(turns, today), std::move(days_off)),
      usual_(1.0 / (std::max(0, usual_days) + 1)) {
  std::vector<plan::Stay> from_patient;
  std::vector<plan::Stay> from_house;
  const auto add = [&](int64_t from, const TurnSeen& turn, std::vector<plan::Stay>* stays) {
    const bool ready = turn.ready && *turn.ready <= today;
    const int64_t until = ready ? *turn.ready : std::min(today, turn.gone.value_or(today));
    if (from > until) return;
    stays->push_back({static_cast<double>(open_days_.Between(from, until)), ready, 0});
  };
  for (const TurnSeen& turn : turns) {
    if (turn.left > today) continue;
    ++turns_;
    add(turn.left, turn, &from_patient);
    if (turn.received) add(*turn.received, turn, &from_house);
  }
  // Whole days are always an acceptable stay.
  const auto learn = [](const std::vector<plan::Stay>& stays, Curve* curve) {
    if (auto limit = plan::ProductLimit(stays); limit.ok()) curve->curve = *std::move(limit);
    curve->weight = static_cast<double>(stays.size());
  };
  learn(from_patient, &from_patient_);
  learn(from_house, &from_house_);
}

double TurnLaw::Within(const Curve& curve, int64_t age, int64_t ahead) const {
  if (ahead < 0) return 0;
  const bool begins = age < 0;
  const double usual = 1 - std::pow(1 - usual_, static_cast<double>(ahead) + (begins ? 1 : 0));
  if (curve.weight <= 0) return usual;
  const double seen =
      begins ? 1 - curve.curve.At(static_cast<double>(ahead))
             : EndedWithin(curve.curve, static_cast<double>(age), static_cast<double>(ahead));
  return (curve.weight * seen + kPriorWeight * usual) / (curve.weight + kPriorWeight);
}

double TurnLaw::FromPatient(int64_t left, int64_t through) const {
  if (through < left) return 0;
  return FromPatientWithin(open_days_.Between(left, through));
}

double TurnLaw::FromPatientWithin(int64_t open_days) const {
  return Within(from_patient_, -1, open_days);
}

double TurnLaw::FromHouse(int64_t received, int64_t today, int64_t through) const {
  if (through <= today) return 0;
  return Within(from_house_, open_days_.Between(received, today),
                open_days_.Between(today, through));
}

double TurnLaw::FromVan(int64_t today, int64_t through) const {
  const int64_t received = open_days_.NextAfter(today);
  if (through < received) return 0;
  return Within(from_house_, -1, open_days_.Between(received, through));
}

}  // namespace ferrule::promise
