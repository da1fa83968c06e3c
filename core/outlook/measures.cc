#include "core/outlook/measures.h"

#include "absl/strings/str_cat.h"
#include "core/depot/known.h"
#include "core/outlook/figure.h"
#include "core/time/civil.h"

namespace ferrule::outlook {
namespace {

constexpr int64_t kUsualDays = 90;

absl::Status CheckNames(const Records& records, const v1::ReportMeasuresRequest& request) {
  const depot::Rules& rules = records.rules();
  absl::Status known = depot::KnowBranch(rules, request.branch());
  known.Update(depot::KnowDeviceClass(rules, request.device_class()));
  return known;
}

struct Window {
  int64_t first = 0, last = 0;
};

absl::StatusOr<Window> WindowOf(const Records& records, const v1::ReportMeasuresRequest& request,
                                int64_t at_us) {
  const bool bad = (request.has_from_date() && !time::IsValid(request.from_date())) ||
                   (request.has_through_date() && !time::IsValid(request.through_date()));
  if (bad) return absl::InvalidArgumentError("from_date or through_date is no day of the calendar");
  const auto& branches = records.rules().settings().branches();
  const std::string branch = !request.branch().empty() ? request.branch()
                             : branches.empty()        ? std::string()
                                                       : branches.Get(0).id();
  const int64_t today = time::DayNumber(time::LocalDay(at_us, records.rules().ZoneOf(branch)));
  Window window;
  window.last =
      request.has_through_date() ? time::DayNumber(time::ToDay(request.through_date())) : today - 1;
  window.first = request.has_from_date() ? time::DayNumber(time::ToDay(request.from_date()))
                                         : window.last - kUsualDays + 1;
  if (window.first > window.last) {
    return absl::InvalidArgumentError(
        "the window ends before it begins: give from_date before through_date");
  }
  if (window.first > today) {
    return absl::InvalidArgumentError(
        absl::StrCat("the window begins after ", time::FormatDay(time::DayFromNumber(today)),
                     ", when nothing has happened yet; ferrule forecast looks ahead"));
  }
  return window;
}

}  // namespace

absl::StatusOr<v1::ReportMeasuresResponse> Measures(const Records& records,
                                                    const v1::ReportMeasuresRequest& request,
                                                    int64_t at_us) {
  if (absl::Status status = CheckNames(records, request); !status.ok()) return status;
  const auto window = WindowOf(records, request, at_us);
  if (!window.ok()) return window.status();
  const MeasureContext context(records, request, window->first, window->last, at_us);
  v1::ReportMeasuresResponse response;
  *response.mutable_from_date() = time::FromDay(time::DayFromNumber(window->first));
  *response.mutable_through_date() = time::FromDay(time::DayFromNumber(window->last));
  time::SetMicros(at_us, response.mutable_known_time());
  std::string names;
  for (auto measures : {FleetMeasures, FieldMeasures, HomeMeasures, BenchMeasures, DemandMeasures,
                        PromiseMeasures, MoneyMeasures}) {
    for (v1::Measure& measure : measures(context)) {
      absl::StrAppend(&names, names.empty() ? "" : ", ", measure.measure());
      if (!request.measure().empty() && measure.measure() != request.measure()) continue;
      *response.add_measures() = std::move(measure);
    }
  }
  if (response.measures().empty()) {
    return absl::NotFoundError(
        absl::StrCat("there is no measure ", request.measure(), "; the measures are: ", names));
  }
  return response;
}

}  // namespace ferrule::outlook
