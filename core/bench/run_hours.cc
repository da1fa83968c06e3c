#include "core/bench/run_hours.h"

#include <algorithm>

#include "core/unit/ready.h"

namespace ferrule::bench {
namespace {

constexpr int64_t kDayUs = int64_t{86'400} * 1'000'000;

// Whether the fact brings a meter reading.
bool BringsReading(const v1::Fact& fact, const std::string& unit) {
  switch (fact.what_case()) {
    case v1::Fact::kMeterRead:
    case v1::Fact::kMeterRolledOver:
      return true;
    case v1::Fact::kHandedOver:
      return fact.handed_over().has_meter_s();
    case v1::Fact::kPickedUp:
      return fact.picked_up().has_meter_s();
    case v1::Fact::kReceivedBack:
      return fact.received_back().has_meter_s();
    case v1::Fact::kExchanged:
      return fact.exchanged().unit_out() == unit ? fact.exchanged().has_out_meter_s()
                                                 : fact.exchanged().has_in_meter_s();
    default:
      return false;
  }
}

}  // namespace

void RunLog::Visit(const Moment& moment) {
  Segments(moment);
  Rentals(moment);
}

void RunLog::Segments(const Moment& moment) {
  const v1::Fact& fact = moment.view.fact();
  const v1::Meter& before = moment.before.meter();
  const v1::Meter& after = moment.after.meter();
  const bool taken = Same(after.read(), moment.stamp);
  if (BringsReading(fact, moment.after.unit()) && !taken) ++doubtful_;
  if (after.segment_count() > before.segment_count()) {
    if (!segments_.empty()) {
      v1::MeterSegment& ended = segments_.back();
      ended.set_run_s(after.earlier_s() - before.earlier_s());
      ended.set_last_s(ended.first_s() + ended.run_s());
      *ended.mutable_ended() = moment.stamp;
      const bool unread = after.incomplete() && !before.incomplete();
      ended.set_end(fact.has_meter_rolled_over() ? v1::SEGMENT_END_ROLLED_OVER
                    : unread                     ? v1::SEGMENT_END_REPLACED_UNREAD
                                                 : v1::SEGMENT_END_REPLACED);
      if (fact.has_meter_replaced() && !fact.meter_replaced().has_old_last_s()) {
        ended.set_end(v1::SEGMENT_END_REPLACED_UNREAD);
      }
    }
    v1::MeterSegment& begun = segments_.emplace_back();
    begun.set_first_s(after.segment_first_s());
    begun.set_end(v1::SEGMENT_END_OPEN);
    *begun.mutable_began() = moment.stamp;
  }
  if (segments_.empty() || !taken) return;
  v1::MeterSegment& present = segments_.back();
  present.set_last_s(after.reading_s());
  present.set_run_s(after.reading_s() - after.segment_first_s());
  *present.mutable_ended() = moment.stamp;
}

// From one set-out to the return, with the reading taken there or at the dock. A reading that was
// set aside leaves the run as it was, so that rental's use is not counted.
void RunLog::Rentals(const Moment& moment) {
  const bool was_out = moment.before.custody() == v1::CUSTODY_HOME;
  const bool is_out = moment.after.custody() == v1::CUSTODY_HOME;
  const v1::Meter& meter = moment.after.meter();
  const bool read = Same(meter.read(), moment.stamp);
  if (was_out && !is_out && out_us_ != 0) {
    over_us_ = moment.view.happened_us - out_us_;
    rented_us_ += over_us_;
    ++rentals_;
    out_us_ = 0;
  }
  if (over_us_ > 0 && read && !is_out) {
    if (out_read_ && !meter.incomplete()) {
      used_s_ += unit::TrueRunSeconds(meter) - out_run_s_;
      used_over_us_ += over_us_;
    }
    over_us_ = 0;
  }
  if (!is_out || was_out) return;
  over_us_ = 0;
  out_us_ = moment.view.happened_us;
  out_read_ = meter.has_read();
  out_run_s_ = unit::TrueRunSeconds(meter);
}

int64_t RunLog::daily_use_s() const {
  if (used_over_us_ <= 0) return 0;
  const double days = static_cast<double>(used_over_us_) / static_cast<double>(kDayUs);
  return static_cast<int64_t>(static_cast<double>(used_s_) / days);
}

int RunLog::rental_days() const {
  return rentals_ == 0 ? 0 : static_cast<int>((rented_us_ / rentals_ + kDayUs / 2) / kDayUs);
}

}  // namespace ferrule::bench
