#include "core/unit/tester.h"

#include "core/finding/raise.h"
#include "core/time/civil.h"

namespace ferrule::unit {
namespace {

void Calibrate(const fact::FactView& view, v1::TesterState* tester) {
  const v1::TesterCalibrated& f = view.fact().tester_calibrated();
  v1::Calibration* calibration = tester->add_calibrations();
  finding::SetStamp(view, calibration->mutable_done());
  *calibration->mutable_due_date() = f.due_date();
  calibration->set_certificate(f.certificate());
  calibration->set_found_out_of_tolerance(f.found_out_of_tolerance());
}

void Doubt(const fact::FactView& view, v1::TesterState* tester) {
  const v1::TesterDoubted& f = view.fact().tester_doubted();
  v1::TesterDoubt* doubt = tester->add_doubts();
  *doubt->mutable_from_time() = f.from_time();
  *doubt->mutable_to_time() = f.to_time();
  doubt->set_because(f.because());
  finding::SetStamp(view, doubt->mutable_noted());
}

}  // namespace

void ApplyToTester(const fact::FactView& view, v1::SubjectState* state) {
  if (view.fact().has_tester_calibrated()) Calibrate(view, state->mutable_tester());
  if (view.fact().has_tester_doubted()) Doubt(view, state->mutable_tester());
}

Trust TrustIn(const v1::TesterState& tester, int64_t at_us, absl::CivilDay day) {
  for (const v1::TesterDoubt& doubt : tester.doubts()) {
    const bool within =
        time::ToMicros(doubt.from_time()) <= at_us && at_us < time::ToMicros(doubt.to_time());
    if (within) return Trust::kDoubted;
  }
  const v1::Calibration* last = nullptr;
  for (const v1::Calibration& calibration : tester.calibrations()) {
    if (time::ToMicros(calibration.done().time()) <= at_us) last = &calibration;
  }
  if (last == nullptr) return Trust::kNotCalibrated;
  return day <= time::ToDay(last->due_date()) ? Trust::kCalibrated : Trust::kOutOfDate;
}

}  // namespace ferrule::unit
