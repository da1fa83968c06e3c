// A recall drill: a lot of parts that went into some of the units over the years, found again.
//
// The simulator's depot gets one part of the lot for every 66 units or so, each with a date of its
// own; every third part is taken out later and put into another unit. All of it goes through the
// door, late. The worklist is then held against a replay of the whole ledger that knows nothing of
// folds, states or intervals.
#include <algorithm>
#include <filesystem>
#include <future>
#include <map>
#include <memory>
#include <set>
#include <string>
#include <tuple>
#include <utility>
#include <vector>

#include "SQLiteCpp/SQLiteCpp.h"
#include "absl/strings/str_cat.h"
#include "core/ledger/ledger.h"
#include "core/store/open.h"
#include "core/time/civil.h"
#include "core/time/clock.h"
#include "core/trace/queries.h"
#include "core/trace/recall_items.h"
#include "tests/bench/benches.h"
#include "tests/bench/depots.h"
#include "tests/support/entries.h"

namespace ferrule::bench {
namespace {

constexpr char kLot[] = "DRILL-77";
constexpr int kOneIn = 66;  // 200,000 units give some 3,000 parts
constexpr int kRuns = 11;
constexpr int64_t kSixYearsDays = 6 * 365;

std::unique_ptr<ledger::Ledger> Open(const std::string& path, const time::Clock* clock) {
  store::SqliteOptions options;
  options.path = path;
  return Must(ledger::Ledger::Open(Must(store::OpenSqlite(options)), clock, {}));
}

std::vector<std::string> UnitNames(const std::string& path) {
  SQLite::Database database(path, SQLite::OPEN_READONLY);
  SQLite::Statement query(database, "SELECT name FROM states WHERE kind = 1 ORDER BY name");
  std::vector<std::string> names;
  while (query.executeStep()) names.push_back(query.getColumn(0).getString());
  return names;
}

std::string Bare(const std::string& name) { return name.substr(name.find('/') + 1); }

v1::Entry FitEntry(const std::string& id, int64_t at_us, const std::string& part,
                   const std::string& unit) {
  return testing::EntryOf(id, at_us,
                          absl::StrCat("part_fitted { part: '", part, "' unit: '", unit,
                                       "' position: 'board' lot: '", kLot, "' }"),
                          v1::ENTRY_MODE_OBSERVED);
}

// Fits the lot; `clock` stands at the depot's last day.
void FitTheLot(ledger::Ledger& ledger, const std::vector<std::string>& names, int64_t last_us) {
  std::vector<v1::Entry> entries;
  const auto flush = [&] {
    std::promise<void> done;
    ledger.RecordBatch(std::exchange(entries, {}), "",
                       [&](std::vector<absl::StatusOr<v1::Receipt>> all) {
                         for (const auto& one : all) Must(one.status());
                         done.set_value();
                       });
    done.get_future().get();
  };
  int64_t n = 0;
  for (size_t i = 0; i < names.size(); i += kOneIn, ++n) {
    const auto state = Must(ledger.Get(names[i]));
    const int64_t received_us = time::ToMicros(state->unit().received().time());
    const int64_t wish_us = last_us - (kSixYearsDays - n % kSixYearsDays) * testing::kDayUs;
    const int64_t at_us = std::min(last_us - 1, std::max(received_us + 1, wish_us));
    const std::string part = absl::StrCat("DRILL-", n);
    const std::string unit = Bare(names[i]);
    entries.push_back(FitEntry(absl::StrCat("drill-fit-", n), at_us, part, unit));
    const int64_t out_us = at_us + 200 * testing::kDayUs;
    if (n % 3 == 0 && out_us < last_us) {
      entries.push_back(testing::EntryOf(
          absl::StrCat("drill-out-", n), out_us,
          absl::StrCat("part_removed { part: '", part, "' unit: '", unit, "' position: 'board' }"),
          v1::ENTRY_MODE_OBSERVED));
      if (n % 2 == 0) {
        const std::string& other = names[(i + kOneIn / 2) % names.size()];
        entries.push_back(FitEntry(absl::StrCat("drill-again-", n), out_us + testing::kHourUs, part,
                                   Bare(other)));
      }
    }
    if (entries.size() >= 400) flush();
  }
  if (!entries.empty()) flush();
}

std::string DrillDepot(const Options& options) {
  const std::string path =
      absl::StrCat(options.folder, "/drill-", options.units, "-", options.facts, ".ferrule");
  if (std::filesystem::exists(path)) return path;
  const std::string unfinished = path + ".unfinished";
  std::filesystem::copy_file(LargeDepot(options), unfinished,
                             std::filesystem::copy_options::overwrite_existing);
  const std::vector<std::string> names = UnitNames(unfinished);
  time::ManualClock clock(NowMicros());
  {
    auto ledger = Open(unfinished, &clock);
    clock.Set(ledger->head().recorded_us);
    FitTheLot(*ledger, names, ledger->head().recorded_us);
  }
  std::filesystem::rename(unfinished, path);
  return path;
}

// Where a fact says that a unit is; empty when it does not say.
std::vector<std::pair<std::string, std::string>> PlacesIn(const v1::Fact& fact) {
  using F = v1::Fact;
  const auto place = [](const std::string& id) { return "places/" + id; };
  switch (fact.what_case()) {
    case F::kUnitReceived:
      return {{fact.unit_received().unit(), place(fact.unit_received().place())}};
    case F::kUnitMoved:
      return {{fact.unit_moved().unit(), place(fact.unit_moved().to_place())}};
    case F::kUnitMissing:
      return {{fact.unit_missing().unit(), "nobody"}};
    case F::kUnitFound:
      return {{fact.unit_found().unit(), place(fact.unit_found().place())}};
    case F::kUnitWrittenOff:
      return {{fact.unit_written_off().unit(), "gone"}};
    case F::kHandedOver:
      return {{fact.handed_over().unit(), "orders/" + fact.handed_over().order()}};
    case F::kExchanged:
      return {{fact.exchanged().unit_in(), "orders/" + fact.exchanged().order()},
              {fact.exchanged().unit_out(), place(fact.exchanged().to_place())}};
    case F::kCarriedOver:
      return {{fact.carried_over().unit(), "orders/" + fact.carried_over().to_order()}};
    case F::kPickedUp:
      return {{fact.picked_up().unit(), place(fact.picked_up().to_place())}};
    case F::kReceivedBack:
      return {{fact.received_back().unit(), place(fact.received_back().place())}};
    default:
      return {};
  }
}

using Position = std::tuple<int64_t, int64_t, std::string, int>;  // true order of facts

// Holder by item, by reading every entry: a second opinion.
std::map<std::string, std::string> Replay(ledger::Ledger& ledger) {
  std::set<std::pair<std::string, int>> reversed;
  std::map<std::string, std::pair<Position, std::string>> holder;  // by unit
  std::map<std::string, std::pair<Position, bool>> part_in;        // by part of the lot
  std::set<std::string> ever;
  const auto each = [&](const std::function<void(const v1::Entry&)>& see) {
    Must(ledger.Read(0, "", [&](const ledger::Recorded& recorded) {
      v1::LedgerEntry entry;
      entry.ParseFromArray(recorded.bytes.data(), static_cast<int>(recorded.bytes.size()));
      see(entry.entry());
      return true;
    }));
  };
  each([&](const v1::Entry& entry) {
    for (const v1::Fact& fact : entry.facts()) {
      if (!fact.has_reversal()) continue;
      reversed.insert({fact.reversal().fact().entry_id(), fact.reversal().fact().index()});
    }
  });
  each([&](const v1::Entry& entry) {
    for (int i = 0; i < entry.facts_size(); ++i) {
      const v1::Fact& fact = entry.facts(i);
      if (reversed.count({entry.entry_id(), i}) != 0) continue;
      const Position at{time::ToMicros(fact.happened_time()), entry.order_number(),
                        entry.entry_id(), i};
      for (const auto& [unit, where] : PlacesIn(fact)) {
        auto& last = holder[unit];
        if (last.second.empty() || last.first < at) last = {at, where};
      }
      const bool fits = fact.has_part_fitted() && fact.part_fitted().lot() == kLot;
      if (fits) ever.insert(fact.part_fitted().unit());
      const std::string part = fits ? fact.part_fitted().part() : fact.part_removed().part();
      if (part.rfind("DRILL-", 0) != 0) continue;
      auto& last = part_in[part];
      if (std::get<0>(last.first) == 0 || last.first < at) last = {at, fits};
    }
  });
  std::map<std::string, std::string> items;
  for (const std::string& unit : ever) items["units/" + unit] = holder[unit].second;
  for (const auto& [part, last] : part_in) {
    if (!last.second) items["parts/" + part] = "";
  }
  return items;
}

double MedianMs(const std::function<void()>& run) {
  std::vector<double> times;
  for (int i = 0; i < kRuns; ++i) {
    const Stopwatch watch;
    run();
    times.push_back(watch.Seconds() * 1000);
  }
  return Median(std::move(times));
}

// The rows that any answer must read: the lot's spans, and the states of the units they name.
double BareSqlMs(const std::string& path, int64_t* rows) {
  SQLite::Database database(path, SQLite::OPEN_READONLY);
  SQLite::Statement spans(database, trace::sql::kPartsOfLot.text);
  SQLite::Statement state(database, trace::sql::kStateByName.text);
  return MedianMs([&] {
    std::set<std::string> units;
    spans.reset();
    spans.bind(1, kLot);
    *rows = 0;
    while (spans.executeStep()) units.insert(spans.getColumn(1).getString());
    for (const std::string& unit : units) {
      state.reset();
      state.bind(1, unit);
      while (state.executeStep()) *rows += state.getColumn(1).getBytes() > 0 ? 1 : 0;
    }
  });
}

}  // namespace

void RecallDrill(const Options& options, Report* report) {
  const std::string path = DrillDepot(options);
  int64_t bare_rows = 0;
  const double bare_ms = BareSqlMs(path, &bare_rows);
  time::ManualClock clock(NowMicros());
  auto ledger = Open(path, &clock);
  clock.Set(ledger->head().recorded_us);
  v1::ListRecallItemsRequest request;
  request.mutable_scope()->add_part_lots(kLot);
  request.set_page_size(INT32_MAX);
  v1::ListRecallItemsResponse found;
  const double worklist_ms =
      MedianMs([&] { found = Must(trace::ListRecallItems(*ledger, request, clock.NowMicros())); });
  request.set_page_size(100);
  const double page_ms =
      MedianMs([&] { Must(trace::ListRecallItems(*ledger, request, clock.NowMicros())); });

  const Stopwatch watch;
  const std::map<std::string, std::string> expected = Replay(*ledger);
  const double replay_s = watch.Seconds();
  std::map<std::string, std::string> answered;
  for (const v1::RecallItem& item : found.items()) answered[item.subject()] = item.holder();
  if (answered != expected) {
    GiveUp(absl::StrCat("the worklist has ", answered.size(), " items, the replay ",
                        expected.size(), ", and they are not the same"));
  }
  report->Put("recall_drill", "items", static_cast<int64_t>(answered.size()));
  report->Put("recall_drill", "equal_to_replay", true);
  report->Put("recall_drill", "replay_s", replay_s);
  report->PutAgainst("recall_drill", "worklist_ms", worklist_ms, "bare SQL", bare_ms, false);
  report->PutAgainst("recall_drill", "first_page_ms", page_ms, "bare SQL", bare_ms, false);
}

}  // namespace ferrule::bench
