#include "core/depot/cover_check.h"

#include <algorithm>
#include <set>
#include <string>

#include "absl/strings/str_cat.h"
#include "core/fact/subject.h"
#include "core/time/civil.h"
#include "google/protobuf/descriptor.h"

namespace ferrule::depot {
namespace {

constexpr int kMostDays = 3'660;
constexpr int kMostWindow = 8'760;
constexpr int kMostInterruption = 366;
constexpr int kMostMonths = 1'200;
constexpr int kMostEarly = 30;
constexpr int64_t kMostAmount = 1'000'000'000;

std::string At(const std::string& list, int index) { return absl::StrCat(list, "[", index, "]"); }

class CoverCheck {
 public:
  CoverCheck(const v1::Settings& settings, std::vector<SettingsError>* errors)
      : settings_(settings), errors_(errors) {}

  void Run() {
    std::set<std::string> payers;
    for (int i = 0; i < settings_.payer_terms_size(); ++i) {
      Payer(At("payer_terms", i), settings_.payer_terms(i), &payers);
    }
    std::set<std::string> codes;
    for (int i = 0; i < settings_.procedures_size(); ++i) {
      const v1::Procedure& procedure = settings_.procedures(i);
      const std::string path = At("procedures", i);
      Id(path + ".id", procedure.id(), &codes);
      IdIfAny(path + ".joint", procedure.joint());
      Enum(path + ".side", procedure.side(), *v1::Side_descriptor(), false);
    }
    for (int i = 0; i < settings_.device_classes_size(); ++i) {
      IdIfAny(At("device_classes", i) + ".joint", settings_.device_classes(i).joint());
    }
    for (int i = 0; i < settings_.holidays_size(); ++i) {
      if (time::IsValid(settings_.holidays(i).date())) continue;
      Wrong(At("holidays", i) + ".date",
            "is no day of the calendar: give year, month and day, for instance "
            "date { year: 2026 month: 7 day: 3 }");
    }
  }

 private:
  void Wrong(std::string field, std::string message) {
    errors_->push_back({0, std::move(field), std::move(message)});
  }
  void Id(const std::string& path, const std::string& id, std::set<std::string>* seen) {
    if (!fact::IsValidId(id)) {
      return Wrong(path, absl::StrCat("\"", id, "\" is no id: give 1 to 64 letters, digits, dots, ",
                                      "underscores or hyphens"));
    }
    if (!seen->insert(id).second) {
      Wrong(path, absl::StrCat("\"", id, "\" is given already: give each id once"));
    }
  }
  void IdIfAny(const std::string& path, const std::string& id) {
    std::set<std::string> fresh;
    if (!id.empty()) Id(path, id, &fresh);
  }
  void Between(const std::string& path, int64_t value, int64_t least, int64_t most) {
    if (value >= least && value <= most) return;
    Wrong(path, absl::StrCat("is ", value, ": give ", least, " to ", most));
  }
  void Enum(const std::string& path, int value, const google::protobuf::EnumDescriptor& type,
            bool required) {
    if (type.FindValueByNumber(value) != nullptr && (value != 0 || !required)) return;
    std::string names;
    for (int i = 1; i < type.value_count(); ++i) {
      absl::StrAppend(&names, i == 1 ? "" : ", ", type.value(i)->name());
    }
    Wrong(path, absl::StrCat(value == 0 ? "is missing" : absl::StrCat("has no value ", value),
                             ": give one of ", names));
  }
  template <typename List>
  bool Known(const List& list, const std::string& id) {
    return std::any_of(list.begin(), list.end(),
                       [&id](const auto& item) { return item.id() == id; });
  }

  void Payer(const std::string& path, const v1::PayerTerms& payer, std::set<std::string>* seen) {
    Id(path + ".id", payer.id(), seen);
    if (payer.rules().empty()) Wrong(path + ".rules", "is empty: give at least one rule");
    for (int i = 0; i < payer.rules_size(); ++i) {
      Rule(absl::StrCat(path, ".", At("rules", i)), payer.rules(i));
    }
  }

  void Rule(const std::string& path, const v1::CoverRule& rule) {
    for (int i = 0; i < rule.device_classes_size(); ++i) {
      if (Known(settings_.device_classes(), rule.device_classes(i))) continue;
      Wrong(absl::StrCat(path, ".", At("device_classes", i)),
            absl::StrCat("there is no class of device \"", rule.device_classes(i),
                         "\" in these settings: add it or correct the name"));
    }
    for (int i = 0; i < rule.procedures_size(); ++i) {
      if (Known(settings_.procedures(), rule.procedures(i))) continue;
      Wrong(absl::StrCat(path, ".", At("procedures", i)),
            absl::StrCat("there is no procedure \"", rule.procedures(i),
                         "\" in these settings: add it or correct the name"));
    }
    if (rule.readings().empty() && !rule.not_covered()) {
      Wrong(path + ".readings", "is empty: say how long cover lasts, or set not_covered");
    }
    std::set<std::string> ids;
    for (int i = 0; i < rule.readings_size(); ++i) {
      Reading(absl::StrCat(path, ".", At("readings", i)), rule.readings(i), &ids);
    }
    Enum(path + ".away_days", rule.away_days(), *v1::AwayDays_descriptor(), false);
    if (rule.home_only() && rule.away_days() == v1::AWAY_DAYS_PAID) {
      Wrong(path + ".away_days", "is AWAY_DAYS_PAID and home_only is set: drop one of the two");
    }
    Enum(path + ".billing_unit", rule.billing_unit(), *v1::BillingUnit_descriptor(), false);
    Between(path + ".amount_minor", rule.amount_minor(), 0, kMostAmount);
    Between(path + ".interruption_days", rule.interruption_days(), 0, kMostInterruption);
    Enum(path + ".month_rule", rule.month_rule(), *v1::MonthRule_descriptor(), false);
    Between(path + ".most_months", rule.most_months(), 0, kMostMonths);
    for (int i = 0; i < rule.needs_size(); ++i) {
      Enum(absl::StrCat(path, ".", At("needs", i)), rule.needs(i), *v1::BillingNeed_descriptor(),
           true);
    }
    Between(path + ".early_delivery_days", rule.early_delivery_days(), 0, kMostEarly);
  }

  void Reading(const std::string& path, const v1::CoverReading& reading,
               std::set<std::string>* ids) {
    Id(path + ".id", reading.id(), ids);
    Enum(path + ".anchor", reading.anchor(), *v1::CoverAnchor_descriptor(), true);
    Between(path + ".anchor_day_number", reading.anchor_day_number(), 0, 1);
    Between(path + ".length_days", reading.length_days(), 0, kMostDays);
    if (!reading.has_start()) return;
    const v1::StartWindow& start = reading.start();
    Enum(path + ".start.anchor", start.anchor(), *v1::CoverAnchor_descriptor(), true);
    Enum(path + ".start.measure", start.measure(), *v1::WindowMeasure_descriptor(), true);
    Between(path + ".start.most", start.most(), 0, kMostWindow);
  }

  const v1::Settings& settings_;
  std::vector<SettingsError>* errors_;
};

}  // namespace

void CheckCover(const v1::Settings& settings, std::vector<SettingsError>* errors) {
  CoverCheck(settings, errors).Run();
}

}  // namespace ferrule::depot
