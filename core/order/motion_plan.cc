#include "core/order/motion_plan.h"

#include <utility>

#include "absl/strings/str_cat.h"
#include "core/fact/words.h"
#include "core/order/fit.h"
#include "core/order/progression.h"
#include "core/order/session.h"
#include "core/time/civil.h"

namespace ferrule::order {
namespace {

constexpr int64_t kSecondsADay = 86'400;

void AddValue(std::string_view key, std::string value, v1::Finding* finding) {
  v1::FindingValue* v = finding->add_values();
  v->set_key(std::string(key));
  v->set_value(std::move(value));
}

void Ahead(std::string_view item, double found, double limit, absl::CivilDay day,
           std::vector<v1::Finding>* out) {
  v1::Finding& finding = out->emplace_back();
  finding.set_reason(v1::REASON_SETTING_AHEAD_OF_PROGRESSION);
  AddValue("item", std::string(item), &finding);
  AddValue("found", absl::StrCat(found, " deg"), &finding);
  AddValue("limit", absl::StrCat(limit, " deg"), &finding);
  AddValue("due", time::FormatDay(day), &finding);
}

class Band {
 public:
  Band(const v1::MotionBand& band, std::vector<std::string>* out) : band_(band), out_(out) {}

  void Limit(std::string_view name, bool given, double value, double least, double most) {
    if (!given || (value >= least && value <= most)) return;
    Add(absl::StrCat(std::string(name), " ", value, " deg lies outside ", least, " to ", most,
                     " deg"));
  }
  void Motion(const std::string& when, const v1::Motion& m) {
    Limit(when + "extension", m.has_extension_deg(), m.extension_deg(), band_.min_extension_deg(),
          band_.max_extension_deg());
    Limit(when + "flexion", m.has_flexion_deg(), m.flexion_deg(), band_.min_flexion_deg(),
          band_.max_flexion_deg());
    const int64_t most = band_.max_daily_use_s() > 0 ? band_.max_daily_use_s() : kSecondsADay;
    if (m.has_daily_use_s() && m.daily_use_s() > most) {
      Add(absl::StrCat(when, "use of ", static_cast<double>(m.daily_use_s()) / 3600.0,
                       " h a day is more than ", static_cast<double>(most) / 3600.0, " h"));
    }
  }
  void Step(double step) {
    if (!(band_.max_step_deg() > 0) || step <= band_.max_step_deg()) return;
    Add(absl::StrCat("a step of ", step, " deg a day is more than ", band_.max_step_deg(), " deg"));
  }

 private:
  void Add(std::string what) {
    const std::string source = band_.source().empty() ? "" : " (" + band_.source() + ")";
    out_->push_back(
        absl::StrCat(what, source, ": ask the prescriber whether the order is meant so"));
  }

