#include "core/board/name_index.h"

#include <algorithm>
#include <set>

#include "absl/strings/str_cat.h"
#include "core/board/queries.h"
#include "core/fact/subject.h"
#include "core/label/scan.h"

namespace ferrule::board {
namespace {

// Dates in a UDI do not matter here, so neither does the year in which it is read.
constexpr int kAnyYear = 2000;

std::string AliasKey(std::string_view alias) { return absl::StrCat("a", std::string(alias)); }
std::string UdiText(const UdiKey& key) {
  return absl::StrCat("u", key.device_identifier, " ", key.serial);
}

UdiKey KeyOf(const v1::UnitState& unit) {
  UdiKey key = KeyOfUdi(unit.udi());
  if (key.serial.empty()) key.serial = unit.serial();
  return key;
}

// Whether a fact can give a unit a name that it had not yet: a reversal may bring one back.
bool MayName(const v1::Fact& fact) {
  return fact.has_unit_received() || fact.has_alias_noted() || fact.has_reversal();
}

}  // namespace

UdiKey KeyOfUdi(std::string_view udi) {
  const absl::StatusOr<label::Scan> scan = label::ParseScan(udi, kAnyYear);
  if (!scan.ok()) return {};
  return {scan->device_identifier, scan->serial};
}

bool HasAlias(const v1::UnitState& unit, std::string_view alias) {
  return std::any_of(unit.aliases().begin(), unit.aliases().end(),
                     [alias](const v1::Alias& one) { return one.alias() == alias; });
}

bool HasUdi(const v1::UnitState& unit, const UdiKey& key) {
  const UdiKey own = KeyOf(unit);
  return !own.device_identifier.empty() && own.device_identifier == key.device_identifier &&
         own.serial == key.serial;
}

void NameIndex::Put(const std::string& key, const std::string& unit) {
  Tags& tags = tags_[key];
  const auto at = std::lower_bound(tags.begin(), tags.end(), unit);
  if (at == tags.end() || *at != unit) tags.insert(at, unit);
}

void NameIndex::Add(const v1::UnitState& unit) {
  for (const v1::Alias& alias : unit.aliases()) Put(AliasKey(alias.alias()), unit.unit());
  if (unit.udi().empty()) return;
  const UdiKey key = KeyOf(unit);
  if (!key.device_identifier.empty()) Put(UdiText(key), unit.unit());
}

absl::Status NameIndex::Start(ledger::Ledger& ledger) {
  const int64_t head = ledger.head().sequence;  // before the states are read: none is missed
  bool readable = true;
  absl::Status read = ledger.WithReader([&](store::Connection& connection) {
    return connection.Run(sql::kUnitStates, {}, [&](const store::Row& row) {
      v1::SubjectState state;
      const std::string_view bytes = row.Bytes(0);
      readable &= state.ParseFromArray(bytes.data(), static_cast<int>(bytes.size()));
      mutex_.AssertHeld();
      Add(state.unit());
    });
  });
  if (!read.ok()) return read;
  if (!readable) return absl::DataLossError("a stored state cannot be read; run: ferruled rebuild");
  sequence_ = head;
  return absl::OkStatus();
}

absl::Status NameIndex::Refresh(ledger::Ledger& ledger) {
  absl::MutexLock lock(&mutex_);
  if (sequence_ < 0) {
    if (absl::Status started = Start(ledger); !started.ok()) return started;
  }
  std::set<std::string> renamed;
  int64_t reached = sequence_;
  absl::Status read = ledger.Read(sequence_, "", [&](const ledger::Recorded& recorded) {
    v1::LedgerEntry entry;
    reached = recorded.sequence;
    if (!entry.ParseFromArray(recorded.bytes.data(), static_cast<int>(recorded.bytes.size()))) {
      return true;
    }
    for (const v1::Fact& fact : entry.entry().facts()) {
      if (!MayName(fact)) continue;
      fact::ForEachSubject(fact, [&](fact::SubjectKind kind, std::string_view id) {
        if (kind == fact::SubjectKind::kUnit) renamed.insert(fact::SubjectName(kind, id));
      });
    }
    return true;
  });
  if (!read.ok()) return read;
  for (const std::string& name : renamed) {
    const absl::StatusOr<ledger::StatePtr> state = ledger.Get(name);
    if (absl::IsNotFound(state.status())) continue;
    if (!state.ok()) return state.status();
    Add((*state)->unit());
  }
  sequence_ = reached;
  return absl::OkStatus();
}

NameIndex::Tags NameIndex::Find(const std::string& key) const {
  absl::MutexLock lock(&mutex_);
  const auto found = tags_.find(key);
  return found == tags_.end() ? Tags() : found->second;
}

NameIndex::Tags NameIndex::ByAlias(std::string_view alias) const { return Find(AliasKey(alias)); }

NameIndex::Tags NameIndex::ByUdi(const UdiKey& key) const { return Find(UdiText(key)); }

}  // namespace ferrule::board
