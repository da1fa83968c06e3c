#include "core/depot/planning_check.h"

#include <set>
#include <string>
#include <utility>

#include "absl/strings/str_cat.h"
#include "core/time/civil.h"

namespace ferrule::depot {
namespace {

constexpr int64_t kMostMoney = 1'000'000'000'000;
constexpr int kMostYears = 50;
constexpr int kMostTransitDays = 60;

class Check {
 public:
  Check(const v1::Settings& settings, std::vector<SettingsError>* errors)
      : settings_(settings), planning_(settings.planning()), errors_(errors) {}

  void Run() {
    Classes();
    ClosedDays();
    Lanes();
  }

 private:
  void Wrong(std::string field, std::string message) {
    errors_->push_back({0, absl::StrCat("planning.", field), std::move(message)});
  }

  template <typename List>
  bool Has(const List& list, const std::string& id) {
    for (const auto& item : list)
      if (item.id() == id) return true;
    return false;
  }

  void Class(const std::string& path, const std::string& id) {
    if (Has(settings_.device_classes(), id)) return;
    Wrong(path, absl::StrCat("there is no class of device \"", id,
                             "\" in these settings: add it or correct the name"));
  }

  void Branch(const std::string& path, const std::string& id) {
    if (Has(settings_.branches(), id)) return;
    Wrong(path, absl::StrCat("there is no branch \"", id,
                             "\" in these settings: add it or correct the name"));
  }

  void Money(const std::string& path, int64_t minor) {
    if (minor >= 0 && minor <= kMostMoney) return;
    Wrong(path, absl::StrCat("is ", minor, ": give hundredths of the currency, 0 to ", kMostMoney));
  }

  // 0 stands for the usual value.
  void Target(const std::string& path, double share) {
    if (share >= 0 && share < 1) return;
    Wrong(path, absl::StrCat("is ", share, ": give a share above 0 and below 1, 0.05 for 5 %"));
  }

  void Whole(const std::string& path, int value, int most) {
    if (value >= 0 && value <= most) return;
    Wrong(path, absl::StrCat("is ", value, ": give 0 to ", most));
  }

  void Classes() {
    std::set<std::string> seen;
    for (int i = 0; i < planning_.class_plans_size(); ++i) {
      const v1::ClassPlan& plan = planning_.class_plans(i);
      const std::string path = absl::StrCat("class_plans[", i, "].");
      Class(path + "device_class", plan.device_class());
      if (!seen.insert(plan.device_class()).second) {
        Wrong(path + "device_class", "is given twice: give each class once");
      }
      Money(path + "rent_per_day_minor", plan.rent_per_day_minor());
      Money(path + "price_minor", plan.price_minor());
      Money(path + "salvage_minor", plan.salvage_minor());
      Money(path + "upkeep_per_day_minor", plan.upkeep_per_day_minor());
      Money(path + "shortage_per_day_minor", plan.shortage_per_day_minor());
      Whole(path + "life_years", plan.life_years(), kMostYears);
      const double interest = plan.yearly_interest_share();
      if (!(interest >= 0 && interest <= 1)) {
        Wrong(path + "yearly_interest_share",
              absl::StrCat("is ", interest, ": give a share from 0 to 1, 0.05 for 5 % a year"));
      }
      Target(path + "lost_target_share", plan.lost_target_share());
      Target(path + "short_day_target_probability", plan.short_day_target_probability());
    }
  }

  void ClosedDays() {
    for (int i = 0; i < planning_.closed_days_size(); ++i) {
      const v1::ClosedDay& day = planning_.closed_days(i);
      const std::string path = absl::StrCat("closed_days[", i, "].");
      if (!time::IsValid(day.closed_date())) {
        Wrong(path + "closed_date",
              "is no day of the calendar: give year, month and day, for instance "
              "{ year: 2026 month: 12 day: 25 }");
      }
      if (!day.branch().empty()) Branch(path + "branch", day.branch());
    }
  }

  void Lanes() {
    std::set<std::pair<std::string, std::string>> seen;
    for (int i = 0; i < planning_.transfer_lanes_size(); ++i) {
      const v1::TransferLane& lane = planning_.transfer_lanes(i);
      const std::string path = absl::StrCat("transfer_lanes[", i, "].");
      Branch(path + "from_branch", lane.from_branch());
      Branch(path + "to_branch", lane.to_branch());
      if (lane.from_branch() == lane.to_branch()) {
        Wrong(path + "to_branch", "is where the lane begins: give another branch");
      }
      if (!seen.emplace(lane.from_branch(), lane.to_branch()).second) {
        Wrong(path + "to_branch", "is given twice for this sender: give each lane once");
      }
      Whole(path + "transit_days", lane.transit_days(), kMostTransitDays);
      Money(path + "cost_minor", lane.cost_minor());
    }
  }

  const v1::Settings& settings_;
  const v1::Planning& planning_;
  std::vector<SettingsError>* errors_;
};

}  // namespace

void CheckPlanning(const v1::Settings& settings, std::vector<SettingsError>* errors) {
  Check(settings, errors).Run();
}

}  // namespace ferrule::depot
