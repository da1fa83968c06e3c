#include "core/plan/week_rate.h"

#include <algorithm>
#include <cmath>
#include <map>
#include <numeric>

#include "absl/strings/str_cat.h"
#include "absl/strings/str_format.h"
#include "core/plan/scores.h"
#include "core/plan/smoothing.h"

namespace ferrule::plan {
namespace {

constexpr int kMostStep = 4;          // weeks between origins
constexpr int kOriginsPerAnchor = 5;  // that one fit serves
// By how much another method must be better than the incumbent. The calendar model returns by what
// is usual (planning.md); of some six challengers the luckiest is better by a tenth in one of 20
// forecasts of branches made as the calendar model says, so that one must show more.
constexpr double kReturn = .03, kChallenge = .1;
constexpr int64_t kWeek = static_cast<int64_t>(kDaysPerBlock);
constexpr int kUsualWeeks = 52;  // that say what a usual week is
// No level is known better than by counting the orders of half a year.
constexpr size_t kHalfAYear = 26;  // weeks
// Orders per week where none were seen: half an order in that time, as none is never sure.
constexpr double kLeastOrders = .5 / kHalfAYear;
const std::string kLead = "weekly level by ";
const std::string kModel = "the calendar model";

std::string NameOf(Method method) {
  return method == Method::kCalendar ? kModel : std::string(Name(method));
}

// Sums of whole weeks of days up to `end`, the newest last.
std::vector<double> Weeks(const std::vector<double>& days, size_t end) {
  const size_t weeks = std::min(end / kDaysPerBlock, kMostBlocks);
  std::vector<double> sums(weeks, 0);
  for (size_t w = 0; w < weeks; ++w)
    for (size_t d = 0; d < kDaysPerBlock; ++d)
      sums[w] += days[end - (weeks - w) * kDaysPerBlock + d];
  return sums;
}

double SumOf(const std::vector<double>& days, size_t from, size_t to) {
  double sum = 0;
  for (size_t t = from; t < std::min(to, days.size()); ++t) sum += days[t];
  return sum;
}

// What the steady calendar expects of a usual week before `end`, holidays of a year in it.
double UsualWeek(const OrderRate& rate, size_t end) {
  const std::vector<double> weeks = Weeks(rate.steady, end);
  const size_t n = std::min<size_t>(weeks.size(), kUsualWeeks);
  return n > 0 ? std::accumulate(weeks.end() - static_cast<std::ptrdiff_t>(n), weeks.end(), 0.0) /
                     static_cast<double>(n)
               : 0;
}

// How much of a usual week the calendar has in each of the scored weeks after day `end`.
std::vector<double> HolidayShares(const OrderRate& rate, size_t end) {
  const double usual = std::max(UsualWeek(rate, end), 1e-9);
  std::vector<double> shares;
  for (size_t w = 0; w < kScoredWeeks; ++w) {
    const size_t from = end + w * kDaysPerBlock;
    shares.push_back(SumOf(rate.steady, from, from + kDaysPerBlock) / usual);
  }
  return shares;
}

SeriesForecast Scaled(SeriesForecast forecast, const std::vector<double>& by) {
  for (size_t i = 0; i < forecast.steps.size() && i < by.size(); ++i) {
    StepForecast& step = forecast.steps[i];
    step.mean *= by[i];
    step.variance *= by[i] * by[i];
    for (double& q : step.quantiles) q *= by[i];
  }
  return forecast;
}

Series SeriesOf(std::vector<double> weeks) { return {std::move(weeks), 52, 0, {}}; }

// What is scored besides the calendar model.
std::vector<Method> Challengers(const Series& weekly) {
  std::vector<Method> methods;
  for (Method method : SuitableMethods(weekly))
    if (FamilyOf(method) == Family::kNaive || FamilyOf(method) == Family::kRate ||
        method == Method::kSmoothing)
      methods.push_back(method);
  return methods;
}

// A challenger's forecast of the scored weeks; smoothing with what it was fitted to, if usable.
SeriesForecast Challenge(Method method, const Series& weekly, const SmoothingFit& smoothing) {
  return method == Method::kSmoothing && smoothing.usable
             ? ForecastSmoothing(smoothing, kScoredWeeks, true)
             : ForecastBy(method, weekly, kScoredWeeks);
}

// Forecasts of one stream from the origins that one fit serves.
class Follower {
 public:
  // `own` up to the anchor.
  Follower(const OrderStream& own, const OrderRate& rate, const std::vector<LikelyLaw>& laws)
      : rate_(rate), anchor_(own.counts.size()) {
    const OrderLevel level =
        FollowOrders(own, rate.expected, BlocksOf(own, rate.expected, 0), 0, laws);
    likely_ = level.level.likely;
    dispersion_ = level.dispersion;
    smoothing_ = SelectPlainSmoothing(Weeks(own.counts, anchor_));
  }

