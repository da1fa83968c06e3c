// The forecast of units needed, by branch and class, against the fleet.
#pragma once

#include <string>
#include <vector>

#include "absl/status/statusor.h"
#include "core/outlook/planner_input.h"
#include "core/outlook/records.h"
#include "ferrule/v1/plan_service.pb.h"

namespace ferrule::outlook {

inline constexpr int kUsualHorizon = 56;
inline constexpr int kForecastPaths = 1000;

// The forecast as of `at_us`, out of nothing but the records. InvalidArgument for a horizon out of
// its range, NotFound for a branch or class of which neither settings nor orders know; both say
// what would be right. A branch and class without units and without orders has no row.
absl::StatusOr<v1::GetForecastResponse> Forecast(const Records& records,
                                                 const v1::GetForecastRequest& request,
                                                 int64_t at_us);

// The branches and classes that a request asks about: what the answers have in common. Errors as
// above. `visit` gets each branch with the positions of its classes.
struct Asked {
  const BranchInput* branch;
  std::vector<size_t> classes;
};
absl::StatusOr<std::vector<Asked>> AskedOf(const std::vector<BranchInput>& inputs,
                                           const std::string& branch,
                                           const std::string& device_class);

// InvalidArgument when `days` is neither 0 (then `usual`) nor within [least, most].
absl::StatusOr<int> HorizonOf(int days, int usual, int least, int most);

// The end of a sentence when the records may have stopped, empty else: out of silence every unit is
// taken for late, and no order for coming.
std::string Silence(const Records& records, int64_t at_us);

// Units that can be lent: the fleet without what a hold keeps back.
inline int64_t Lendable(const Fleet& fleet) { return fleet.units - fleet.held; }

}  // namespace ferrule::outlook
