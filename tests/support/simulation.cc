#include "tests/support/simulation.h"

#include <algorithm>
#include <atomic>
#include <filesystem>
#include <future>
#include <map>
#include <memory>
#include <optional>
#include <random>
#include <stdexcept>
#include <utility>
#include <vector>

#include "absl/strings/escaping.h"
#include "absl/strings/str_cat.h"
#include "core/fact/timed_id.h"
#include "core/ledger/whole.h"
#include "core/store/migrate.h"
#include "core/store/open.h"
#include "core/time/clock.h"
#include "tests/support/entries.h"
#include "tests/support/fault_disk.h"
#include "tests/support/random_history.h"

namespace ferrule::testing {
namespace {

constexpr int kUnits = 4;
constexpr int kMostBatch = 6;
constexpr int kMostRestarts = 6;
constexpr int64_t kNowUs = kStartUs + 30 * kDayUs;

void Must(const absl::Status& status) {
  if (!status.ok()) throw std::runtime_error(status.ToString());
}

std::unique_ptr<store::Database> OpenFile(const std::string& path) {
  store::SqliteOptions options;
  options.path = path;
  options.create = true;
  auto database = store::OpenSqlite(options);
  Must(database.status());
  return *std::move(database);
}

std::string UnitOf(uint64_t number) { return absl::StrCat("K-", number % kUnits); }

// An entry decided by rules: whoever comes first gets the unit, the others are refused.
v1::Entry Enforced(uint64_t seed, int number) {
  const auto digit = static_cast<uint8_t>(number);
  // Senders make their ids with a time in them or without.
  const std::string id =
      seed % 2 == 0 ? absl::StrCat("e-", seed, "-", number)
                    : fact::TimedId(kStartUs / 1000, {digit, 0, 0, 0, 0, 0, 0, 0, 0, digit});
  const std::string unit = UnitOf(seed + static_cast<uint64_t>(number));
  const int64_t at = kStartUs + (number + 3) * kHourUs;
  switch (number % 4) {
    case 0:
      return TakeOrder(absl::StrCat("R-", seed, "-", number), at);
    case 1:
      return HandOver(id, unit, absl::StrCat("R-", seed, "-", number - 1), at);
    case 2:
      return EntryOf(id, at,
                     absl::StrCat("unit_moved { unit: '", unit, "' to_place: 'north-bench' }"));
    default:
      return EntryOf(
          id, at,
          absl::StrCat("hold_placed { unit: '", unit, "' kind: HOLD_KIND_OTHER reason: 'x' }"),
          v1::ENTRY_MODE_OBSERVED);
  }
}

// What a caller holds of one entry.
struct Sent {
  v1::Entry entry;
  bool known = false;    // the caller has its answer
  int64_t sequence = 0;  // when recorded
  std::string refusal;   // when refused
  bool refused = false;
};

class Life {
 public:
  explicit Life(const SimulationOptions& options)
      : options_(options),
        random_(options.seed),
        path_(options.folder + "/life.ferrule"),
        clock_(kNowUs),
        disk_(FaultDisk::Instance()) {}

  SimulationReport Run() {
    Begin();
    while (!Done() && report_.broken.empty()) Step();
    if (report_.broken.empty()) Finish();
    ledger_.reset();
    report_.entries = static_cast<int>(sent_.size());
    report_.acknowledged = static_cast<int>(
        std::count_if(sent_.begin(), sent_.end(), [](const Sent& s) { return s.known; }));
    report_.faults += static_cast<int>(disk_.happened());
    return std::move(report_);
  }

 private:
  uint64_t Draw(uint64_t below) { return random_() % below; }
  void Trace(std::string_view word) { absl::StrAppend(&report_.trace, std::string(word), " "); }
  void Broken(std::string what) {
    if (!report_.broken.empty()) return;
    report_.broken = absl::StrCat("seed ", options_.seed, ": ", what, " [", report_.trace, "]");
  }