  // The calendar model's, with the stream known to an origin at the anchor or after it.
  SeriesForecast Calendar(const OrderStream& known) const {
    const size_t now = known.counts.size();
    const std::vector<LevelBlock> blocks = BlocksOf(known, rate_.expected, kScoredWeeks);
    const Level level = FitLevel(blocks, dispersion_, kScoredWeeks, likely_);
    const size_t past = blocks.size() - kScoredWeeks, weeks_on = (now - anchor_) / kDaysPerBlock;
    std::vector<double> means, variances;
    for (size_t w = 0; w < kScoredWeeks; ++w) {
      const size_t from = now + w * kDaysPerBlock, block = weeks_on + w;
      const double mean = SumOf(rate_.expected, from, from + kDaysPerBlock) * level.Mean(past + w);
      const double doubt =
          level.Covariance(w, w) + rate_.covariance[block * (rate_.blocks_ahead + 1)];
      means.push_back(mean);
      variances.push_back(dispersion_ * mean + mean * mean * std::expm1(doubt));
    }
    return CountForecast(means, variances);
  }

  SeriesForecast Challenger(Method method, const OrderStream& known, const Series& weekly) const {
    SmoothingFit fit = smoothing_;
    const size_t since = (known.counts.size() - anchor_) / kDaysPerBlock;
    for (size_t w = weekly.values.size() - since; fit.usable && w < weekly.values.size(); ++w)
      fit.now.Observe(fit.model, weekly.values[w]);
    return Scaled(Challenge(method, weekly, fit), HolidayShares(rate_, known.counts.size()));
  }

