#include "core/store/integrity.h"

#include "absl/strings/str_cat.h"

namespace ferrule::store {
namespace {

constexpr size_t kMostFaults = 20;

constexpr Sql kSqliteIntegrity{"sqlite_integrity", "PRAGMA integrity_check(20)"};
constexpr Sql kSqliteForeignKeys{"sqlite_foreign_keys", "PRAGMA foreign_key_check"};

constexpr Sql kHasAmcheck{
    "postgresql_has_amcheck",
    "SELECT count(*) FROM pg_catalog.pg_proc p JOIN pg_catalog.pg_extension e "
    "ON e.extnamespace = p.pronamespace WHERE e.extname = 'amcheck' "
    "AND p.proname = 'bt_index_check' AND p.pronargs = 2 "
    "AND has_function_privilege(p.oid, 'EXECUTE')"};
// As a text that is run for each index, since the function is only there with its extension.
constexpr Sql kIndexCheck{
    "postgresql_index_check",
    "SELECT count(query_to_xml(format('SELECT %I.bt_index_check(%s::regclass, true)', n.nspname, "
    "i.indexrelid), false, false, '')::text) FROM pg_catalog.pg_index i "
    "JOIN pg_catalog.pg_class c ON c.oid = i.indexrelid "
    "JOIN pg_catalog.pg_am a ON a.oid = c.relam "
    "JOIN pg_catalog.pg_extension e ON e.extname = 'amcheck' "
    "JOIN pg_catalog.pg_namespace n ON n.oid = e.extnamespace "
    "WHERE a.amname = 'btree' AND i.indisvalid AND c.relnamespace = "
    "(SELECT t.relnamespace FROM pg_catalog.pg_class t WHERE t.oid = to_regclass('ledger_head'))"};

absl::StatusOr<std::vector<std::string>> AskSqlite(Connection& connection) {
  std::vector<std::string> faults;
  const auto add = [&faults](std::string fault) {
    if (faults.size() < kMostFaults) faults.push_back(std::move(fault));
  };
  absl::Status status = connection.Run(kSqliteIntegrity, {}, [&](const Row& row) {
    const std::string text(row.Bytes(0));
    if (text != "ok") add(text);
  });
  if (!status.ok()) return status;
  status = connection.Run(kSqliteForeignKeys, {}, [&](const Row& row) {
    add(absl::StrCat("a row of ", std::string(row.Bytes(0)), " points to no row of ",
                     std::string(row.Bytes(2))));
  });
  if (!status.ok()) return status;
  return faults;
}

absl::StatusOr<std::vector<std::string>> AskPostgres(Connection& connection) {
  int64_t can = 0;
  absl::Status status =
      connection.Run(kHasAmcheck, {}, [&can](const Row& row) { can = row.Int(0); });
  if (!status.ok()) return status;
  std::vector<std::string> faults;
  if (can == 0) return faults;
  status = connection.Run(kIndexCheck, {});
  if (absl::IsDataLoss(status) || absl::IsInternal(status)) {
    faults.emplace_back(status.message());
    return faults;
  }
  if (!status.ok()) return status;
  return faults;
}

}  // namespace

absl::StatusOr<std::vector<std::string>> EngineFaults(Connection& connection) {
  return connection.engine() == "sqlite" ? AskSqlite(connection) : AskPostgres(connection);
}

}  // namespace ferrule::store