  const v1::MotionBand& band_;
  std::vector<std::string>* out_;
};

// The findings that the checks at the hand-over would raise for what is set now.
void AddBeyond(const v1::OrderState& order, absl::CivilDay day, const depot::Rules& rules,
               v1::GetMotionPlanResponse* plan) {
  for (v1::Finding& finding : BeyondOrder(order.details().motion(), order.motion_set())) {
    *plan->add_beyond() = std::move(finding);
  }
  const v1::Model* model = rules.FindModel(order.unit_model());
  if (model != nullptr && model->has_motion()) {
    for (v1::Finding& finding : BeyondModel(model->motion(), order.motion_set())) {
      *plan->add_beyond() = std::move(finding);
    }
  }
  for (v1::Finding& finding : AheadOfProgression(order, order.motion_set(), day)) {
    *plan->add_beyond() = std::move(finding);
  }
}

// What the order leaves open, with who must say it.
void AddMissing(const v1::OrderState& order, const DayLimits& limits,
                v1::GetMotionPlanResponse* plan) {
  const auto want = [plan](bool known, const char* words) {
    if (!known) plan->add_missing(std::string(words) + ", from the prescriber");
  };
  const v1::Motion& m = limits.motion;
  want(m.has_extension_deg(), "extension limit");
  want(m.has_flexion_deg(), "flexion limit");
  want(m.has_speed_deg_per_min(), "speed");
  want(m.has_daily_use_s(), "use a day");
  const bool open = order.details().has_progression() && !limits.anchor;
  if (!open) return;
  plan->add_missing(absl::StrCat(
      "day 0 of the progression (",
      std::string(fact::ProgressionAnchorWords(order.details().progression().anchor())),
      "): until it is known the limits at the start hold"));
}

}  // namespace

v1::GetMotionPlanResponse MotionPlan(const v1::OrderState& order, absl::CivilDay day,
                                     const depot::Rules& rules) {
  v1::GetMotionPlanResponse plan;
  const DayLimits limits = LimitsOn(order, day);
  plan.set_name("orders/" + order.order());
  *plan.mutable_date() = time::FromDay(day);
  *plan.mutable_limits() = limits.motion;
  if (limits.anchor) *plan.mutable_anchor_date() = time::FromDay(*limits.anchor);
  plan.set_anchor(order.details().progression().anchor());
  if (limits.day_number) plan.set_day_number(static_cast<int>(*limits.day_number));
  plan.set_capped(limits.capped);
  if (order.has_motion_ordered()) *plan.mutable_motion_ordered() = order.motion_ordered();
  if (order.has_motion_set()) {
    *plan.mutable_set() = order.motion_set();
    if (order.motion_changes_size() > 0) {
      *plan.mutable_motion_set() = order.motion_changes().rbegin()->changed();
    }
    AddBeyond(order, day, rules, &plan);
    if (auto session = SessionOf(order.motion_set())) *plan.mutable_set_session() = *session;
  }
  if (auto session = SessionOf(limits.motion)) *plan.mutable_ordered_session() = *session;
  for (std::string& warning : MotionWarnings(order.details(), rules)) {
    plan.add_warnings(std::move(warning));
  }
  AddMissing(order, limits, &plan);
  return plan;
}

std::vector<std::string> MotionWarnings(const v1::OrderDetails& details,
                                        const depot::Rules& rules) {
  std::vector<std::string> warnings;
  for (const v1::MotionBand& given : rules.settings().motion_bands()) {
    if (given.device_class() != details.device_class()) continue;
    Band band(given, &warnings);
    band.Motion("", details.motion());
    const v1::MotionProgression& p = details.progression();
    v1::Motion start;
    if (p.has_start_extension_deg()) start.set_extension_deg(p.start_extension_deg());
    if (p.has_start_flexion_deg()) start.set_flexion_deg(p.start_flexion_deg());
    band.Motion("at the start ", start);
    for (const v1::ProgressionDay& day : p.days()) {
      band.Motion(absl::StrCat("on day ", day.day(), " "), day.motion());
    }
    band.Step(GreatestStep(details));
  }
  return warnings;
}

std::vector<v1::Finding> AheadOfProgression(const v1::OrderState& order, const v1::Motion& set,
                                            absl::CivilDay day) {
  std::vector<v1::Finding> out;
  if (!order.details().has_progression()) return out;
  const v1::Motion& whole = order.details().motion();
  const v1::Motion limits = LimitsOn(order, day).motion;
  // What is beyond the order as a whole is another finding.
  const bool extension_beyond =
      whole.has_extension_deg() && set.extension_deg() < whole.extension_deg();
  const bool flexion_beyond = whole.has_flexion_deg() && set.flexion_deg() > whole.flexion_deg();
  if (set.has_extension_deg() && limits.has_extension_deg() && !extension_beyond &&
      set.extension_deg() < limits.extension_deg()) {
    Ahead("extension", set.extension_deg(), limits.extension_deg(), day, &out);
  }
  if (set.has_flexion_deg() && limits.has_flexion_deg() && !flexion_beyond &&
      set.flexion_deg() > limits.flexion_deg()) {
    Ahead("flexion", set.flexion_deg(), limits.flexion_deg(), day, &out);
  }
  return out;
}

}  // namespace ferrule::order