  void Begin() {
    for (const char* suffix : {"", "-wal", "-shm", "-journal", ".lock"}) {
      std::filesystem::remove(path_ + suffix);
    }
    std::filesystem::copy_file(options_.template_path, path_);
    disk_.Watch(path_);
    std::vector<v1::Entry> entries =
        RandomHistory(options_.seed, absl::StrCat("s", options_.seed, "-"));
    const int enforced = 4 + static_cast<int>(Draw(8));
    for (int i = 0; i < enforced; ++i) entries.push_back(Enforced(options_.seed, i));
    std::shuffle(entries.begin(), entries.end(), random_);
    for (v1::Entry& entry : entries) sent_.push_back({std::move(entry), false, 0, "", false});
    Open();
    PlanNextFault();
  }

  void PlanNextFault() {
    using Fault = FaultDisk::Fault;
    static constexpr Fault kFaults[] = {Fault::kNone,     Fault::kPowerCut,   Fault::kPowerCut,
                                        Fault::kPowerCut, Fault::kWriteError, Fault::kSyncError,
                                        Fault::kFull};
    FaultDisk::Plan plan;
    plan.lies = options_.lying_disk;
    plan.seed = random_();
    if (report_.restarts < kMostRestarts) plan.fault = kFaults[Draw(std::size(kFaults))];
    // Some come at once, while the file is being recovered.
    plan.at = static_cast<int64_t>(1 + Draw(Draw(3) == 0 ? 4 : 40));
    plan.for_ever = Draw(2) == 0;
    disk_.SetPlan(plan);
  }

  void Open() {
    for (int attempt = 0; attempt < 20; ++attempt) {
      ended_ = false;
      ledger::Options options;
      options.readers = 1;
      options.on_commit_unknown = [this](const absl::Status&) { ended_ = true; };
      options.on_checkpoint_failed = options.on_commit_unknown;
      store::SqliteOptions file;
      file.path = path_;
      auto database = store::OpenSqlite(file);
      if (database.ok()) {
        auto opened = ledger::Ledger::Open(*std::move(database), &clock_, std::move(options));
        if (opened.ok()) {
          ledger_ = *std::move(opened);
          return;
        }
        if (absl::IsDataLoss(opened.status())) return Broken(opened.status().ToString());
      } else if (absl::IsDataLoss(database.status())) {
        return Broken(database.status().ToString());
      }
      // The second fault, during recovery: once more from the disk as it is now.
      Trace("again");
      disk_.Kill();
      ++report_.restarts;
      disk_.PowerOn();
      if (attempt > 3) continue;
      PlanNextFault();
    }
    Broken("the depot does not open any more");
  }

  bool Done() const {
    return std::all_of(sent_.begin(), sent_.end(), [](const Sent& s) { return s.known; });
  }

