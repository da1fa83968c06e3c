// The depot's settings over time: every version, with look-ups by the instant that matters.
#pragma once

#include <memory>
#include <string>
#include <string_view>
#include <vector>

#include "absl/functional/function_ref.h"
#include "absl/status/statusor.h"
#include "absl/time/time.h"
#include "ferrule/v1/settings.pb.h"
#include "ferrule/v1/states.pb.h"

namespace ferrule::depot {

// One version with its look-up tables. Immutable.
class Rules {
 public:
  explicit Rules(v1::Settings settings);
  ~Rules();

  const v1::Settings& settings() const;
  // Each gives null when there is none of that id.
  const v1::Branch* FindBranch(std::string_view id) const;
  const v1::Place* FindPlace(std::string_view id) const;
  const v1::Branch* BranchOfPlace(std::string_view place_id) const;
  const v1::Model* FindModel(std::string_view id) const;
  const v1::DeviceClass* FindDeviceClass(std::string_view id) const;
  const v1::CleaningProduct* FindProduct(std::string_view id) const;
  // The checklist of that id in this version of the settings.
  const v1::Checklist* FindChecklist(std::string_view id) const;
  const v1::ServicePlan* FindServicePlan(std::string_view id) const;
  const v1::PayerTerms* FindPayer(std::string_view id) const;
  const v1::Procedure* FindProcedure(std::string_view id) const;
  // The branch's zone; UTC when the branch is not known.
  absl::TimeZone ZoneOf(std::string_view branch_id) const;

 private:
  struct Index;
  std::unique_ptr<const Index> index_;
};

// All versions. Immutable; cheap to share.
class SettingsBook {
 public:
  SettingsBook() = default;
  explicit SettingsBook(const v1::SettingsState& state);

  // The version in force at an instant; before the first one, and in an empty book, an empty
  // version that finds nothing.
  const Rules& At(int64_t us) const;
  bool empty() const { return versions_.empty(); }
  // Every version, past, in force or to come.
  void ForEach(absl::FunctionRef<void(const Rules&)> visit) const;

  // The earliest instant at which two books judge by different settings; INT64_MAX when they
  // always agree.
  friend int64_t FirstDifference(const SettingsBook& a, const SettingsBook& b);

 private:
  struct Version {
    int64_t from_us;
    std::shared_ptr<const Rules> rules;
  };
  std::vector<Version> versions_;  // by from_us
};

int64_t FirstDifference(const SettingsBook& a, const SettingsBook& b);

// Whether a kind of place keeps a clean unit clean.
bool IsCleanPlace(v1::PlaceKind kind);

}  // namespace ferrule::depot
