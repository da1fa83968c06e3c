#include "core/depot/promise_check.h"

#include <algorithm>
#include <set>
#include <utility>

#include "absl/strings/str_cat.h"

namespace ferrule::depot {
namespace {

constexpr int kMostPermille = 1000;
constexpr int kMostDays = 365;
constexpr int kMostHours = 8'760;
constexpr int kMostMillimetres = 10'000;
constexpr int kMostGrams = 1'000'000;
constexpr int kMostVolts = 1'000;
constexpr double kLeastDegrees = -30;  // as for the motion of an order
constexpr double kMostDegrees = 180;

class Check {
 public:
  Check(const v1::Settings& settings, std::vector<SettingsError>* errors)
      : settings_(settings), errors_(errors) {}

  void Run() {
    Policy();
    Transfers();
    MeasureBands();
    MotionBands();
    for (int i = 0; i < settings_.models_size(); ++i) Model(i);
    for (int i = 0; i < settings_.branches_size(); ++i) {
      Between(absl::StrCat("branches[", i, "].mains_voltage_v"),
              settings_.branches(i).mains_voltage_v(), 0, kMostVolts, "volts, 0 for not judged");
    }
    Between("usage_policy.low_use_permille", settings_.usage_policy().low_use_permille(), 0,
            kMostPermille, "thousandths");
  }

 private:
  void Wrong(std::string field, std::string message) {
    errors_->push_back({0, std::move(field), std::move(message)});
  }
  void Between(const std::string& path, int64_t value, int64_t least, int64_t most,
               const char* what) {
    if (value >= least && value <= most) return;
    Wrong(path, absl::StrCat("is ", value, ": give ", least, " to ", most, " ", what));
  }
  void Policy() {
    const v1::PromisePolicy& policy = settings_.promise_policy();
    const std::string path = "promise_policy";
    Between(path + ".yes_from_permille", policy.yes_from_permille(), 0, kMostPermille,
            "thousandths");
    Between(path + ".no_below_permille", policy.no_below_permille(), 0, kMostPermille,
            "thousandths");
    if (policy.yes_from_permille() > 0 && policy.no_below_permille() > policy.yes_from_permille()) {
      Wrong(path + ".no_below_permille",
            "is above yes_from_permille: a no cannot be likelier than a yes");
    }
    Between(path + ".turnaround_days", policy.turnaround_days(), 0, kMostDays, "days");
    Between(path + ".look_ahead_days", policy.look_ahead_days(), 0, kMostDays, "days");
    Between(path + ".soft_hours", policy.soft_hours(), 0, kMostHours, "hours, 0 for never");
  }

  // The ways between branches stand in one place, for planning and promises alike.
  void Transfers() {
    if (settings_.promise_policy().transfers().empty()) return;
    Wrong("promise_policy.transfers",
          "the ways between branches are given in planning.transfer_lanes: "
          "move them there");
  }

  void MeasureBands() {
    std::set<int> seen;
    for (int i = 0; i < settings_.measure_bands_size(); ++i) {
      const v1::MeasureBand& band = settings_.measure_bands(i);
      const std::string path = absl::StrCat("measure_bands[", i, "]");
      if (band.kind() == v1::MEASURE_KIND_UNSPECIFIED || !v1::MeasureKind_IsValid(band.kind())) {
        Wrong(path + ".kind", "is missing: say which measure, for instance MEASURE_KIND_LEG");
      } else if (!seen.insert(band.kind()).second) {
        Wrong(path + ".kind", "is given twice: give one band a measure");
      }
      Range(path, ".min_mm", ".max_mm", band.min_mm(), band.max_mm(), kMostMillimetres);
      Range(path, ".min_g", ".max_g", band.min_g(), band.max_g(), kMostGrams);
    }
  }

  // A bound of 0 is none.
  void Range(const std::string& path, const char* least_field, const char* most_field, int least,
             int most, int greatest) {
    Between(path + least_field, least, 0, greatest, "");
    Between(path + most_field, most, 0, greatest, "");
    if (most != 0 && least > most) {
      Wrong(path + most_field,
            absl::StrCat("is less than ", least_field + 1, ": nothing would lie in between"));
    }
  }

