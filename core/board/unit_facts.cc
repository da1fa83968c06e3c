#include "core/board/unit_facts.h"

#include <deque>

#include "absl/strings/str_cat.h"
#include "core/board/bench_queries.h"
#include "core/board/queries.h"
#include "core/ledger/history.h"
#include "core/ledger/prepared.h"
#include "core/time/civil.h"

namespace ferrule::board {
namespace {

using store::Value;

// Collects the rows of one unit until those of the next begin.
class Collector {
 public:
  explicit Collector(FactsFn visit) : visit_(visit) {}

  void Add(const store::Row& row) {
    if (row.Int(0) != id_) {
      Visit();
      id_ = row.Int(0);
      name_ = std::string(row.Bytes(1));
    }
    const int64_t sequence = row.Int(2);
    if (entries_.empty() || entries_.back().sequence() != sequence) {
      const std::string_view bytes = row.Bytes(3);
      v1::LedgerEntry& entry = entries_.emplace_back();
      readable_ &= entry.ParseFromArray(bytes.data(), static_cast<int>(bytes.size()));
    }
    const v1::LedgerEntry& entry = entries_.back();
    const int index = static_cast<int>(row.Int(4));
    readable_ &= index < entry.entry().facts_size();
    if (!readable_) return;
    views_.push_back(
        ledger::ViewOf(entry.entry(), index, time::ToMicros(entry.recorded_time()), sequence));
  }

  absl::Status Finish() {
    Visit();
    if (readable_) return absl::OkStatus();
    return absl::DataLossError("an entry of the ledger cannot be read; run: ferruled verify");
  }

 private:
  void Visit() {
    if (!views_.empty()) visit_(name_, views_);
    views_.clear();
    entries_.clear();
  }

  FactsFn visit_;
  int64_t id_ = 0;
  std::string name_;
  std::deque<v1::LedgerEntry> entries_;  // a deque: growing moves nothing
  std::vector<fact::FactView> views_;
  bool readable_ = true;
};

const store::Sql& SqlFor(Facts which) {
  switch (which) {
    case Facts::kRun:
      return sql::kUnitsRunFacts;
    case Facts::kInspections:
      return sql::kUnitsInspections;
    default:
      return sql::kUnitsFacts;
  }
}

}  // namespace

absl::Status WithFactsOf(ledger::Ledger& ledger, const std::string& name, int64_t known_us,
                         FactsFn visit) {
  return ledger.WithReader([&](store::Connection& connection) -> absl::Status {
    int64_t id = 0;
    const Value parameters[] = {Value::Text(name)};
    absl::Status found = connection.Run(sql::kSubjectId, parameters,
                                        [&](const store::Row& row) { id = row.Int(0); });
    if (!found.ok()) return found;
    if (id == 0) {
      return absl::NotFoundError(absl::StrCat("nothing is recorded about ", name,
                                              "; check the tag, or list what there is"));
    }
    int64_t through = INT64_MAX;
    if (known_us != 0) {
      auto known = ledger::SequenceKnownAt(connection, known_us, ledger.head().sequence);
      if (!known.ok()) return known.status();
      through = *known;
    }
    ledger::History history;
    absl::Status loaded = history.Load(connection, id, through);
    if (!loaded.ok()) return loaded;
    visit(name, history.views());
    return absl::OkStatus();
  });
}

absl::Status EachUnitsFacts(store::Connection& connection, Facts which, const UnitFilter& filter,
                            FactsFn visit) {
  Collector collector(visit);
  const Value parameters[] = {Value::Text(filter.branch), Value::Text(filter.model)};
  absl::Status status =
      connection.Run(SqlFor(which), parameters, [&](const store::Row& row) { collector.Add(row); });
  if (!status.ok()) return status;
  return collector.Finish();
}

absl::Status EachUnit(
    store::Connection& connection, const UnitFilter& filter,
    absl::FunctionRef<void(const v1::SubjectState& state, std::string_view branch)> visit) {
  bool readable = true;
  const Value parameters[] = {Value::Text(filter.branch), Value::Text(filter.model)};
  absl::Status status =
      connection.Run(sql::kBenchUnitStates, parameters, [&](const store::Row& row) {
        v1::SubjectState state;
        const std::string_view bytes = row.Bytes(0);
        readable &= state.ParseFromArray(bytes.data(), static_cast<int>(bytes.size()));
        if (readable) visit(state, row.Bytes(1));
      });
  if (!status.ok()) return status;
  if (readable) return absl::OkStatus();
  return absl::DataLossError("a stored state cannot be read; run: ferruled rebuild");
}

}  // namespace ferrule::board
