#include "core/board/pool_index.h"

#include "core/board/queries.h"
#include "core/fact/subject.h"
#include "core/fold/columns.h"

namespace ferrule::board {
namespace {

// So many entries behind, reading everything anew is quicker.
constexpr int64_t kMostBehind = 20'000;

bool Belongs(int kind, int64_t custody, int64_t status) {
  if (kind == static_cast<int>(fact::SubjectKind::kUnit)) {
    return custody == v1::CUSTODY_PLACE || custody == v1::CUSTODY_HOME;
  }
  return status == v1::ORDER_STATUS_OPEN || status == v1::ORDER_STATUS_HELD ||
         status == v1::ORDER_STATUS_ON_RENT;
}

bool IsUnit(int kind) { return kind == static_cast<int>(fact::SubjectKind::kUnit); }
bool IsOrder(int kind) { return kind == static_cast<int>(fact::SubjectKind::kOrder); }

}  // namespace

void PoolIndex::Put(const std::string& name, const Key& key, bool unit, bool belongs) {
  const auto before = where_.find(name);
  if (before != where_.end()) {
    Pool& old = pools_[before->second];
    (unit ? old.units : old.orders).erase(name);
    where_.erase(before);
  }
  if (!belongs) return;
  Pool& pool = pools_[key];
  (unit ? pool.units : pool.orders).insert(name);
  where_[name] = key;
}

absl::Status PoolIndex::ReadAll(ledger::Ledger& ledger) {
  pools_.clear();
  where_.clear();
  // What is recorded while the states are read is read again by the next catching up.
  const int64_t sequence = ledger.head().sequence;
  std::vector<std::pair<std::string, std::pair<Key, bool>>> rows;
  absl::Status status = ledger.WithReader([&](store::Connection& connection) {
    return connection.Run(sql::kPoolMembers, {}, [&](const store::Row& row) {
      const int kind = static_cast<int>(row.Int(1));
      if (!Belongs(kind, row.Int(4), row.Int(5))) return;
      rows.push_back({std::string(row.Bytes(0)),
                      {{std::string(row.Bytes(2)), std::string(row.Bytes(3))}, IsUnit(kind)}});
    });
  });
  if (!status.ok()) return status;
  for (const auto& [name, what] : rows) Put(name, what.first, what.second, true);
  sequence_ = sequence;
  return absl::OkStatus();
}

absl::Status PoolIndex::Refresh(ledger::Ledger& ledger, const std::string& name) {
  absl::StatusOr<ledger::StatePtr> state = ledger.Get(name);
  if (absl::IsNotFound(state.status())) return absl::OkStatus();
  if (!state.ok()) return state.status();
  const fold::Columns c = fold::ColumnsOf(**state, *ledger.Book());
  if (!IsUnit(c.kind) && !IsOrder(c.kind)) return absl::OkStatus();
  Put(name, {c.branch, c.device_class}, IsUnit(c.kind), Belongs(c.kind, c.custody, c.status));
  return absl::OkStatus();
}

absl::Status PoolIndex::CatchUp(ledger::Ledger& ledger) {
  const int64_t head = ledger.head().sequence;
  if (sequence_ == head) return absl::OkStatus();
  if (sequence_ < 0 || head < sequence_ || head - sequence_ > kMostBehind) return ReadAll(ledger);
  std::set<std::string> touched;
  bool settings = false;
  int64_t through = sequence_;
  bool readable = true;
  absl::Status status = ledger.Read(sequence_, "", [&](const ledger::Recorded& recorded) {
    v1::LedgerEntry entry;
    if (!entry.ParseFromArray(recorded.bytes.data(), static_cast<int>(recorded.bytes.size()))) {
      readable = false;
      return false;
    }
    through = recorded.sequence;
    for (const v1::Fact& fact : entry.entry().facts()) {
      settings |= fact.has_settings_put();
      for (std::string& name : fact::SubjectsOf(fact)) touched.insert(std::move(name));
    }
    return true;
  });
  if (!status.ok()) return status;
  if (!readable) return absl::DataLossError("a stored entry cannot be read; run: ferruled verify");
  // New settings may give every place another branch and every model another class.
  if (settings) return ReadAll(ledger);
  for (const std::string& name : touched) {
    if (status = Refresh(ledger, name); !status.ok()) return status;
  }
  sequence_ = through;
  return absl::OkStatus();
}

absl::StatusOr<PoolMembers> PoolIndex::Members(ledger::Ledger& ledger, const std::string& branch,
                                               const std::string& device_class) {
  absl::MutexLock lock(&mutex_);
  if (absl::Status status = CatchUp(ledger); !status.ok()) return status;
  PoolMembers members;
  members.sequence = sequence_;
  const auto pool = pools_.find(Key(branch, device_class));
  if (pool == pools_.end()) return members;
  members.units.assign(pool->second.units.begin(), pool->second.units.end());
  members.orders.assign(pool->second.orders.begin(), pool->second.orders.end());
  return members;
}

absl::StatusOr<std::vector<std::pair<std::string, std::string>>> PoolIndex::Pools(
    ledger::Ledger& ledger) {
  absl::MutexLock lock(&mutex_);
  if (absl::Status status = CatchUp(ledger); !status.ok()) return status;
  std::set<Key> keys;
  for (const auto& [key, pool] : pools_) {
    if (!pool.units.empty() || !pool.orders.empty()) keys.insert(key);
  }
  return std::vector<Key>(keys.begin(), keys.end());
}

}  // namespace ferrule::board
