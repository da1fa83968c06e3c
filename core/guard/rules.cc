#include "core/guard/rules.h"

#include <utility>

#include "core/guard/queries.h"
#include "core/guard/write.h"
#include "core/time/civil.h"

namespace ferrule::guard {
namespace {

using store::Value;

}  // namespace

AccessRulesBook::AccessRulesBook(ledger::Ledger* ledger) : ledger_(*ledger) {}

// Under the mutex.
absl::Status AccessRulesBook::Load() {
  std::vector<VersionPtr> versions;
  bool readable = true;
  absl::Status status = ledger_.WithReader([&](store::Connection& connection) {
    versions.clear();
    return connection.Run(sql::kAllRules, {}, [&](const store::Row& row) {
      auto version = std::make_shared<v1::AccessRulesVersion>();
      time::SetMicros(row.Int(0), version->mutable_from_time());
      time::SetMicros(row.Int(1), version->mutable_put_time());
      version->set_principal(std::string(row.Bytes(2)));
      const std::string_view bytes = row.Bytes(3);
      readable &=
          version->mutable_rules()->ParseFromArray(bytes.data(), static_cast<int>(bytes.size()));
      versions.push_back(std::move(version));
    });
  });
  if (!status.ok()) return status;
  // Without readable rules nobody may do anything.
  if (!readable) return absl::DataLossError("the access rules cannot be read; restore a backup");
  versions_ = std::move(versions);
  loaded_ = true;
  return absl::OkStatus();
}

absl::Status AccessRulesBook::Refresh() {
  const std::lock_guard lock(mutex_);
  return Load();
}

absl::StatusOr<AccessRulesBook::VersionPtr> AccessRulesBook::At(int64_t us) {
  const std::lock_guard lock(mutex_);
  if (!loaded_) {
    if (absl::Status loaded = Load(); !loaded.ok()) return loaded;
  }
  VersionPtr in_force;
  for (const VersionPtr& version : versions_) {
    if (time::ToMicros(version->from_time()) <= us) in_force = version;
  }
  return in_force;
}

absl::Status AccessRulesBook::Put(const v1::AccessRulesVersion& version) {
  const auto bytes = std::make_shared<const std::string>(version.rules().SerializeAsString());
  absl::Status written = WriteAndWait(ledger_, [bytes, version](store::Connection& c) {
    const Value values[] = {Value::Int(time::ToMicros(version.from_time())),
                            Value::Int(time::ToMicros(version.put_time())),
                            Value::Text(version.principal()), Value::Blob(*bytes)};
    return c.Run(sql::kAddRules, values);
  });
  if (!written.ok()) return written;
  return Refresh();
}

}  // namespace ferrule::guard