  void MotionBands() {
    std::set<std::string> seen;
    for (int i = 0; i < settings_.motion_bands_size(); ++i) {
      const v1::MotionBand& band = settings_.motion_bands(i);
      const std::string path = absl::StrCat("motion_bands[", i, "]");
      const auto& classes = settings_.device_classes();
      if (std::none_of(classes.begin(), classes.end(),
                       [&](const v1::DeviceClass& c) { return c.id() == band.device_class(); })) {
        Wrong(path + ".device_class",
              absl::StrCat("there is no class of device \"", band.device_class(),
                           "\" in these settings: add it or correct the name"));
      }
      if (!seen.insert(band.device_class()).second) {
        Wrong(path + ".device_class", "is given twice: give one band a class");
      }
      Degrees(path + ".extension", band.min_extension_deg(), band.max_extension_deg());
      Degrees(path + ".flexion", band.min_flexion_deg(), band.max_flexion_deg());
      if (!(band.max_step_deg() >= 0 && band.max_step_deg() <= kMostDegrees)) {
        Wrong(path + ".max_step_deg", "is no number of degrees: give 0 for none, or 1 to 180");
      }
      Between(path + ".max_daily_use_s", band.max_daily_use_s(), 0, 86'400, "seconds");
    }
  }
  void Degrees(const std::string& path, double least, double most) {
    const bool right = least >= kLeastDegrees && most <= kMostDegrees && least <= most;
    if (right) return;
    Wrong(path, absl::StrCat("runs from ", least, " to ", most, ": give degrees from ",
                             kLeastDegrees, " to ", kMostDegrees, ", the lesser one first"));
  }

  void Model(int index) {
    const v1::Model& model = settings_.models(index);
    const std::string path = absl::StrCat("models[", index, "]");
    const v1::FitRange& fit = model.fit();
    for (const auto& [name, range] :
         {std::pair("thigh", &fit.thigh()), std::pair("shank", &fit.shank()),
          std::pair("leg", &fit.leg()), std::pair("upper_arm", &fit.upper_arm()),
          std::pair("girth", &fit.girth()), std::pair("seat_height", &fit.seat_height())}) {
      Range(absl::StrCat(path, ".fit.", name), ".min_mm", ".max_mm", range->min_mm(),
            range->max_mm(), kMostMillimetres);
    }
    Between(path + ".fit.max_weight_g", fit.max_weight_g(), 0, kMostGrams, "grams");
    Between(path + ".fit.doorway_mm", fit.doorway_mm(), 0, kMostMillimetres, "millimetres");
    for (int i = 0; i < fit.mains_voltages_v_size(); ++i) {
      Between(absl::StrCat(path, ".fit.mains_voltages_v[", i, "]"), fit.mains_voltages_v(i), 1,
              kMostVolts, "volts");
    }
    for (int i = 0; i < model.stands_in_for_size(); ++i) StandsIn(model, path, i);
    const v1::MotionRange& motion = model.motion();
    if (!(motion.min_speed_deg_per_min() >= 0 &&
          motion.min_speed_deg_per_min() <= std::max(0.0, motion.max_speed_deg_per_min()))) {
      Wrong(path + ".motion.min_speed_deg_per_min",
            "does not lie between 0 and max_speed_deg_per_min: give the least speed, or 0");
    }
    Between(path + ".motion.max_pause_s", motion.max_pause_s(), 0, 86'400, "seconds");
  }

  void StandsIn(const v1::Model& model, const std::string& path, int index) {
    const std::string& other = model.stands_in_for(index);
    for (const v1::Model& m : settings_.models()) {
      if (m.id() != other) continue;
      if (m.device_class() == model.device_class()) return;
      return Wrong(absl::StrCat(path, ".stands_in_for[", index, "]"),
                   absl::StrCat("\"", other,
                                "\" is of another class: only a model of the same "
                                "class can stand in"));
    }
    Wrong(absl::StrCat(path, ".stands_in_for[", index, "]"),
          absl::StrCat("there is no model \"", other,
                       "\" in these settings: add it or correct the name"));
  }

  const v1::Settings& settings_;
  std::vector<SettingsError>* errors_;
};

}  // namespace

void CheckPromises(const v1::Settings& settings, std::vector<SettingsError>* errors) {
  Check(settings, errors).Run();
}

}  // namespace ferrule::depot
