#include "core/order/usage.h"

#include <algorithm>
#include <utility>

#include "absl/container/flat_hash_map.h"
#include "absl/strings/str_cat.h"
#include "core/fact/counted.h"
#include "core/fact/words.h"
#include "core/order/progression.h"
#include "core/time/civil.h"

namespace ferrule::order {
namespace {

constexpr int64_t kSecondsADay = 86'400;
constexpr int64_t kMicrosASecond = 1'000'000;

int64_t SecondsBetween(const v1::UsageReading& a, const v1::UsageReading& b) {
  return (time::ToMicros(b.reported().time()) - time::ToMicros(a.reported().time())) /
         kMicrosASecond;
}

bool Before(const v1::UsageInterval& a, const v1::UsageInterval& b) {
  const absl::CivilDay from_a = time::ToDay(a.from_date());
  const absl::CivilDay from_b = time::ToDay(b.from_date());
  return from_a < from_b;
}

v1::UsageInterval Between(const v1::UsageReading& a, const v1::UsageReading& b) {
  v1::UsageInterval interval;
  interval.set_unit(b.unit());
  *interval.mutable_from_date() = a.reported_date();
  *interval.mutable_through_date() = b.reported_date();
  interval.set_day_count(
      static_cast<int>(time::ToDay(b.reported_date()) - time::ToDay(a.reported_date())));
  interval.set_used_s(b.meter_s() - a.meter_s());
  interval.set_source(v1::USAGE_SOURCE_METER);
  const int64_t passed_s = SecondsBetween(a, b);
  if (interval.used_s() < 0) {
    interval.set_doubt(absl::StrCat("the meter fell from ", fact::HoursWords(a.meter_s()), " to ",
                                    fact::HoursWords(b.meter_s())));
  } else if (interval.used_s() > passed_s) {
    interval.set_doubt(absl::StrCat(fact::HoursWords(interval.used_s()), " of use in ",
                                    fact::HoursWords(passed_s)));
  } else if (interval.day_count() == 0 && interval.used_s() > 0) {
    interval.set_doubt("two readings on one day");
  }
  return interval;
}

v1::UsageInterval Told(const v1::UsageReading& reading) {
  v1::UsageInterval interval;
  interval.set_unit(reading.unit());
  *interval.mutable_from_date() = reading.from_date();
  *interval.mutable_through_date() = reading.through_date();
  interval.set_day_count(
      static_cast<int>(time::ToDay(reading.through_date()) - time::ToDay(reading.from_date()) + 1));
  interval.set_used_s(reading.used_s());
  interval.set_source(reading.source());
  if (interval.used_s() > interval.day_count() * kSecondsADay) {
    interval.set_doubt(absl::StrCat(fact::HoursWords(interval.used_s()), " of use in ",
                                    fact::Counted(interval.day_count(), "day", "days")));
  }
  return interval;
}

bool HasDays(const v1::UsageReading& r) {
  return r.has_used_s() && time::IsValid(r.from_date()) && time::IsValid(r.through_date());
}

// The meter's word stands above one that was told.
void SetAsideWhatIsMetered(std::vector<v1::UsageInterval>* intervals) {
  for (v1::UsageInterval& told : *intervals) {
    if (told.source() == v1::USAGE_SOURCE_METER || !told.doubt().empty()) continue;
    for (const v1::UsageInterval& metered : *intervals) {
      const bool counts = metered.source() == v1::USAGE_SOURCE_METER && metered.doubt().empty();
      const bool shares = time::ToDay(metered.from_date()) <= time::ToDay(told.through_date()) &&
                          time::ToDay(told.from_date()) < time::ToDay(metered.through_date());
      if (counts && shares) told.set_doubt("the meter was read for these days");
    }
  }
}

// Two words about the same days: the later report counts.
void SetAsideWhatIsToldTwice(std::vector<v1::UsageInterval>* intervals) {
  for (size_t i = 0; i < intervals->size(); ++i) {
    v1::UsageInterval& earlier = (*intervals)[i];
    if (earlier.source() == v1::USAGE_SOURCE_METER || !earlier.doubt().empty()) continue;
    for (size_t k = i + 1; k < intervals->size(); ++k) {
      const v1::UsageInterval& later = (*intervals)[k];
      if (later.source() == v1::USAGE_SOURCE_METER || !later.doubt().empty()) continue;
      const bool shares = time::ToDay(later.from_date()) <= time::ToDay(earlier.through_date()) &&
                          time::ToDay(earlier.from_date()) <= time::ToDay(later.through_date());
      if (shares) earlier.set_doubt("a later report tells the same days");
    }
  }
}

std::vector<v1::UsageInterval> IntervalsOf(const v1::OrderState& order) {
  std::vector<v1::UsageInterval> intervals;
  absl::flat_hash_map<std::string, const v1::UsageReading*> last;  // by unit, that counted
  for (const v1::UsageReading& reading : order.usage()) {
    if (HasDays(reading)) intervals.push_back(Told(reading));
    if (!reading.has_meter_s()) continue;
    const v1::UsageReading*& before = last[reading.unit()];
    if (before == nullptr) {
      before = &reading;
      continue;
    }
    v1::UsageInterval interval = Between(*before, reading);
    const bool counts = interval.doubt().empty();
    if (interval.day_count() > 0 || !counts) intervals.push_back(std::move(interval));
    // After a fall the new figure is the one to go on from; an impossible one is passed over.
    if (counts || reading.meter_s() < before->meter_s()) before = &reading;
  }
  SetAsideWhatIsMetered(&intervals);
  SetAsideWhatIsToldTwice(&intervals);
  std::stable_sort(intervals.begin(), intervals.end(), Before);
  return intervals;
}

int64_t Prescribed(const v1::OrderState& order, const std::vector<v1::UsageInterval>& intervals) {
  v1::Motion motion = order.details().motion();
  for (const v1::UsageInterval& interval : intervals) {
    motion = LimitsOn(order, time::ToDay(interval.through_date())).motion;
  }
  return motion.daily_use_s();
}

}  // namespace

v1::GetUsageResponse UsageOf(const v1::OrderState& order, const depot::Rules& rules) {
  v1::GetUsageResponse usage;
  usage.set_name("orders/" + order.order());
  std::vector<v1::UsageInterval> intervals = IntervalsOf(order);
  usage.set_prescribed_daily_use_s(Prescribed(order, intervals));
  for (v1::UsageInterval& interval : intervals) {
    if (interval.doubt().empty()) {
      usage.set_used_s(usage.used_s() + interval.used_s());
      usage.set_day_count(usage.day_count() + interval.day_count());
    } else {
      usage.set_doubtful_count(usage.doubtful_count() + 1);
    }
    *usage.add_intervals() = std::move(interval);
  }
  if (usage.day_count() == 0) return usage;
  usage.set_daily_use_s(usage.used_s() / usage.day_count());
  if (usage.prescribed_daily_use_s() == 0) return usage;
  usage.set_used_permille(
      static_cast<int>(usage.daily_use_s() * 1000 / usage.prescribed_daily_use_s()));
  usage.set_low(usage.used_permille() < rules.settings().usage_policy().low_use_permille());
  return usage;
}

}  // namespace ferrule::order
