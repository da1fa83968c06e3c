// What an entry costs as the history grows, against the rows alone in a file that grows the same
// way.
#include <algorithm>
#include <fstream>
#include <future>
#include <string>
#include <utility>
#include <vector>

#include "absl/strings/str_cat.h"
#include "core/ledger/ledger.h"
#include "core/store/open.h"
#include "core/time/clock.h"
#include "tests/bench/benches.h"
#include "tests/bench/depots.h"
#include "tests/bench/process.h"
#include "tests/bench/rows_floor.h"
#include "tests/support/entries.h"

namespace ferrule::bench {
namespace {

constexpr int kGroup = 64;
constexpr int64_t kFirstSize = 10'000;
constexpr int kFirstUnits = 100;
constexpr int64_t kFactsAUnit = 10;
constexpr int64_t kNewest = 1'000;

// Which entry comes next. The units that move are drawn from all there are, which is the worst case
// for whatever is kept in memory; or from those that came in last, as the work of a depot stays
// with what has begun and not ended.
struct Plan {
  const char* name = "";
  int units = 0;       // at first
  bool grows = false;  // every tenth entry is a unit that comes in
  int64_t newest = 0;  // units that move are drawn from so many; 0: from all
};

class Shape {
 public:
  explicit Shape(const Plan& plan) : plan_(plan), units_(plan.units) {}

  int64_t units() const { return units_; }
  // The number of the unit that moves, or -1: one more comes in.
  int64_t Next() {
    if (plan_.grows && ++count_ % kFactsAUnit == 0) {
      ++units_;
      return -1;
    }
    random_ += 0x9e3779b97f4a7c15u;  // splitmix64
    uint64_t z = random_;
    z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9u;
    z = (z ^ (z >> 27)) * 0x94d049bb133111ebu;
    const int64_t from = plan_.newest > 0 ? std::min(plan_.newest, units_) : units_;
    return units_ - 1 - static_cast<int64_t>((z ^ (z >> 31)) % static_cast<uint64_t>(from));
  }

 private:
  const Plan plan_;
  int64_t units_;
  int64_t count_ = 0;
  uint64_t random_ = 0;
};

// An entry's.
struct Cost {
  double cpu_us = 0;
  double wall_us = 0;
  double read_kib = 0;     // what the process asked the system for
  double written_kib = 0;  // and gave it: log, and file once the log is taken in
};

// A figure of this process' reading and writing so far.
double Moved(const std::string& name) {
  std::ifstream file("/proc/self/io");
  std::string word;
  double value = 0;
  while (file >> word >> value) {
    if (word == name) return value;
  }
  GiveUp("/proc/self/io has no " + name);
}

// The process' sums since construction.
class Meter {
 public:
  Cost Since() const {
    return {(OwnCpuSeconds() - cpu_s_) * 1e6, watch_.Seconds() * 1e6,
            (Moved("rchar:") - read_) / 1024, (Moved("wchar:") - written_) / 1024};
  }

 private:
  const double read_ = Moved("rchar:");
  const double written_ = Moved("wchar:");
  const double cpu_s_ = OwnCpuSeconds();
  const Stopwatch watch_;
};

// A depot that grows group by group; preparing the entries does not count.
class Grower {
 public:
  explicit Grower(const Plan& plan) : shape_(plan) {}
  virtual ~Grower() = default;

  // Goes on to so many facts; what an entry cost over the last part.
  Cost GrowTo(int64_t facts) {
    // Long enough to hold several checkpoints.
    const int64_t measured_from = facts - std::max(facts / 10, std::min(facts / 2, kFirstSize));
    Cost sum;
    double entries = 0;
    while (facts_ < facts) {
      const bool measured = facts_ >= measured_from;
      const auto size = static_cast<int>(std::min<int64_t>(kGroup, facts - facts_));
      Prepare(size);
      const Meter meter;
      Record(size);
      facts_ += size;
      if (!measured) continue;
      const Cost cost = meter.Since();
      sum.cpu_us += cost.cpu_us;
      sum.wall_us += cost.wall_us;
      sum.read_kib += cost.read_kib;
      sum.written_kib += cost.written_kib;
      entries += size;
    }
    return {sum.cpu_us / entries, sum.wall_us / entries, sum.read_kib / entries,
            sum.written_kib / entries};
  }

 protected:
  virtual void Prepare(int) {}
  virtual void Record(int size) = 0;

  Shape shape_;

