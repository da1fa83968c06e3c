#include "tests/support/promise_calibration.h"

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <future>
#include <map>
#include <random>
#include <set>
#include <stdexcept>
#include <utility>

#include "core/board/promise_pool.h"
#include "core/board/rentals_seen.h"
#include "core/demo/simulator.h"
#include "core/fact/subject.h"
#include "core/ledger/ledger.h"
#include "core/plan/pmf.h"
#include "core/time/civil.h"
#include "core/time/clock.h"
#include "core/unit/ready.h"

namespace ferrule::testing {
namespace {

constexpr int64_t kMinuteUs = 60'000'000;
constexpr int64_t kHorizons[] = {1, 2, 3, 5, 7, 10, 14};
// Of each question so many sizes are drawn.
constexpr int kSizes = 2;

// What was told, and what is needed to see whether it was kept.
struct Told {
  std::string pool;  // branch and class
  int64_t day = 0;   // ready when this day begins
  int64_t wanted = 0;
  int64_t ready_then = 0;              // units that were ready when it was told
  int64_t told_on = 0;                 // day
  std::vector<std::string> not_ready;  // the other units of the pool
  double odds = 0;
};

// The odds of one unit, told on a day, that something happens to it before another day begins.
struct PartTold {
  std::string part;
  std::string unit;
  bool returned = false;  // that it is back, not that it is ready
  int64_t told_on = 0;
  int64_t day = 0;
  double odds = 0;
};
constexpr int64_t kGroupDays = 28;
constexpr int64_t kPartHorizons[] = {1, 3, 7, 14};

using Days = std::map<std::string, std::vector<int64_t>>;

// Whether it happened after a day and before another one begins.
bool Happened(const Days& days, const std::string& unit, int64_t after, int64_t before) {
  const auto it = days.find(unit);
  if (it == days.end()) return false;
  const auto next = std::upper_bound(it->second.begin(), it->second.end(), after);
  return next != it->second.end() && *next < before;
}

void AddMean(double value, int64_t weight, int64_t count, double* mean) {
  *mean += (value - *mean) * static_cast<double>(weight) / static_cast<double>(count);
}

// Adds the odds and outcomes of one to another.
void Merge(const Decile& more, Decile* d) {
  if (more.count == 0) return;
  const double both = std::hypot(static_cast<double>(d->count) * d->error,
                                 static_cast<double>(more.count) * more.error);
  d->count += more.count;
  d->error = both / static_cast<double>(d->count);
  AddMean(more.told, more.count, d->count, &d->told);
  AddMean(more.kept, more.count, d->count, &d->kept);
}

void FindWorst(Calibration* calibration) {
  calibration->worst = 0;
  for (const Decile& d : calibration->deciles) {
    if (d.count >= kFilled) {
      calibration->worst = std::max(calibration->worst, std::abs(d.told - d.kept));
    }
  }
}

class Run {
 public:
  Run(std::unique_ptr<store::Database> database, const CalibrationOptions& options)
      : options_(options),
        clock_(0),
        random_(options.seed),
        ledger_(Open(std::move(database), &clock_)) {}

  Calibration Go() {
    demo::Options simulated;
    simulated.seed = options_.seed;
    simulated.units = options_.units;
    simulated.years = options_.years;
    demo::Simulator simulator(simulated);
    for (demo::Batch batch; simulator.Next(&batch); batch.entries.clear()) {
      AskBefore(batch.recorded_us);
      Record(std::move(batch));
    }
    return Judge();
  }

 private:
  static std::unique_ptr<ledger::Ledger> Open(std::unique_ptr<store::Database> database,
                                              const time::Clock* clock) {
    auto ledger = ledger::Ledger::Open(std::move(database), clock, {});
    if (!ledger.ok()) throw std::runtime_error(ledger.status().ToString());
    return *std::move(ledger);
  }

  void Record(demo::Batch batch) {
    clock_.Set(batch.recorded_us);
    std::set<std::string> units;
    for (const v1::Entry& entry : batch.entries) {
      for (const v1::Fact& fact : entry.facts()) {
        for (const std::string& name : fact::SubjectsOf(fact)) {
          if (name.rfind("units/", 0) == 0) units.insert(name);
        }
      }
    }
    std::promise<void> done;
    ledger_->RecordBatch(std::move(batch.entries), "", [&](auto results) {
      for (const auto& result : results) {
        if (!result.ok()) throw std::runtime_error(result.status().ToString());
      }
      done.set_value();
    });
    done.get_future().get();
    for (const std::string& name : units) NoteReadiness(name, batch.recorded_us);
  }

