#include "core/depot/bench_check.h"

#include <cmath>
#include <map>
#include <set>
#include <string>

#include "absl/strings/str_cat.h"
#include "core/fact/subject.h"

namespace ferrule::depot {
namespace {

constexpr int64_t kMostDwell = 30 * int64_t{86'400};
constexpr double kLeastCelsius = -50;
constexpr double kMostCelsius = 500;
constexpr int kMostMinutes = 10'000;
constexpr int kMostDays = 3'650;

std::string At(const char* list, int index) { return absl::StrCat(list, "[", index, "]"); }

class Check {
 public:
  Check(const v1::Settings& settings, std::vector<SettingsError>* errors)
      : settings_(settings), errors_(errors) {}

  void Run() {
    Profiles();
    Treatments();
    Causes();
    Checklists();
    Models();
    Policy();
  }

 private:
  void Wrong(std::string field, std::string message) {
    errors_->push_back({0, std::move(field), std::move(message)});
  }

  void Id(const std::string& path, const std::string& id, std::set<std::string>* seen) {
    if (!fact::IsValidId(id)) {
      return Wrong(path,
                   "is no id: give 1 to 64 letters, digits, dots, underscores or hyphens, "
                   "beginning with a letter or a digit");
    }
    if (!seen->insert(id).second) Wrong(path, "is given twice: give each id once");
  }

  void Between(const std::string& path, double value, double least, double most) {
    if (value >= least && value <= most) return;
    Wrong(path, absl::StrCat("is ", value, ": give a number from ", least, " to ", most));
  }

  // A chance or a share: above 0 and below 1.
  void Share(const std::string& path, double value) {
    if (value > 0 && value < 1) return;
    Wrong(path, absl::StrCat("is ", value, ": give a number above 0 and below 1"));
  }

  void Profiles() {
    for (int i = 0; i < settings_.electrical_profiles_size(); ++i) {
      const v1::ElectricalProfile& profile = settings_.electrical_profiles(i);
      const std::string path = At("electrical_profiles", i);
      Id(path + ".id", profile.id(), &profiles_);
      if (profile.version().empty()) {
        Wrong(path + ".version", "is missing: give a name, for instance \"2026-01\"");
      }
      if (profile.source().empty()) {
        Wrong(path + ".source", "is missing: say where the limits come from");
      }
      for (int k = 0; k < profile.limits_size(); ++k) {
        Limit(absl::StrCat(path, ".", At("limits", k)), profile.limits(k));
      }
    }
  }

  void Limit(const std::string& path, const v1::ElectricalLimit& limit) {
    if (!fact::IsValidId(limit.quantity())) {
      Wrong(path + ".quantity", "is no id: give what is measured, for instance earth-resistance");
    }
    if (!limit.has_min() && !limit.has_max()) {
      return Wrong(path, "has no limit: give min, max or both");
    }
    if ((limit.has_min() && !std::isfinite(limit.min())) ||
        (limit.has_max() && !std::isfinite(limit.max()))) {
      return Wrong(path, "is no number: give finite limits");
    }
    if (limit.has_min() && limit.has_max() && limit.min() > limit.max()) {
      Wrong(path + ".max", "is less than min: no reading could pass");
    }
  }

  void Treatments() {
    std::set<std::string> ids;
    for (int i = 0; i < settings_.treatments_size(); ++i) {
      const v1::Treatment& treatment = settings_.treatments(i);
      const std::string path = At("treatments", i);
      Id(path + ".id", treatment.id(), &ids);
      if (treatment.against() == v1::CONTAMINANT_UNSPECIFIED) {
        Wrong(path + ".against", "is missing: give CONTAMINANT_INSECTS or CONTAMINANT_BODY_FLUID");
      }
      if (treatment.has_min_temperature_c()) {
        Between(path + ".min_temperature_c", treatment.min_temperature_c(), kLeastCelsius,
                kMostCelsius);
      }
      Between(path + ".min_dwell_s", static_cast<double>(treatment.min_dwell_s()), 0, kMostDwell);
    }
  }

  void Causes() {
    std::set<std::string> ids;
    for (int i = 0; i < settings_.repair_causes_size(); ++i) {
      Id(At("repair_causes", i) + ".id", settings_.repair_causes(i).id(), &ids);
    }
  }

  // The profile of that id; null when there is none.
  const v1::ElectricalProfile* FindProfile(const std::string& id) const {
    for (const v1::ElectricalProfile& profile : settings_.electrical_profiles()) {
      if (profile.id() == id) return &profile;
    }
    return nullptr;
  }

  void Checklists() {
    for (int i = 0; i < settings_.checklists_size(); ++i) {
      const v1::Checklist& list = settings_.checklists(i);
      const std::string path = At("checklists", i);
      const v1::ElectricalProfile* profile = FindProfile(list.electrical_profile());
      if (!list.electrical_profile().empty() && profile == nullptr) {
        Wrong(path + ".electrical_profile",
              absl::StrCat("there is no electrical profile \"", list.electrical_profile(),
                           "\" in these settings: add it or correct the name"));
      }
      for (int k = 0; k < list.items_size(); ++k) {
        Item(absl::StrCat(path, ".", At("items", k)), list.items(k), profile);
      }
    }
  }

  void Item(const std::string& path, const v1::ChecklistItem& item,
            const v1::ElectricalProfile* profile) {
    if (item.electrical().empty()) return;
    if (item.has_min() || item.has_max()) {
      Wrong(path + ".electrical", "stands beside min or max: the profile alone gives the limits");
    }
    bool known = false;
    for (int i = 0; profile != nullptr && i < profile->limits_size(); ++i) {
      known = known || profile->limits(i).quantity() == item.electrical();
    }
    if (known) return;
    Wrong(path + ".electrical", absl::StrCat("\"", item.electrical(),
                                             "\" is no quantity of the checklist's electrical "
                                             "profile: add it there or correct the name"));
  }

  void Models() {
    for (int i = 0; i < settings_.models_size(); ++i) {
      const v1::Model& model = settings_.models(i);
      const std::string path = At("models", i);
      for (int k = 0; k < model.cleaning_steps_size(); ++k) {
        const bool rises = k == 0 || model.cleaning_steps(k) > model.cleaning_steps(k - 1);
        if (model.cleaning_steps(k) != v1::CLEANING_STEP_UNSPECIFIED && rises) continue;
        Wrong(absl::StrCat(path, ".", At("cleaning_steps", k)),
              "is out of order: give each step once, in the order preparation, washing, "
              "disinfection, drying");
      }
      if (model.replacement_cost_minor() < 0) {
        Wrong(path + ".replacement_cost_minor", "is below 0: give hundredths of the currency");
      }
    }
  }

  void Policy() {
    const v1::BenchPolicy& bench = settings_.bench();
    std::set<int> steps;
    for (int i = 0; i < bench.times_size(); ++i) {
      const std::string path = absl::StrCat("bench.", At("times", i));
      if (bench.times(i).step() == v1::BENCH_STEP_UNSPECIFIED) {
        Wrong(path + ".step", "is missing: give the work, for instance BENCH_STEP_CLEAN");
      } else if (!steps.insert(bench.times(i).step()).second) {
        Wrong(path + ".step", "is given twice: give each step once");
      }
      Between(path + ".minutes", bench.times(i).minutes(), 1, kMostMinutes);
    }
    Between("bench.repeat_days", bench.repeat_days(), 0, kMostDays);
    Between("bench.drift_min_readings", bench.drift_min_readings(), 0, 1'000);
    Between("bench.repair_share", bench.repair_share(), 0, 10);
    Between("bench.life_years", bench.life_years(), 0, 100);
    if (bench.false_alarm_share() != 0) Share("bench.false_alarm_share", bench.false_alarm_share());
    Spares(bench);
  }

  void Spares(const v1::BenchPolicy& bench) {
    std::set<std::string> positions;
    for (int i = 0; i < bench.spares_size(); ++i) {
      const std::string path = absl::StrCat("bench.", At("spares", i));
      Id(path + ".position", bench.spares(i).position(), &positions);
      Between(path + ".lead_time_days", bench.spares(i).lead_time_days(), 1, kMostDays);
      Share(path + ".enough_probability", bench.spares(i).enough_probability());
    }
  }

  const v1::Settings& settings_;
  std::vector<SettingsError>* errors_;
  std::set<std::string> profiles_;
};

}  // namespace

void CheckBench(const v1::Settings& settings, std::vector<SettingsError>* errors) {
  Check(settings, errors).Run();
}

}  // namespace ferrule::depot
