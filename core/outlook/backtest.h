// Forecasts from past days, each made with what was known then, and forecasts that were kept,
// scored against what came.
#pragma once

#include <functional>
#include <memory>
#include <vector>

#include "absl/status/statusor.h"
#include "core/outlook/planner_input.h"
#include "core/outlook/reconcile_trial.h"
#include "core/outlook/records.h"
#include "core/outlook/scores.h"
#include "ferrule/v1/plan_service.pb.h"

namespace ferrule::outlook {

// Goes origin by origin, so that a long run can be followed and ended. Not thread-safe; one call
// at a time, from any thread.
class Backtest {
 public:
  // Errors as for Forecast; InvalidArgument for origins and steps out of their ranges.
  static absl::StatusOr<std::unique_ptr<Backtest>> Begin(RecordsReader* reader,
                                                         const v1::WatchBacktestRequest& request,
                                                         int64_t now_us);
  int origins() const { return static_cast<int>(origins_us_.size()); }
  // Scores the i-th origin, the oldest first.
  absl::Status Run(int i);
  v1::ForecastScores Scores() const;

 private:
  Backtest() = default;
  // The branch as one class beside its classes.
  void AddSums(const BranchInput& branch, const plan::OccupancyInput& input,
               const std::vector<plan::ClassOccupancy>& all);

  RecordsReader* reader_ = nullptr;
  std::string branch_, device_class_;
  int horizon_ = 28;
  std::shared_ptr<const Records> outcome_;
  int64_t first_day_ = 0, last_day_ = 0;  // that are known whole
  std::unique_ptr<PastUses> uses_;
  std::vector<int64_t> origins_us_;
  ScoreBook book_;
  SumsTrial sums_;
};

// A day of a forecast that was kept, and what came.
struct DiaryCase {
  size_t noted = 0;  // of Records::diary
  int64_t day = 0;
  ScoreBook::Case score;
};
// Every such day that is over, forecast by forecast.
void EachDiaryCase(const Records& records, int64_t at_us,
                   const std::function<void(const DiaryCase&)>& use);

// Errors as for Forecast.
absl::StatusOr<v1::ReportForecastDiaryResponse> ScoreDiary(
    const Records& records, const v1::ReportForecastDiaryRequest& request, int64_t at_us);

}  // namespace ferrule::outlook