  void Step() {
    if (++steps_ > 2'000) return Broken("the callers come to no end");
    switch (Draw(12)) {
      case 0:
        return MoveClock();
      case 1:
        return Watch();
      case 2:
        if (Draw(4) == 0 && report_.restarts < kMostRestarts) {
          if (Draw(2) == 0) {
            Trace("close");  // moves the log into the file, on whatever disk this is
            ledger_.reset();
          }
          return Restart();
        }
        [[fallthrough]];
      default:
        return Deliver();
    }
  }

  void MoveClock() {
    static constexpr int64_t kJumps[] = {kMinuteUs, kDayUs, -3 * kHourUs, 5 * kHourUs, -1};
    const int64_t jump = kJumps[Draw(std::size(kJumps))];
    clock_.Set(clock_.NowMicros() + jump);
    Trace(absl::StrCat("clock", jump / kMinuteUs));
  }

  // A caller sends entries that it has no answer for; now and then one it has, or one that stayed
  // long under way.
  std::vector<size_t> Choose() {
    std::vector<size_t> open;
    for (size_t i = 0; i < sent_.size() && open.size() < 8; ++i) {
      if (!sent_[i].known) open.push_back(i);
    }
    if (Draw(5) == 0) open.push_back(Draw(sent_.size()));
    std::shuffle(open.begin(), open.end(), random_);
    open.resize(std::min<size_t>(open.size(), 1 + Draw(kMostBatch)));
    return open;
  }

  void Deliver() {
    const std::vector<size_t> chosen = Choose();
    std::vector<v1::Entry> entries;
    for (size_t i : chosen) entries.push_back(sent_[i].entry);
    const uint64_t network = Draw(10);
    if (network == 0) return Trace("lost");  // it never arrives
    std::promise<std::vector<absl::StatusOr<v1::Receipt>>> promise;
    auto answered = promise.get_future();
    report_.deliveries += static_cast<int>(entries.size());
    ledger_->RecordBatch(std::move(entries), "",
                         [&promise](auto outcomes) { promise.set_value(std::move(outcomes)); });
    const auto outcomes = answered.get();
    Trace(absl::StrCat("d", chosen.size(), outcomes[0].ok() ? "" : "!"));
    const bool heard = network != 1;  // else the answer is lost
    for (size_t i = 0; i < chosen.size(); ++i) {
      if (heard) {
        Learn(sent_[chosen[i]], outcomes[i]);
      } else {
        ++report_.unknown;
      }
    }
    if (ended_ || disk_.off() ||
        (!outcomes[0].ok() && Uncertain(outcomes[0].status()) && Draw(3) == 0)) {
      Restart();
    }
  }

  static bool Uncertain(const absl::Status& status) {
    return ledger::RefusalOf(status).status().code() != absl::StatusCode::kOk &&
           !absl::IsInvalidArgument(status);
  }

  static std::string Said(const absl::Status& status) {
    return absl::StrCat(static_cast<int>(status.code()), " ", std::string(status.message()));
  }

  void Learn(Sent& sent, const absl::StatusOr<v1::Receipt>& outcome) {
    const std::string& id = sent.entry.entry_id();
    if (!outcome.ok() && Uncertain(outcome.status())) {
      ++report_.unknown;
      return;
    }
    if (sent.known) {
      // Whatever was answered once is answered again.
      if (sent.refused == outcome.ok())
        return Broken(absl::StrCat(id, " is answered otherwise than before"));
      if (outcome.ok() && outcome->sequence() != sent.sequence) {
        return Broken(
            absl::StrCat(id, " was entry ", sent.sequence, " and is ", outcome->sequence()));
      }
      if (!outcome.ok() && Said(outcome.status()) != sent.refusal) {
        return Broken(absl::StrCat(id, " is refused in other words than before"));
      }
      return;
    }
    sent.known = true;
    sent.refused = !outcome.ok();
    if (outcome.ok()) {
      sent.sequence = outcome->sequence();
    } else {
      sent.refusal = Said(outcome.status());
    }
  }

  // A watcher reads on; what it has seen is there for good.
  void Watch() {
    const absl::Status read =
        ledger_->Read(static_cast<int64_t>(seen_.size()), "", [this](const ledger::Recorded& r) {
          if (r.sequence != static_cast<int64_t>(seen_.size()) + 1) {
            Broken(absl::StrCat("after entry ", seen_.size(), " the feed gives ", r.sequence));
            return false;
          }
          if (!recorded_.empty() && r.recorded_us < recorded_.back()) {
            Broken(
                absl::StrCat("entry ", r.sequence, " was recorded before the one in front of it"));
            return false;
          }
          seen_.emplace_back(r.digest);
          recorded_.push_back(r.recorded_us);
          return true;
        });
    Trace(absl::StrCat("w", seen_.size(), read.ok() ? "" : "!"));
    if (!read.ok() && absl::IsDataLoss(read)) Broken(read.ToString());
    if (disk_.off()) Restart();
  }

  void Restart() {
    disk_.Kill();  // before the close, which would put things in order
    ledger_.reset();
    ++report_.restarts;
    Trace("R");
    disk_.PowerOn();
    PlanNextFault();
    Open();
    if (report_.broken.empty() && !disk_.off()) CheckWhatIsKnown();
  }

  // Reads all of the ledger, unless the disk fails meanwhile.
  std::optional<std::map<std::string, int64_t>> ReadAll() {
    std::map<std::string, int64_t> found;
    size_t position = 0;
    const absl::Status read = ledger_->Read(0, "", [&](const ledger::Recorded& r) {
      v1::LedgerEntry entry;
      if (!entry.ParseFromArray(r.bytes.data(), static_cast<int>(r.bytes.size()))) {
        Broken(absl::StrCat("entry ", r.sequence, " cannot be read"));
      }
      if (!found.emplace(entry.entry().entry_id(), r.sequence).second) {
        Broken(absl::StrCat(entry.entry().entry_id(), " is recorded twice"));
      }
      if (position < seen_.size() && r.digest != seen_[position]) {
        Broken(absl::StrCat("entry ", r.sequence, " is another than the one that was seen"));
      }
      ++position;
      return true;
    });
    if (!read.ok()) {
      if (absl::IsDataLoss(read)) Broken(read.ToString());
      return std::nullopt;
    }
    if (position < seen_.size()) {
      Broken(absl::StrCat("entry ", seen_.size(), " was seen, and the ledger ends at ", position));
    }
    return found;
  }

  void CheckWhatIsKnown() {
    const auto found = ReadAll();
    if (!found) return;
    for (const Sent& sent : sent_) {
      if (!sent.known) continue;
      const auto it = found->find(sent.entry.entry_id());
      if (sent.refused && it != found->end())
        Broken(absl::StrCat(sent.entry.entry_id(), " was refused and is recorded"));
      if (sent.refused) continue;
      if (it == found->end())
        return Broken(absl::StrCat(sent.entry.entry_id(), " was acknowledged and is lost"));
      if (it->second != sent.sequence) {
        return Broken(absl::StrCat(sent.entry.entry_id(), " was entry ", sent.sequence, " and is ",
                                   it->second));
      }
    }
  }

  // Peace: everything is sent once more, then all of it is held against itself.
  void Finish() {
    Trace("end");
    FaultDisk::Plan plan;
    plan.lies = options_.lying_disk;
    disk_.SetPlan(plan);
    if (ended_ || disk_.off()) Restart();
    disk_.SetPlan(plan);
    if (!report_.broken.empty()) return;
    for (Sent& sent : sent_) {
      const auto outcome = ledger_->RecordAndWait(sent.entry);
      if (!outcome.ok() && Uncertain(outcome.status())) return Broken(outcome.status().ToString());
      if (outcome.ok() && !outcome->repeated())
        return Broken(absl::StrCat(sent.entry.entry_id(), " was lost"));
      Learn(sent, outcome);
    }
    CheckWhatIsKnown();
    report_.head_digest = absl::BytesToHexString(ledger_->head().digest);
    ledger_.reset();
    const auto database = OpenFile(path_);
    const auto verified = ledger::CheckWhole(*database, nullptr);
    if (!verified.ok()) return Broken(verified.status().ToString());
    if (!verified->ok()) {
      Broken(absl::StrCat("verify: ", verified->broken,
                          verified->differing_states.empty() ? "" : verified->differing_states[0]));
    }
  }

  const SimulationOptions& options_;
  std::mt19937_64 random_;
  const std::string path_;
  time::ManualClock clock_;
  FaultDisk& disk_;
  std::unique_ptr<ledger::Ledger> ledger_;
  std::atomic<bool> ended_ = false;
  std::vector<Sent> sent_;
  std::vector<std::string> seen_;  // digests, from entry 1 on
  std::vector<int64_t> recorded_;  // their known times
  int steps_ = 0;
  SimulationReport report_;
};

}  // namespace

void MakeSimulationTemplate(const std::string& path) {
  time::ManualClock clock(kNowUs);
  {
    auto database = OpenFile(path);
    auto writer = database->OpenWriter();
    Must(writer.status());
    Must(store::Migrate(**writer));
  }
  auto ledger = ledger::Ledger::Open(OpenFile(path), &clock, {});
  Must(ledger.status());
  Must((*ledger)->RecordAndWait(SettingsEntry()).status());
  for (uint64_t i = 0; i < kUnits; ++i) {
    Must((*ledger)->RecordAndWait(ReceiveUnit(UnitOf(i), kStartUs)).status());
    Must((*ledger)
             ->RecordAndWait(MakeReady(absl::StrCat("ready-", i), UnitOf(i), kStartUs + kHourUs))
             .status());
  }
}

SimulationReport Simulate(const SimulationOptions& options) { return Life(options).Run(); }

}  // namespace ferrule::testing