  // When a unit became ready, day by day.
  void NoteReadiness(const std::string& name, int64_t at_us) {
    const auto state = ledger_->Get(name);
    if (!state.ok()) throw std::runtime_error(state.status().ToString());
    unit::ReadyQuery query;
    query.at_us = at_us;
    query.order = (*state)->unit().order();
    const auto book = ledger_->Book();
    const v1::Branch* branch = book->At(at_us).BranchOfPlace((*state)->unit().place());
    const absl::TimeZone zone =
        branch == nullptr ? absl::UTCTimeZone() : book->At(at_us).ZoneOf(branch->id());
    const bool ready = (*state)->unit().custody() == v1::CUSTODY_PLACE &&
                       unit::Assess(**state, *book, query).empty();
    bool& before = ready_now_[name];
    if (ready && !before) {
      became_ready_[name].push_back(time::DayNumber(time::LocalDay(at_us, zone)));
    }
    before = ready;
    v1::Custody& custody = custody_now_[name];
    if (custody == v1::CUSTODY_HOME && (*state)->unit().custody() != v1::CUSTODY_HOME) {
      came_back_[name].push_back(time::DayNumber(time::LocalDay(at_us, zone)));
    }
    custody = (*state)->unit().custody();
  }

  // At one minute to midnight of every so many days, at each branch by its own clock.
  void AskBefore(int64_t until_us) {
    const auto book = ledger_->Book();
    if (book->empty()) return;
    for (const v1::Branch& branch : book->At(until_us).settings().branches()) {
      const absl::TimeZone zone = book->At(until_us).ZoneOf(branch.id());
      auto [it, is_new] = next_.try_emplace(branch.id());
      if (is_new) {
        it->second = time::DayNumber(time::LocalDay(until_us, zone)) + options_.warm_up_days;
      }
      while (true) {
        const int64_t midnight_us =
            time::StartOfDayMicros(time::DayFromNumber(it->second + 1), zone);
        if (midnight_us > until_us) break;
        Ask(branch.id(), midnight_us - kMinuteUs);
        it->second += options_.every_days;
      }
    }
  }

  void Ask(const std::string& branch, int64_t at_us) {
    const auto book = ledger_->Book();
    for (const v1::DeviceClass& device_class : book->At(at_us).settings().device_classes()) {
      const auto view = board::PoolView::Read(*ledger_, desk_, branch, device_class.id(), at_us);
      if (!view.ok()) throw std::runtime_error(view.status().ToString());
      const std::string pool = branch + "/" + device_class.id();
      for (int64_t ahead : kHorizons) AskOne(*view, pool, ahead);
      for (size_t u = 0; u < view->units().size(); ++u) AskParts(*view, u);
    }
  }

  void AskOne(const board::PoolView& view, const std::string& pool, int64_t ahead) {
    Told told;
    told.pool = pool;
    told.told_on = view.today();
    told.day = view.today() + ahead;
    std::vector<double> chances;
    for (size_t u = 0; u < view.units().size(); ++u) {
      const std::vector<double>& ready = view.ready()[u];
      if (ready.front() >= 1) {
        ++told.ready_then;
      } else {
        told.not_ready.push_back(view.units()[u].state->name());
        chances.push_back(ready[std::min(static_cast<size_t>(ahead), ready.size() - 1)]);
      }
    }
    const plan::Pmf pmf = plan::PoissonBinomial(chances);
    std::vector<std::pair<double, int64_t>> sizes;
    for (int64_t more = 1; more <= static_cast<int64_t>(chances.size()); ++more) {
      const double odds = plan::Tail(pmf, more - 1);
      if (odds > 0.005 && odds < 0.995) sizes.emplace_back(odds, told.ready_then + more);
    }
    std::shuffle(sizes.begin(), sizes.end(), random_);
    for (size_t i = 0; i < sizes.size() && i < kSizes; ++i) {
      told.odds = sizes[i].first;
      told.wanted = sizes[i].second;
      told_.push_back(told);
    }
  }