 private:
  const OrderRate& rate_;
  size_t anchor_;
  std::vector<LikelyLaw> likely_;
  double dispersion_ = 1;
  SmoothingFit smoothing_;
};

void AddLoss(Method method, double loss, std::map<Method, MethodScore>* scores) {
  MethodScore& score = scores->try_emplace(method, MethodScore{method, 0, 0, {}}).first->second;
  score.loss += loss;
  score.losses.push_back(loss);
  ++score.origins;
}

// Means over the origins, of the methods that all origins allowed, best first.
std::vector<MethodScore> Finished(const std::map<Method, MethodScore>& sums) {
  int most = 0;
  for (const auto& [method, score] : sums) most = std::max(most, score.origins);
  std::vector<MethodScore> scores;
  for (const auto& [method, sum] : sums) {
    if (sum.origins < most) continue;
    scores.push_back(sum);
    scores.back().loss /= most;
    std::reverse(scores.back().losses.begin(), scores.back().losses.end());
  }
  std::stable_sort(scores.begin(), scores.end(),
                   [](const MethodScore& a, const MethodScore& b) { return a.loss < b.loss; });
  return scores;
}

const MethodScore* Find(const std::vector<MethodScore>& scores, Method method) {
  for (const MethodScore& score : scores)
    if (score.method == method) return &score;
  return nullptr;
}

// The incumbent, or the best that is clearly better. One that could not be scored gives way to the
// calendar model.
Method Choose(const std::vector<MethodScore>& scores, Method incumbent) {
  const MethodScore* holds = Find(scores, incumbent);
  if (holds == nullptr) holds = Find(scores, Method::kCalendar);
  if (holds == nullptr || holds->origins < kScoredOrigins) return Method::kCalendar;
  for (const MethodScore& score : scores) {
    const double by = score.method == Method::kCalendar ? kReturn : kChallenge;
    if (score.loss * (1 + by) < holds->loss) return score.method;
  }
  return holds->method;
}

// What a challenger says of the coming weeks, as if they had no holidays.
struct WeeksAhead {
  std::vector<double> mean, log_variance;
};

// `course` is what the calendar expects of these weeks: beyond the weeks that were scored it is
// followed, at the level that the challenger has over those.
WeeksAhead AheadBy(const SeriesForecast& forecast, const std::vector<double>& course,
                   double dispersion, double least_doubt) {
  WeeksAhead ahead;
  const size_t scored = std::min<size_t>(course.size(), kScoredWeeks);
  double level = 0, under = 0, before = 0;
  for (size_t w = 0; w < scored; ++w) level += forecast.steps[w].mean, under += course[w];
  for (size_t w = 0; w < course.size(); ++w) {
    double doubt = least_doubt;
    if (w < scored) {
      // What is left of the variance besides the scatter of the counts themselves.
      const StepForecast& step = forecast.steps[w];
      const double m = std::max(step.mean, kLeastOrders);
      doubt = std::log1p(std::max(0.0, step.variance - dispersion * m) / (m * m));
      ahead.mean.push_back(m);
    } else {
      const std::vector<double>& v = ahead.log_variance;
      if (scored > 1) doubt = before + (v[scored - 1] - v[0]) / static_cast<double>(scored - 1);
      ahead.mean.push_back(std::max(course[w] * level / std::max(under, 1e-9), kLeastOrders));
    }
    before = std::max({before, doubt, least_doubt});
    ahead.log_variance.push_back(before);
  }
  return ahead;
}

WeeksAhead Ahead(Method method, const OrderStream& own, const OrderRate& rate,
                 const std::vector<LikelyLaw>& laws) {
  const size_t now = own.counts.size();
  const double usual = UsualWeek(rate, now);
  std::vector<double> course;
  for (size_t from = now; from < rate.expected.size(); from += kDaysPerBlock) {
    const size_t to = from + kDaysPerBlock;  // a week cut off by the horizon counts as it begins
    course.push_back(usual * SumOf(rate.expected, from, to) / SumOf(rate.steady, from, to));
  }
  const OrderLevel level =
      FollowOrders(own, rate.expected, BlocksOf(own, rate.expected, 0), 0, laws);
  const Series weekly = SeriesOf(Weeks(own.counts, now));
  const size_t recent = std::min(weekly.values.size(), kHalfAYear);
  const double orders = SumOf(weekly.values, weekly.values.size() - recent, weekly.values.size());
  const SmoothingFit smoothing =
      method == Method::kSmoothing ? SelectPlainSmoothing(weekly.values) : SmoothingFit{};
  return AheadBy(Challenge(method, weekly, smoothing), course, level.dispersion, 1 / (orders + .5));
}

std::string WordsOf(const WeekRate& rate, bool by_branch) {
  std::string words = absl::StrCat(kLead, NameOf(rate.method));
  const MethodScore* chosen = Find(rate.scores, rate.method);
  if (chosen == nullptr) return words;
  absl::StrAppendFormat(&words, ": scaled pinball loss %.3f on %d past dates%s", chosen->loss,
                        chosen->origins,
                        by_branch ? " of the whole branch, as the class is rare" : "");
  for (const MethodScore& other : rate.scores) {
    const bool calendar = other.method == Method::kCalendar;
    if (calendar == (rate.method == Method::kCalendar)) continue;
    absl::StrAppendFormat(&words, ", %s%s %.3f", calendar ? "" : "best challenger ",
                          NameOf(other.method), other.loss);
    break;
  }
  return words;
}

}  // namespace

WeekRates::WeekRates(const std::vector<Booking>& known, const SidesOf& sides,
                     const std::vector<int64_t>& holidays, int64_t now, const OrderRates& rates,
                     const OtherBranches& others)
    : known_(known),
      sides_(sides),
      now_(now),
      rates_(rates),
      branch_(StreamOf(known, sides, now, -1)) {
  const int weeks = static_cast<int>(branch_.counts.size() / kDaysPerBlock);
  const int room = weeks - kScoredWeeks - kWeeksBefore;
  step_ = std::clamp(room / (kScoredOrigins - 1), 0, kMostStep);
  if (step_ == 0) return;
  for (int k = kScoredOrigins - 1; k >= 0; k -= kOriginsPerAnchor) {
    const int origins = std::min(kOriginsPerAnchor, k + 1);
    const int64_t day = now - kWeek * (kScoredWeeks + k * step_);
    const int64_t horizon = kWeek * (kScoredWeeks + (origins - 1) * step_);
    OrderStream then = branch_;
    then.counts.resize(static_cast<size_t>(day - then.first + 1));
    anchors_.push_back({day, origins, OrderRates(then, holidays, horizon, others)});
  }
}

std::vector<MethodScore> WeekRates::Scores(int device_class) const {
  std::map<Method, MethodScore> sums;
  const OrderStream all = StreamOf(known_, sides_, now_, device_class);
  const auto until = [&](int64_t day) {
    OrderStream then = all;
    then.counts.resize(static_cast<size_t>(day - all.first + 1));
    return then;
  };
  for (const Anchor& anchor : anchors_) {
    const OrderStream at = until(anchor.day);
    const OrderRate rate = anchor.rates.Of(at);
    const Follower follower(at, rate, rates_.laws());
    for (int i = 0; i < anchor.origins; ++i) {
      const OrderStream known = until(anchor.day + kWeek * i * step_);
      const size_t now = known.counts.size();
      const Series weekly = SeriesOf(Weeks(known.counts, now));
      const double scale = NaiveScale(weekly.values, 1);
      if (!(scale > 0)) continue;
      const std::vector<double> came = Weeks(
          {all.counts.begin() + static_cast<std::ptrdiff_t>(now),
           all.counts.begin() + static_cast<std::ptrdiff_t>(now + kScoredWeeks * kDaysPerBlock)},
          kScoredWeeks * kDaysPerBlock);
      AddLoss(Method::kCalendar, WindowLoss(came, 0, follower.Calendar(known)) / scale, &sums);
      for (Method method : Challengers(weekly))
        AddLoss(method, WindowLoss(came, 0, follower.Challenger(method, known, weekly)) / scale,
                &sums);
    }
  }
  return Finished(sums);
}

WeekRate WeekRates::Of(int device_class, const OrderStream& own, const OrderRate& rate,
                       Method incumbent) {
  WeekRate result;
  if (step_ == 0) {
    result.words = absl::StrCat(
        kLead, kModel, ", not compared with other methods: ", branch_.counts.size() / kDaysPerBlock,
        " weeks of history, ", kScoredWeeks + kWeeksBefore + kScoredOrigins - 1, " are needed");
    return result;
  }
  const bool by_branch = own.Total() < kThinOrders && own.counts != branch_.counts;
  const OrderStream& judged = by_branch ? branch_ : own;
  const OrderRate judged_rate = by_branch ? rates_.Of(branch_) : rate;
  if (by_branch) {
    if (!branch_scores_) branch_scores_ = Scores(-1);
    result.scores = *branch_scores_;
  } else {
    result.scores = Scores(device_class);
  }
  result.method = Choose(result.scores, incumbent);
  result.words = WordsOf(result, by_branch);
  if (result.method == Method::kCalendar) return result;
  const WeeksAhead ahead = Ahead(result.method, judged, judged_rate, rates_.laws());
  const double part = by_branch ? (own.Total() + .5) / (branch_.Total() + .5) : 1;
  const size_t now = own.counts.size();
  const double usual = std::max(UsualWeek(rate, now), 1e-9);
  for (size_t t = now; t < rate.steady.size(); ++t)
    result.expected.push_back(part * ahead.mean[(t - now) / kDaysPerBlock] * rate.steady[t] /
                              usual);
  result.log_variance = ahead.log_variance;
  if (by_branch)
    for (double& v : result.log_variance) v += 1 / (own.Total() + .5);
  return result;
}

std::optional<Method> MethodIn(std::string_view basis) {
  const size_t at = basis.find(kLead);
  if (at == std::string_view::npos) return std::nullopt;
  const std::string_view rest = basis.substr(at + kLead.size());
  if (rest.starts_with(kModel)) return Method::kCalendar;
  std::optional<Method> found;
  size_t longest = 0;
  for (int m = 0; m <= static_cast<int>(Method::kSmoothedRate); ++m) {
    const auto method = static_cast<Method>(m);
    const std::string_view name = Name(method);
    if (rest.starts_with(name) && name.size() > longest) found = method, longest = name.size();
  }
  return found;
}

}  // namespace ferrule::plan
