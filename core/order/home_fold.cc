#include "core/order/home_fold.h"

#include <utility>

#include "absl/strings/str_cat.h"
#include "core/fact/promise.h"
#include "core/fact/words.h"
#include "core/order/fit.h"
#include "core/order/measures.h"
#include "core/order/motion_plan.h"
#include "core/time/civil.h"

namespace ferrule::order {
namespace {

constexpr int64_t kSecondsADay = 86'400;
constexpr int64_t kMicrosASecond = 1'000'000;

// "12.4" for the words that say "h" themselves.
std::string Hours(int64_t seconds) {
  const std::string words = fact::HoursWords(seconds);
  return words.substr(0, words.size() - 2);
}

}  // namespace

absl::CivilDay HomeFold::today() const { return time::LocalDay(view_.happened_us, zone()); }

void HomeFold::Ordered(const v1::OrderDetails& said) {
  if (said.has_motion() || said.has_progression()) {
    finding::SetStamp(view_, order_->mutable_motion_ordered());
  }
  for (v1::Finding& finding : QuestionableMeasures(said.measures(), rules_)) {
    raiser_->Raise(std::move(finding));
  }
}

void HomeFold::Served() {
  order_->clear_promise();
  order_->clear_waiting();
}

void HomeFold::WentOut(const std::string& unit, const std::string& model, const v1::Motion& motion,
                       std::optional<int64_t> meter_s) {
  order_->set_unit_model(model);
  MeterSeen(unit, meter_s);
  CheckAhead(motion);
  if (order_->has_motion_set()) KeepChange(v1::MOTION_CHANGER_REP, "");
}

void HomeFold::CheckAhead(const v1::Motion& motion) {
  for (v1::Finding& finding : AheadOfProgression(*order_, motion, today())) {
    raiser_->Raise(std::move(finding));
  }
}

void HomeFold::KeepChange(v1::MotionChanger changer, const std::string& reason) {
  v1::MotionChange* change = order_->add_motion_changes();
  *change->mutable_motion() = order_->motion_set();
  change->set_changed_by(changer);
  change->set_reason(reason);
  finding::SetStamp(view_, change->mutable_changed());
}

void HomeFold::On(const v1::MotionChanged& f) {
  v1::Motion set = order_->motion_set();
  set.MergeFrom(f.motion());
  for (v1::Finding& finding : BeyondOrder(order_->details().motion(), f.motion())) {
    raiser_->Raise(std::move(finding));
  }
  const v1::Model* model = rules_.FindModel(order_->unit_model());
  if (model != nullptr && model->has_motion()) {
    for (v1::Finding& finding : BeyondModel(model->motion(), f.motion())) {
      raiser_->Raise(std::move(finding));
    }
  }
  CheckAhead(f.motion());
  *order_->mutable_motion_set() = std::move(set);
  KeepChange(f.changed_by(), f.reason());
}

v1::UsageReading* HomeFold::AddReading(const std::string& unit, v1::UsageSource source) {
  v1::UsageReading* reading = order_->add_usage();
  reading->set_unit(unit);
  reading->set_source(source);
  *reading->mutable_reported_date() = time::FromDay(today());
  finding::SetStamp(view_, reading->mutable_reported());
  return reading;
}

void HomeFold::MeterSeen(const std::string& unit, std::optional<int64_t> meter_s) {
  if (meter_s) AddReading(unit, v1::USAGE_SOURCE_METER)->set_meter_s(*meter_s);
}

void HomeFold::On(const v1::UsageReported& f) {
  const std::string& unit = f.unit().empty() ? order_->unit() : f.unit();
  CheckUsage(f, unit);
  v1::UsageReading* reading = AddReading(unit, f.source());
  if (f.has_meter_s()) reading->set_meter_s(f.meter_s());
  if (f.has_used_s()) reading->set_used_s(f.used_s());
  if (f.has_from_date()) *reading->mutable_from_date() = f.from_date();
  if (f.has_through_date()) *reading->mutable_through_date() = f.through_date();
}

void HomeFold::CheckUsage(const v1::UsageReported& f, const std::string& unit) {
  if (f.has_meter_s()) CheckMeter(unit, f.meter_s());
  if (!f.has_used_s() || !time::IsValid(f.from_date()) || !time::IsValid(f.through_date())) return;
  const int64_t days = time::ToDay(f.through_date()) - time::ToDay(f.from_date()) + 1;
  if (f.used_s() <= days * kSecondsADay) return;
  raiser_->Raise(v1::REASON_USAGE_BEYOND_ELAPSED,
                 {{"found", Hours(f.used_s())}, {"limit", Hours(days * kSecondsADay)}});
}

// Against the last reading of that unit in this rental.
void HomeFold::CheckMeter(const std::string& unit, int64_t meter_s) {
  const v1::UsageReading* last = nullptr;
  for (const v1::UsageReading& r : order_->usage()) {
    if (r.unit() == unit && r.has_meter_s()) last = &r;
  }
  if (last == nullptr) return;
  const int64_t passed_s =
      (view_.happened_us - time::ToMicros(last->reported().time())) / kMicrosASecond;
  const int64_t added_s = meter_s - last->meter_s();
  if (added_s < 0) {
    raiser_->Raise(v1::REASON_METER_FELL,
                   {{"unit", unit}, {"found", Hours(meter_s)}, {"limit", Hours(last->meter_s())}},
                   {&last->reported()});
  } else if (added_s > passed_s) {
    raiser_->Raise(v1::REASON_METER_BEYOND_ELAPSED,
                   {{"unit", unit}, {"found", Hours(added_s)}, {"limit", Hours(passed_s)}},
                   {&last->reported()});
  }
}

// The first word keeps its place in the line; a later one says it better.
void HomeFold::On(const v1::WaitingNoted& f) {
  const v1::OrderStatus status = order_->status();
  if (status != v1::ORDER_STATUS_OPEN && status != v1::ORDER_STATUS_HELD) return;
  v1::Waiting* waiting = order_->mutable_waiting();
  if (!waiting->has_noted()) finding::SetStamp(view_, waiting->mutable_noted());
  if (f.has_asked_date()) *waiting->mutable_asked_date() = f.asked_date();
  if (!f.reason().empty()) waiting->set_reason(f.reason());
}

void HomeFold::On(const v1::PromiseRefused& f) {
  v1::RefusedPromise* refused = order_->add_refused_promises();
  *refused->mutable_asked_date() = f.asked_date();
  refused->set_kind(f.kind());
  if (f.has_offered_date()) *refused->mutable_offered_date() = f.offered_date();
  refused->set_reason(f.reason());
  finding::SetStamp(view_, refused->mutable_refused());
}

void HomeFold::On(const v1::UnitPromised& f) {
  if (order_->has_promise() && order_->promise().unit() != f.unit()) {
    raiser_->Raise(v1::REASON_ORDER_PROMISED_OTHER_UNIT, {{"unit", order_->promise().unit()}},
                   {&order_->promise().promised()});
  }
  const v1::OrderStatus status = order_->status();
  if (status != v1::ORDER_STATUS_OPEN && status != v1::ORDER_STATUS_HELD) return;
  *order_->mutable_promise() = fact::PromiseOf(view_);
  order_->clear_waiting();
}

void HomeFold::LetPromiseLapse() {
  if (!order_->has_promise()) return;
  if (fact::PromiseLapsed(order_->promise(), view_.happened_us, zone())) order_->clear_promise();
}

}  // namespace ferrule::order
