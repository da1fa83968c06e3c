#include "core/order/unfit.h"

#include <algorithm>
#include <optional>

#include "absl/strings/str_cat.h"
#include "absl/strings/str_join.h"
#include "core/order/measures.h"

namespace ferrule::order {
namespace {

std::string RangeWords(int64_t least, int64_t most) {
  if (most == 0) return absl::StrCat("at least ", CentimetreWords(least));
  if (least == 0) return absl::StrCat("at most ", CentimetreWords(most));
  return absl::StrCat(CentimetreWords(least), " to ", CentimetreWords(most));
}

class Judge {
 public:
  Judge(const v1::OrderDetails& details, const std::string& unit, const v1::Model& model,
        const depot::Rules& rules)
      : details_(details), unit_(unit), model_(model), rules_(rules) {}

  std::vector<v1::Finding> Run() {
    const v1::PatientMeasures& m = details_.measures();
    const v1::FitRange& fit = model_.fit();
    Length(m.has_thigh(), m.thigh(), fit.thigh(), "thigh");
    Length(m.has_shank(), m.shank(), fit.shank(), "shank");
    Leg();
    Length(m.has_upper_arm(), m.upper_arm(), fit.upper_arm(), "upper arm");
    Length(m.has_girth(), m.girth(), fit.girth(), "girth");
    Length(m.has_seat_height(), m.seat_height(), fit.seat_height(), "seat height");
    Doorway();
    Weight();
    Mains();
    Motion();
    ModelAskedFor();
    std::stable_sort(
        findings_.begin(), findings_.end(),
        [](const v1::Finding& a, const v1::Finding& b) { return a.reason() < b.reason(); });
    return std::move(findings_);
  }

 private:
  void Add(v1::Reason reason, std::string_view item, std::string found, std::string limit,
           std::string_view limit_key = "limit") {
    v1::Finding& finding = findings_.emplace_back();
    finding.set_reason(reason);
    finding.set_subject("units/" + unit_);
    Value("unit", unit_, &finding);
    if (!item.empty()) Value("item", std::string(item), &finding);
    Value("found", std::move(found), &finding);
    if (!limit.empty()) Value(limit_key, std::move(limit), &finding);
  }
  static void Value(std::string_view key, std::string value, v1::Finding* finding) {
    v1::FindingValue* v = finding->add_values();
    v->set_key(std::string(key));
    v->set_value(std::move(value));
  }

  void Length(bool taken, const v1::Length& length, const v1::LengthRange& range,
              std::string_view item) {
    if (taken) Within(ToMillimetres(length), Words(length), range, item);
  }
  void Within(int64_t mm, std::string words, const v1::LengthRange& range, std::string_view item) {
    if (range.min_mm() == 0 && range.max_mm() == 0) return;
    if (mm >= range.min_mm() && (range.max_mm() == 0 || mm <= range.max_mm())) return;
    Add(v1::REASON_MEASURE_OUTSIDE_MODEL, item, std::move(words),
        RangeWords(range.min_mm(), range.max_mm()));
  }
  void Leg() {
    const v1::PatientMeasures& m = details_.measures();
    const std::optional<int64_t> leg = LegMillimetres(m);
    if (!leg) return;
    Within(*leg, m.has_leg() ? Words(m.leg()) : CentimetreWords(*leg), model_.fit().leg(),
           "leg length");
  }
  void Doorway() {
    const int needed = model_.fit().doorway_mm();
    const v1::PatientMeasures& m = details_.measures();
    if (needed == 0 || !m.has_doorway() || ToMillimetres(m.doorway()) >= needed) return;
    Add(v1::REASON_MEASURE_OUTSIDE_MODEL, "doorway", Words(m.doorway()),
        absl::StrCat("at least ", CentimetreWords(needed)));
  }
  void Weight() {
    const int most = model_.fit().max_weight_g();
    const v1::PatientMeasures& m = details_.measures();
    if (most == 0 || !m.has_weight() || ToGrams(m.weight()) <= most) return;
    Add(v1::REASON_WEIGHT_ABOVE_RATING, "", Words(m.weight()), KilogramWords(most));
  }
  void Mains() {
    const int volts = MainsVoltage(details_, rules_);
    const auto& runs_on = model_.fit().mains_voltages_v();
    if (volts == 0 || runs_on.empty()) return;
    if (std::find(runs_on.begin(), runs_on.end(), volts) != runs_on.end()) return;
    Add(v1::REASON_VOLTAGE_DIFFERS, "", absl::StrCat(volts, " V"),
        absl::StrCat(absl::StrJoin(runs_on, " or "), " V"));
  }