  // What the odds of a unit that is not ready rest on.
  void AskParts(const board::PoolView& view, size_t u) {
    const v1::SubjectState& state = *view.units()[u].state;
    const std::vector<double>& ready = view.ready()[u];
    if (ready.front() >= 1) return;
    std::string stands = state.unit().holds().empty() ? "in the house" : "on hold";
    board::Lateness lateness;
    if (state.unit().custody() == v1::CUSTODY_HOME) {
      const auto order = ledger_->Get("orders/" + state.unit().order());
      if (!order.ok()) throw std::runtime_error(order.status().ToString());
      lateness = board::LatenessOf((*order)->order(), *ledger_->Book(), view.today());
      stands = lateness.agreed ? "pick-up agreed" : lateness.late > 0 ? "overdue" : "on rent";
    }
    for (int64_t ahead : kPartHorizons) {
      const std::string in = " in " + std::to_string(ahead) + " days, " + stands;
      const int64_t today = view.today();
      const size_t at = std::min(static_cast<size_t>(ahead), ready.size() - 1);
      parts_told_.push_back({"ready" + in, state.name(), false, today, today + ahead, ready[at]});
      if (state.unit().custody() != v1::CUSTODY_HOME) continue;
      const double back = view.law().BackWithin(today, lateness.late, lateness.agreed, ahead - 1);
      parts_told_.push_back({"returned" + in, state.name(), true, today, today + ahead, back});
    }
  }

  int64_t ReadyBy(const Told& told) const {
    int64_t ready = told.ready_then;
    for (const std::string& name : told.not_ready) {
      ready += Happened(became_ready_, name, told.told_on, told.day) ? 1 : 0;
    }
    return ready;
  }

  Calibration Judge() const {
    // The run ends somewhere: what lies beyond its last days cannot be judged.
    int64_t last_seen = 0;
    for (const auto& [name, days] : became_ready_) last_seen = std::max(last_seen, days.back());
    Calibration calibration;
    // Sums of kept - told, by decile and by pool and four weeks.
    std::map<std::pair<std::string, int64_t>, std::array<double, 10>> groups;
    for (const Told& told : told_) {
      if (told.day > last_seen) continue;
      const size_t decile = std::min<size_t>(9, static_cast<size_t>(told.odds * 10));
      const double kept = ReadyBy(told) >= told.wanted ? 1 : 0;
      ++calibration.promises;
      Merge({1, told.odds, kept, 0}, &calibration.deciles[decile]);
      groups[{told.pool, told.told_on / kGroupDays}][decile] += kept - told.odds;
    }
    for (size_t i = 0; i < calibration.deciles.size(); ++i) {
      double squares = 0;
      for (const auto& [group, sums] : groups) squares += sums[i] * sums[i];
      Decile& decile = calibration.deciles[i];
      if (decile.count > 0) decile.error = std::sqrt(squares) / static_cast<double>(decile.count);
    }
    for (const PartTold& told : parts_told_) {
      if (told.day > last_seen) continue;
      const Days& days = told.returned ? came_back_ : became_ready_;
      const bool kept = Happened(days, told.unit, told.told_on, told.day);
      Merge({1, told.odds, kept ? 1.0 : 0.0, 0}, &calibration.parts[told.part]);
    }
    FindWorst(&calibration);
    return calibration;
  }

  const CalibrationOptions options_;
  time::ManualClock clock_;
  std::mt19937_64 random_;
  std::unique_ptr<ledger::Ledger> ledger_;
  board::PromiseDesk desk_;
  std::map<std::string, int64_t> next_;  // day on which a branch is asked next
  std::map<std::string, bool> ready_now_;
  std::map<std::string, v1::Custody> custody_now_;
  Days became_ready_;
  Days came_back_;
  std::vector<Told> told_;
  std::vector<PartTold> parts_told_;
};

}  // namespace

Calibration Calibrate(std::unique_ptr<store::Database> database,
                      const CalibrationOptions& options) {
  return Run(std::move(database), options).Go();
}

void Add(const Calibration& more, Calibration* sum) {
  sum->promises += more.promises;
  for (size_t i = 0; i < sum->deciles.size(); ++i) Merge(more.deciles[i], &sum->deciles[i]);
  for (const auto& [part, decile] : more.parts) Merge(decile, &sum->parts[part]);
  FindWorst(sum);
}

std::string Words(const Calibration& calibration) {
  std::string words;
  const auto add = [&](const Decile& d, const std::string& what) {
    char line[80];
    std::snprintf(line, sizeof line, "%7lld told %.3f kept %.3f", static_cast<long long>(d.count),
                  d.told, d.kept);
    words += line + what + "\n";
  };
  for (const Decile& d : calibration.deciles) {
    add(d,
        " off " + std::to_string(d.kept - d.told) + " standard error " + std::to_string(d.error));
  }
  for (const auto& [part, d] : calibration.parts) add(d, ": " + part);
  return words;
}

}  // namespace ferrule::testing
