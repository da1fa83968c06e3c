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
  std::string branch;
  int64_t day = 0;  // ready when this day begins
  int64_t wanted = 0;
  int64_t ready_then = 0;              // units that were ready when it was told
  int64_t told_on = 0;                 // day
  std::vector<std::string> not_ready;  // the other units of the pool
  double odds = 0;
};

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
      for (int64_t ahead : kHorizons) AskOne(*view, ahead);
    }
  }

  void AskOne(const board::PoolView& view, int64_t ahead) {
    Told told;
    told.branch = view.branch();
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
      last_told_ = std::max(last_told_, told.day);
    }
  }

  int64_t ReadyBy(const Told& told) const {
    int64_t ready = told.ready_then;
    for (const std::string& name : told.not_ready) {
      const auto it = became_ready_.find(name);
      if (it == became_ready_.end()) continue;
      // The first time after it was told, and before the day begins.
      const auto next = std::upper_bound(it->second.begin(), it->second.end(), told.told_on);
      ready += next != it->second.end() && *next < told.day ? 1 : 0;
    }
    return ready;
  }

  Calibration Judge() const {
    // The run ends somewhere: what lies beyond its last days cannot be judged.
    int64_t last_seen = 0;
    for (const auto& [name, days] : became_ready_) last_seen = std::max(last_seen, days.back());
    Calibration calibration;
    for (const Told& told : told_) {
      if (told.day > last_seen) continue;
      Decile& decile =
          calibration.deciles[std::min<size_t>(9, static_cast<size_t>(told.odds * 10))];
      ++decile.count;
      ++calibration.promises;
      decile.told += told.odds;
      decile.kept += ReadyBy(told) >= told.wanted ? 1 : 0;
    }
    for (Decile& d : calibration.deciles) {
      if (d.count == 0) continue;
      d.told /= static_cast<double>(d.count);
      d.kept /= static_cast<double>(d.count);
      if (d.count >= kFilled) {
        calibration.worst = std::max(calibration.worst, std::abs(d.told - d.kept));
      }
    }
    return calibration;
  }

  const CalibrationOptions options_;
  time::ManualClock clock_;
  std::mt19937_64 random_;
  std::unique_ptr<ledger::Ledger> ledger_;
  board::PromiseDesk desk_;
  std::map<std::string, int64_t> next_;  // day on which a branch is asked next
  std::map<std::string, bool> ready_now_;
  std::map<std::string, std::vector<int64_t>> became_ready_;
  std::vector<Told> told_;
  int64_t last_told_ = 0;
};

}  // namespace

Calibration Calibrate(std::unique_ptr<store::Database> database,
                      const CalibrationOptions& options) {
  return Run(std::move(database), options).Go();
}

void Add(const Calibration& more, Calibration* sum) {
  sum->promises += more.promises;
  sum->worst = 0;
  for (size_t i = 0; i < sum->deciles.size(); ++i) {
    Decile& d = sum->deciles[i];
    const Decile& m = more.deciles[i];
    const int64_t count = d.count + m.count;
    if (count > 0) {
      const auto mean = [&](double a, double b) {
        return (a * static_cast<double>(d.count) + b * static_cast<double>(m.count)) /
               static_cast<double>(count);
      };
      d.told = mean(d.told, m.told);
      d.kept = mean(d.kept, m.kept);
    }
    d.count = count;
    if (count >= kFilled) sum->worst = std::max(sum->worst, std::abs(d.told - d.kept));
  }
}

std::string Words(const Calibration& calibration) {
  std::string words;
  for (const Decile& d : calibration.deciles) {
    char line[80];
    std::snprintf(line, sizeof line, "%7lld told %.3f kept %.3f\n", static_cast<long long>(d.count),
                  d.told, d.kept);
    words += line;
  }
  return words;
}

}  // namespace ferrule::testing
