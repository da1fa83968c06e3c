// What an entry costs as the history grows, against the rows alone in a file that grows the same
// way.
#include <algorithm>
#include <fstream>
#include <future>
#include <iterator>
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
constexpr int64_t kPrepared = 32 * kGroup;
constexpr int64_t kFirstSize = 10'000;
constexpr int kFirstUnits = 100;
constexpr int64_t kFactsAUnit = 10;
constexpr int kNewest = 1'000;

// Which entry comes next. The units that move are drawn from all there are, which is the worst case
// for whatever is kept in memory; or from those that came in last, as the work of a depot stays
// with what has begun and not ended.
struct Plan {
  const char* name = "";
  int units = 0;       // at first
  bool grows = false;  // every tenth entry is a unit that comes in
  int64_t newest = 0;  // units that move are drawn from so many, there at first; 0: from all
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

// A depot that grows group by group. Preparing the entries does not count, but whatever the
// ledger's own thread does meanwhile.
class Grower {
 public:
  explicit Grower(const Plan& plan) : shape_(plan) {}
  virtual ~Grower() = default;

  // Goes on to so many facts; what an entry cost over the last part.
  Cost GrowTo(int64_t facts) {
    // Long enough to hold several checkpoints.
    Grow(facts - std::max(facts / 10, std::min(facts / 2, kFirstSize)));
    const auto entries = static_cast<double>(facts - facts_);
    const double read = Moved("rchar:"), written = Moved("wchar:"), cpu_s = OwnCpuSeconds();
    const Spent spent = Grow(facts);
    return {(OwnCpuSeconds() - cpu_s - spent.preparing_cpu_s) * 1e6 / entries,
            spent.wall_s * 1e6 / entries, (Moved("rchar:") - read) / 1024 / entries,
            (Moved("wchar:") - written) / 1024 / entries};
  }

 protected:
  virtual void Prepare(int64_t /*entries*/) {}
  // The next of those that were prepared.
  virtual void Record(int entries) = 0;

  Shape shape_;

 private:
  struct Spent {
    double preparing_cpu_s = 0;
    double wall_s = 0;
  };

  Spent Grow(int64_t facts) {
    Spent spent;
    while (facts_ < facts) {
      const int64_t part = std::min<int64_t>(kPrepared, facts - facts_);
      const double begun_s = ThreadCpuSeconds();
      Prepare(part);
      spent.preparing_cpu_s += ThreadCpuSeconds() - begun_s;
      const Stopwatch watch;
      for (int64_t left = part; left > 0; left -= kGroup) {
        Record(static_cast<int>(std::min<int64_t>(kGroup, left)));
      }
      spent.wall_s += watch.Seconds();
      facts_ += part;
    }
    return spent;
  }

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
        ids_(options.ids),
        in_van_(static_cast<size_t>(plan.units)),
        ledger_(Must(
            ledger::Ledger::Open(OpenFile(Begun(options, "growing", plan.units)), &clock_, {}))),
        begun_us_(NowMicros() - 30 * testing::kDayUs),
        now_us_(begun_us_) {}

 private:
  void Prepare(int64_t entries) override {
    entries_.clear();
    for (int64_t i = 0; i < entries; ++i) entries_.push_back(NextEntry());
    next_ = entries_.begin();
  }
  void Record(int entries) override {
    std::promise<void> done;
    const auto end = next_ + entries;
    ledger_->RecordBatch(
        {std::make_move_iterator(std::exchange(next_, end)), std::make_move_iterator(end)}, "",
        [&](std::vector<absl::StatusOr<v1::Receipt>> all) {
          for (const absl::StatusOr<v1::Receipt>& one : all) Must(one.status());
          done.set_value();
        });
    done.get_future().wait();
  }

  v1::Entry NextEntry() {
    v1::Entry entry;
    entry.set_entry_id(EntryId(++now_us_ - begun_us_, ids_));
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

  const Ids ids_;
  std::vector<bool> in_van_;
  const time::SystemClock clock_;
  std::unique_ptr<ledger::Ledger> ledger_;
  const int64_t begun_us_;
  int64_t now_us_;
  std::vector<v1::Entry> entries_;
  std::vector<v1::Entry>::iterator next_;
};

class FloorGrower final : public Grower {
 public:
  FloorGrower(const Options& options, const Plan& plan)
      : Grower(plan),
        floor_(Begun(options, "growing-rows", plan.units), {Said::kMoved, options.ids}) {}

 private:
  void Record(int entries) override {
    floor_.Group(entries, [&]() -> const std::vector<Write>& {
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
  const Plan plans[] = {{"fleet", kFirstUnits, true},
                        {"fleet_newest", kNewest, true, kNewest},
                        {"long_histories", options.units}};
  bool known = options.shape.empty();
  for (const Plan& plan : plans) {
    if (!options.shape.empty() && options.shape != plan.name) continue;
    known = true;
    Grow(options, plan, report);
  }
  if (!known) GiveUp("growth has no shape " + options.shape);
}

}  // namespace ferrule::bench