  // Limits at the start and at the end of what is ordered, and the speed.
  void Motion() {
    if (!model_.has_motion()) return;
    const v1::MotionRange& range = model_.motion();
    const v1::Motion& ordered = details_.motion();
    const v1::MotionProgression& p = details_.progression();
    double extension = ordered.has_extension_deg() ? ordered.extension_deg() : range.min_deg();
    double flexion = ordered.has_flexion_deg() ? ordered.flexion_deg() : range.max_deg();
    double speed = ordered.speed_deg_per_min();
    if (p.has_start_extension_deg()) extension = std::min(extension, p.start_extension_deg());
    if (p.has_start_flexion_deg()) flexion = std::max(flexion, p.start_flexion_deg());
    for (const v1::ProgressionDay& day : p.days()) {
      const v1::Motion& m = day.motion();
      if (m.has_extension_deg()) extension = std::min(extension, m.extension_deg());
      if (m.has_flexion_deg()) flexion = std::max(flexion, m.flexion_deg());
      speed = std::max(speed, m.speed_deg_per_min());
    }
    if (extension < range.min_deg()) Beyond("extension", extension, range.min_deg(), "deg");
    if (flexion > range.max_deg()) Beyond("flexion", flexion, range.max_deg(), "deg");
    if (speed > range.max_speed_deg_per_min()) {
      Beyond("speed", speed, range.max_speed_deg_per_min(), "deg/min");
    }
    if (ordered.has_speed_deg_per_min() &&
        ordered.speed_deg_per_min() < range.min_speed_deg_per_min()) {
      Beyond("speed", ordered.speed_deg_per_min(), range.min_speed_deg_per_min(), "deg/min");
    }
    if (ordered.has_pause_s() && range.max_pause_s() > 0 &&
        ordered.pause_s() > range.max_pause_s()) {
      Beyond("pause", static_cast<double>(ordered.pause_s()),
             static_cast<double>(range.max_pause_s()), "s");
    }
  }
  void Beyond(std::string_view item, double found, double limit, const char* unit) {
    Add(v1::REASON_ORDER_BEYOND_MODEL, item, absl::StrCat(found, " ", unit),
        absl::StrCat(limit, " ", unit));
  }

  void ModelAskedFor() {
    const std::string& asked = details_.model();
    const auto& instead = model_.stands_in_for();
    if (asked.empty() || asked == model_.id() ||
        std::find(instead.begin(), instead.end(), asked) != instead.end()) {
      return;
    }
    Add(v1::REASON_NOT_THE_MODEL_ASKED_FOR, "", model_.id(), asked, "expected");
  }

  const v1::OrderDetails& details_;
  const std::string& unit_;
  const v1::Model& model_;
  const depot::Rules& rules_;
  std::vector<v1::Finding> findings_;
};

bool Given(const v1::LengthRange& range) { return range.min_mm() != 0 || range.max_mm() != 0; }

}  // namespace

std::vector<v1::Finding> Unfit(const v1::OrderDetails& details, const std::string& unit,
                               const v1::Model& model, const depot::Rules& rules) {
  return Judge(details, unit, model, rules).Run();
}

int MainsVoltage(const v1::OrderDetails& details, const depot::Rules& rules) {
  if (details.has_mains_voltage_v()) return details.mains_voltage_v();
  const v1::Branch* branch = rules.FindBranch(details.branch());
  return branch == nullptr ? 0 : branch->mains_voltage_v();
}

std::vector<std::string> NotJudged(const v1::OrderDetails& details, const depot::Rules& rules) {
  const v1::PatientMeasures& m = details.measures();
  std::vector<std::string> missing;
  const auto want = [&](bool particular, bool known, const char* words) {
    if (!particular || known) return;
    if (std::find(missing.begin(), missing.end(), words) == missing.end()) missing.push_back(words);
  };
  for (const v1::Model& model : rules.settings().models()) {
    if (model.device_class() != details.device_class()) continue;
    const v1::FitRange& fit = model.fit();
    want(Given(fit.thigh()), m.has_thigh(), "thigh");
    want(Given(fit.shank()), m.has_shank(), "shank");
    want(Given(fit.leg()), LegMillimetres(m).has_value(), "leg length");
    want(Given(fit.upper_arm()), m.has_upper_arm(), "upper arm");
    want(Given(fit.girth()), m.has_girth(), "girth");
    want(Given(fit.seat_height()), m.has_seat_height(), "seat height");
    want(fit.doorway_mm() != 0, m.has_doorway(), "doorway");
    want(fit.max_weight_g() != 0, m.has_weight(), "weight");
    want(!fit.mains_voltages_v().empty(), MainsVoltage(details, rules) != 0, "mains voltage");
    want(model.has_motion(), details.motion().has_extension_deg(), "extension limit");
    want(model.has_motion(), details.motion().has_flexion_deg(), "flexion limit");
  }
  return missing;
}

}  // namespace ferrule::order
