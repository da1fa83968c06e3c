#include "core/outlook/backtest.h"

#include <algorithm>
#include <cmath>
#include <set>
#include <utility>

#include "absl/strings/str_cat.h"
#include "core/outlook/forecast.h"
#include "core/time/civil.h"

namespace ferrule::outlook {
namespace {

constexpr int64_t kDayUs = int64_t{86'400} * 1'000'000;
constexpr int kUsualOrigins = 13;
constexpr int kUsualStep = 7;
constexpr int kUsualAhead = 28;
constexpr int64_t kScaleDays = 182;
// Days of bookings from which a branch's sum is tried as a challenger.
constexpr int64_t kSumsHistory = 730;
constexpr int kJudgedAhead = 7;  // the transform is judged so many days ahead

// What is compared with: days before an origin, taken from the outcome's own series.
class Series {
 public:
  Series(const PastUse& use, int64_t first) : use_(use), first_(first) {}

  bool Has(int64_t day) const {
    return day >= first_ && day - first_ < static_cast<int64_t>(use_.in_use.size());
  }
  double At(int64_t day) const { return use_.in_use[static_cast<size_t>(day - first_)]; }
  // The latest known day with the weekday of `day`.
  double Naive(int64_t origin, int64_t day) const {
    int64_t back = day;
    while (back > origin) back -= 7;
    return Has(back) ? At(back) : 0;
  }
  double Scale(int64_t origin) const {
    std::vector<double> values;
    for (int64_t d = origin - kScaleDays; d <= origin; ++d)
      if (Has(d)) values.push_back(At(d));
    return plan::NaiveScale(values, 7);
  }

 private:
  const PastUse& use_;
  const int64_t first_;
};

absl::StatusOr<int> Within(const char* field, int value, int usual, int most) {
  if (value == 0) return usual;
  if (value >= 1 && value <= most) return value;
  return absl::InvalidArgumentError(
      absl::StrCat(field, " is ", value, ": give 1 to ", most, ", or 0 for ", usual));
}

plan::StepForecast StepOf(const plan::Pmf& pmf) {
  plan::StepForecast step;
  step.mean = plan::Mean(pmf);
  for (size_t q = 0; q < plan::kLevels.size(); ++q)
    step.quantiles[q] = static_cast<double>(plan::Quantile(pmf, plan::kLevels[q]));
  return step;
}

plan::StepForecast StepOf(const v1::ForecastDayNoted& day) {
  plan::StepForecast step;
  step.mean = day.mean_units();
  const int64_t quantiles[] = {day.low_95(), day.low_80(),  day.median(), day.high_80(),
                               day.q95(),    day.high_95(), day.q99()};
  for (size_t q = 0; q < plan::kLevels.size(); ++q)
    step.quantiles[q] = static_cast<double>(quantiles[q]);
  return step;
}

}  // namespace

absl::StatusOr<std::unique_ptr<Backtest>> Backtest::Begin(RecordsReader* reader,
                                                          const v1::WatchBacktestRequest& request,
                                                          int64_t now_us) {
  const auto horizon = HorizonOf(request.horizon_days(), kUsualAhead, 1, 120);
  if (!horizon.ok()) return horizon.status();
  const auto origins = Within("origin_count", request.origin_count(), kUsualOrigins, 104);
  if (!origins.ok()) return origins.status();
  const auto step = Within("step_days", request.step_days(), kUsualStep, 91);
  if (!step.ok()) return step.status();
  std::optional<int64_t> known;
  if (request.has_known_time()) known = time::ToMicros(request.known_time());
  auto records = reader->At(known, now_us);
  if (!records.ok()) return records.status();
  const int64_t at_us = known.value_or(now_us);
  const auto inputs = PlannerInput(**records, at_us);
  const auto asked = AskedOf(inputs, request.branch(), request.device_class());
  if (!asked.ok()) return asked.status();
  std::unique_ptr<Backtest> test(new Backtest);
  test->reader_ = reader;
  test->branch_ = request.branch();
  test->device_class_ = request.device_class();
  test->horizon_ = *horizon;
  test->outcome_ = *records;
  // Today is not over; the last whole day anywhere is yesterday, and one more for the zones.
  test->last_day_ = time::DayNumber(time::LocalDay(at_us, absl::UTCTimeZone())) - 2;
  const int64_t span = int64_t{*origins - 1} * *step;
  test->first_day_ = test->last_day_ - *horizon - span - kScaleDays;
  test->uses_ = std::make_unique<PastUses>(**records, test->first_day_, test->last_day_);
  for (int i = 0; i < *origins; ++i) {
    const int64_t day = test->last_day_ - *horizon - span + int64_t{i} * *step;
    // The end of that day, in the middle of the night of most zones.
    test->origins_us_.push_back(
        time::StartOfDayMicros(time::DayFromNumber(day) + 1, absl::UTCTimeZone()) + kDayUs / 4);
  }
  return test;
}

absl::Status Backtest::Run(int i) {
  const int64_t origin_us = origins_us_[static_cast<size_t>(i)];
  const auto records = ReadRecords(reader_->ledger(), origin_us);
  if (!records.ok()) return records.status();
  for (const BranchInput& branch : ForecastInput(**records, origin_us)) {
    if (!branch_.empty() && branch.branch != branch_) continue;
    plan::OccupancyInput input = branch.input;
    // The branch's day in which the origin falls is not over: it is the first one forecast.
    input.now =
        time::DayNumber(time::LocalDay(origin_us, (*records)->rules().ZoneOf(branch.branch))) - 1;
    input.horizon = horizon_;
    const auto all = plan::ForecastOccupancy(input);
    AddSums(branch, input, all);
    for (size_t c = 0; c < branch.classes.size() && c < all.size(); ++c) {
      if (!device_class_.empty() && branch.classes[c] != device_class_) continue;
      const Series series(uses_->Of(branch.branch, branch.classes[c]), first_day_);
      const double scale = series.Scale(input.now);
      for (int h = 1; h <= horizon_; ++h) {
        const int64_t day = input.now + h;
        if (!series.Has(day)) continue;
        const plan::Pmf& pmf = all[c].days[static_cast<size_t>(h) - 1].units;
        // A class that is not lent here has nothing to be right about.
        if (series.At(day) == 0 && all[c].history == 0) continue;
        book_.Add({branch.branch, branch.classes[c], h, StepOf(pmf), series.At(day),
                   series.Naive(input.now, day), scale});
        if (h == std::min(kJudgedAhead, horizon_)) {
          const auto y = static_cast<int64_t>(series.At(day));
          book_.AddTransform({plan::Cdf(pmf, y - 1), plan::Cdf(pmf, y)});
        }
      }
    }
  }
  return absl::OkStatus();
}

void Backtest::AddSums(const BranchInput& branch, const plan::OccupancyInput& input,
                       const std::vector<plan::ClassOccupancy>& all) {
  // One class is its own sum, and what was asked about alone has none.
  if (branch.classes.size() < 2 || !device_class_.empty()) return;
  int64_t first = input.now;
  for (const plan::Booking& b : input.bookings) first = std::min(first, b.booked);
  if (input.now - first < kSumsHistory) return;
  plan::OccupancyInput together = input;
  together.classes = 1;
  for (plan::Booking& b : together.bookings) b.device_class = 0;
  const auto whole = plan::ForecastOccupancy(together);
  SumsTrial::Origin origin;
  origin.day = input.now;
  for (size_t i = 0; i < static_cast<size_t>(horizon_); ++i)
    origin.whole.push_back(plan::Mean(whole[0].days[i].units));
  for (size_t c = 0; c < branch.classes.size() && c < all.size(); ++c) {
    const Series series(uses_->Of(branch.branch, branch.classes[c]), first_day_);
    std::vector<double> forecast, actual;
    for (int h = 1; h <= horizon_; ++h) {
      if (!series.Has(input.now + h)) return;
      forecast.push_back(plan::Mean(all[c].days[static_cast<size_t>(h) - 1].units));
      actual.push_back(series.At(input.now + h));
    }
    origin.parts.push_back(std::move(forecast));
    origin.came.push_back(std::move(actual));
  }
  sums_.Add(branch.branch, std::move(origin));
}

v1::ForecastScores Backtest::Scores() const {
  v1::ForecastScores scores = book_.Scores();
  if (const std::string words = sums_.Words(); !words.empty()) scores.add_texts(words);
  return scores;
}

void EachDiaryCase(const Records& records, int64_t at_us,
                   const std::function<void(const DiaryCase&)>& use) {
  if (records.diary.empty()) return;
  const int64_t last = time::DayNumber(time::LocalDay(at_us, absl::UTCTimeZone())) - 2;
  int64_t first = last;
  for (const v1::ForecastNoted& noted : records.diary)
    first = std::min(first, time::DayNumber(time::ToDay(noted.as_of_date())));
  const int64_t from = first - kScaleDays;
  const PastUses uses(records, from, last);
  for (size_t i = 0; i < records.diary.size(); ++i) {
    const v1::ForecastNoted& noted = records.diary[i];
    const int64_t origin = time::DayNumber(time::ToDay(noted.as_of_date()));
    for (const v1::ClassForecastNoted& c : noted.classes()) {
      const Series series(uses.Of(noted.branch(), c.device_class()), from);
      const double scale = series.Scale(origin);
      for (int h = 1; h <= c.days_size() && series.Has(origin + h); ++h) {
        use({i,
             origin + h,
             {noted.branch(), c.device_class(), h, StepOf(c.days(h - 1)), series.At(origin + h),
              series.Naive(origin, origin + h), scale}});
      }
    }
  }
}

absl::StatusOr<v1::ReportForecastDiaryResponse> ScoreDiary(
    const Records& records, const v1::ReportForecastDiaryRequest& request, int64_t at_us) {
  const auto inputs = PlannerInput(records, at_us);
  const auto asked = AskedOf(inputs, request.branch(), request.device_class());
  if (!asked.ok()) return asked.status();
  v1::ReportForecastDiaryResponse response;
  int64_t first_as_of = kNever, last_as_of = 0;
  for (const v1::ForecastNoted& noted : records.diary) {
    const int64_t day = time::DayNumber(time::ToDay(noted.as_of_date()));
    first_as_of = std::min(first_as_of, day);
    last_as_of = std::max(last_as_of, day);
  }
  ScoreBook book;
  std::set<size_t> scored;
  EachDiaryCase(records, at_us, [&](const DiaryCase& one) {
    if (!request.branch().empty() && one.score.branch != request.branch()) return;
    if (!request.device_class().empty() && one.score.device_class != request.device_class()) return;
    scored.insert(one.noted);
    book.Add(one.score);
  });
  response.set_noted_count(static_cast<int64_t>(scored.size()));
  if (first_as_of != kNever) {
    *response.mutable_first_as_of_date() = time::FromDay(time::DayFromNumber(first_as_of));
    *response.mutable_last_as_of_date() = time::FromDay(time::DayFromNumber(last_as_of));
  }
  *response.mutable_scores() = book.Scores();
  return response;
}

}  // namespace ferrule::outlook