 private:
  int64_t facts_ = 0;
};

std::unique_ptr<store::Database> OpenFile(const std::string& path) {
  store::SqliteOptions options;
  options.path = path;
  return Must(store::OpenSqlite(options));
}

std::string Begun(const Options& options, const std::string& name, int units) {
  const std::string file = FreshFile(options, name);
  ReceiveUnits(OpenFile(file), units);
  return file;
}

class OurGrower final : public Grower {
 public:
  OurGrower(const Options& options, const Plan& plan)
      : Grower(plan),
        in_van_(static_cast<size_t>(plan.units)),
        ledger_(Must(
            ledger::Ledger::Open(OpenFile(Begun(options, "growing", plan.units)), &clock_, {}))),
        now_us_(NowMicros() - 30 * testing::kDayUs) {}

 private:
  void Prepare(int size) override {
    for (int i = 0; i < size; ++i) entries_.push_back(NextEntry());
  }
  void Record(int) override {
    std::promise<void> done;
    ledger_->RecordBatch(std::exchange(entries_, {}), "",
                         [&](std::vector<absl::StatusOr<v1::Receipt>> all) {
                           for (const absl::StatusOr<v1::Receipt>& one : all) Must(one.status());
                           done.set_value();
                         });
    done.get_future().wait();
  }

  v1::Entry NextEntry() {
    v1::Entry entry;
    entry.set_entry_id("growth-" + std::to_string(++now_us_));
    entry.set_actor("bench");
    entry.set_channel("bench");
    v1::Fact& fact = *entry.add_facts();
    time::SetMicros(now_us_, fact.mutable_happened_time());
    const int64_t unit = shape_.Next();
    const auto tag = [&](int64_t n) { return UnitTag(n, static_cast<int>(shape_.units())); };
    if (unit >= 0) {
      const auto at = static_cast<size_t>(unit);
      in_van_[at] = !in_van_[at];
      fact.mutable_unit_moved()->set_unit(tag(unit));
      fact.mutable_unit_moved()->set_to_place(in_van_[at] ? "north-van" : "north-dock");
      return entry;
    }
    v1::UnitReceived& received = *fact.mutable_unit_received();
    received.set_unit(tag(shape_.units() - 1));
    received.set_serial("S-" + received.unit());
    received.set_model("knee-a");
    received.set_place("north-dock");
    received.set_side(v1::SIDE_LEFT);
    in_van_.push_back(false);
    return entry;
  }

  std::vector<bool> in_van_;
  const time::SystemClock clock_;
  std::unique_ptr<ledger::Ledger> ledger_;
  int64_t now_us_;
  std::vector<v1::Entry> entries_;
};

class FloorGrower final : public Grower {
 public:
  FloorGrower(const Options& options, const Plan& plan)
      : Grower(plan), floor_(Begun(options, "growing-rows", plan.units), Said::kMoved) {}

 private:
  void Record(int size) override {
    floor_.Group(size, [&]() -> const std::vector<Write>& {
      const int64_t unit = shape_.Next();
      return unit < 0 ? floor_.rows.NextReceived()
                      : floor_.rows.NextMove(static_cast<size_t>(unit));
    });
  }

  SqliteRows floor_;
};

void Grow(const Options& options, const Plan& plan, Report* report) {
  OurGrower ours(options, plan);
  FloorGrower floor(options, plan);
  std::vector<int64_t> sizes;
  for (int64_t size = kFirstSize; size < options.growth; size *= 10) sizes.push_back(size);
  sizes.push_back(options.growth);
  std::vector<std::pair<Cost, Cost>> costs;
  const auto put = [&](const char* what, int64_t size, double Cost::*figure) {
    report->PutAgainst(absl::StrCat("growth_", plan.name, "_", what, "_per_entry"),
                       std::to_string(size), costs.back().first.*figure, "rows, 64 a group",
                       costs.back().second.*figure, false);
  };
  for (const int64_t size : sizes) {
    const Cost our_cost = ours.GrowTo(size);
    costs.emplace_back(our_cost, floor.GrowTo(size));
    put("cpu_us", size, &Cost::cpu_us);
    put("us", size, &Cost::wall_us);
    put("read_kib", size, &Cost::read_kib);
    put("written_kib", size, &Cost::written_kib);
  }
  report->PutAgainst(absl::StrCat("growth_", plan.name, "_cpu_us_per_entry"), "last_by_first",
                     costs.back().first.cpu_us / costs.front().first.cpu_us, "the rows' own",
                     costs.back().second.cpu_us / costs.front().second.cpu_us, false);
}

}  // namespace

void Growth(const Options& options, Report* report) {
  Grow(options, {"fleet", kFirstUnits, true}, report);
  Grow(options, {"fleet_newest", kFirstUnits, true, kNewest}, report);
  Grow(options, {"long_histories", options.units}, report);
}

}  // namespace ferrule::bench
