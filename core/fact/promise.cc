#include "core/fact/promise.h"

#include "core/time/civil.h"

namespace ferrule::fact {
namespace {

std::string Words(const google::type::Date& date) {
  return time::IsValid(date) ? time::FormatDay(time::ToDay(date)) : "";
}

}  // namespace

v1::StandingPromise PromiseOf(const FactView& view) {
  const v1::UnitPromised& f = view.fact().unit_promised();
  v1::StandingPromise promise;
  promise.set_unit(f.unit());
  promise.set_order(f.order());
  *promise.mutable_from_date() = f.from_date();
  *promise.mutable_through_date() = f.through_date();
  promise.set_firm(f.firm());
  if (f.has_until_time()) *promise.mutable_until_time() = f.until_time();
  promise.set_after_order(f.after_order());
  promise.set_odds_permille(f.odds_permille());
  v1::Stamp* stamp = promise.mutable_promised();
  time::SetMicros(view.happened_us, stamp->mutable_time());
  stamp->set_actor(view.entry->actor());
  stamp->mutable_fact()->set_entry_id(view.entry->entry_id());
  stamp->mutable_fact()->set_index(view.index);
  return promise;
}

bool PromiseLapsed(const v1::StandingPromise& promise, int64_t at_us, absl::TimeZone zone) {
  if (promise.has_until_time() && at_us >= time::ToMicros(promise.until_time())) return true;
  if (!time::IsValid(promise.through_date())) return true;
  return time::LocalDay(at_us, zone) > time::ToDay(promise.through_date());
}

bool ShareDays(const v1::StandingPromise& a, const v1::StandingPromise& b) {
  if (!time::IsValid(a.from_date()) || !time::IsValid(b.from_date()) ||
      !time::IsValid(a.through_date()) || !time::IsValid(b.through_date())) {
    return false;
  }
  return time::ToDay(a.from_date()) <= time::ToDay(b.through_date()) &&
         time::ToDay(b.from_date()) <= time::ToDay(a.through_date());
}

std::string FirstDayWords(const v1::StandingPromise& promise) { return Words(promise.from_date()); }

std::string LastDayWords(const v1::StandingPromise& promise) {
  return Words(promise.through_date());
}

}  // namespace ferrule::fact
