#include "core/unit/meter.h"

#include <string>

#include "core/time/civil.h"
#include "core/unit/ready.h"

namespace ferrule::unit {
namespace {

constexpr int64_t kMicrosPerSecond = 1'000'000;

// Hours as a meter shows them: "43.8".
std::string Hours(int64_t seconds) {
  const bool negative = seconds < 0;
  const int64_t tenths = (negative ? -seconds : seconds) / kMeterResolutionS;
  return (negative ? "-" : "") + std::to_string(tenths / 10) + "." + std::to_string(tenths % 10);
}

}  // namespace

void MeterFold::Begin(int64_t reading_s) {
  meter_->set_segment_count(1);
  meter_->set_segment_first_s(reading_s);
  meter_->set_reading_s(reading_s);
  finding::SetStamp(view_, meter_->mutable_read());
}

void MeterFold::Read(int64_t reading_s) {
  if (!meter_->has_read()) return Begin(reading_s);
  const int64_t last_s = meter_->reading_s();
  if (!Plausible(reading_s - last_s, reading_s, last_s)) return;
  meter_->set_reading_s(reading_s);
  finding::SetStamp(view_, meter_->mutable_read());
}

void MeterFold::Replace(std::optional<int64_t> old_last_s, int64_t new_first_s) {
  const int64_t last_s = meter_->reading_s();
  if (!meter_->has_read()) {
    meter_->set_incomplete(true);
    return Begin(new_first_s);
  }
  if (old_last_s && Plausible(*old_last_s - last_s, *old_last_s, last_s)) {
    meter_->set_reading_s(*old_last_s);
  } else {
    meter_->set_incomplete(true);
  }
  StartSegment(new_first_s);
}

void MeterFold::RollOver(int64_t reading_s, int64_t width_s) {
  if (!meter_->has_read()) {
    meter_->set_incomplete(true);
    return Begin(reading_s);
  }
  // From the last reading to the width, then from nought (9987.4 to 0031.2 at a width of 10000.0
  // is 43.8 h). A width below the last reading is not this meter's: the increment is negative.
  const int64_t to_width_s = width_s - meter_->reading_s();
  const int64_t added_s = to_width_s < 0 ? to_width_s : to_width_s + reading_s;
  if (!Plausible(added_s, reading_s, meter_->reading_s())) return;
  meter_->set_reading_s(width_s);
  StartSegment(0);
  meter_->set_reading_s(reading_s);
}

bool MeterFold::Plausible(int64_t added_s, int64_t reading_s, int64_t last_s) {
  const v1::Stamp* last = &meter_->read();
  if (added_s < 0) {
    raiser_->Raise(v1::REASON_METER_FELL, {{"found", Hours(reading_s)}, {"limit", Hours(last_s)}},
                   {last});
    return false;
  }
  const int64_t elapsed_s = (view_.happened_us - time::ToMicros(last->time())) / kMicrosPerSecond;
  if (added_s > elapsed_s + kMeterResolutionS) {
    raiser_->Raise(v1::REASON_METER_BEYOND_ELAPSED,
                   {{"found", Hours(added_s)}, {"limit", Hours(elapsed_s)}}, {last});
    return false;
  }
  return true;
}

void MeterFold::StartSegment(int64_t first_s) {
  meter_->set_earlier_s(TrueRunSeconds(*meter_));
  meter_->set_segment_first_s(first_s);
  meter_->set_reading_s(first_s);
  meter_->set_segment_count(meter_->segment_count() + 1);
  finding::SetStamp(view_, meter_->mutable_read());
}

int64_t TrueRunSeconds(const v1::Meter& meter) {
  return meter.earlier_s() + meter.reading_s() - meter.segment_first_s();
}

}  // namespace ferrule::unit
