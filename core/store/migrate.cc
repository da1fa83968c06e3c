#include "core/store/migrate.h"

#include <array>
#include <chrono>
#include <string>

#include "absl/strings/str_cat.h"
#include "core/store/schema/migrations.h"

namespace ferrule::store {
namespace {

constexpr Sql kSqliteHasSchema{
    "sqlite_has_schema",
    "SELECT count(*) FROM sqlite_schema WHERE type = 'table' AND name = 'schema_migrations'"};
constexpr Sql kPostgresqlHasSchema{
    "postgresql_has_schema",
    "SELECT count(*) FROM pg_catalog.pg_class WHERE oid = to_regclass('schema_migrations')"};
constexpr Sql kSchemaVersion{"schema_version",
                             "SELECT coalesce(max(version), 0) FROM schema_migrations"};
constexpr Sql kRecordMigration{
    "record_migration",
    "INSERT INTO schema_migrations (version, applied_us, name) VALUES ($1, $2, $3)"};

bool IsSqlite(const Connection& connection) { return connection.engine() == "sqlite"; }

absl::StatusOr<int64_t> OneInt(Connection& connection, const Sql& sql) {
  int64_t result = 0;
  absl::Status status = connection.Run(sql, {}, [&](const Row& row) { result = row.Int(0); });
  if (!status.ok()) return status;
  return result;
}

absl::Status Newer(int found) {
  return absl::FailedPreconditionError(
      absl::StrCat("the depot has schema version ", found, ", this program knows version ",
                   ProgramSchemaVersion(), ": use a release with schema version ", found,
                   " or newer. Nothing was changed"));
}

int64_t NowUs() {
  const auto now = std::chrono::system_clock::now().time_since_epoch();
  return std::chrono::duration_cast<std::chrono::microseconds>(now).count();
}

absl::Status Apply(Connection& writer, int version) {
  const schema::Migration& step = schema::kMigrations[size_t(version) - 1];
  const Sql script{step.name, IsSqlite(writer) ? step.sqlite : step.postgresql};
  if (absl::Status status = writer.RunScript(script); !status.ok()) return status;
  const std::array values = {Value::Int(version), Value::Int(NowUs()), Value::Text(step.name)};
  return writer.Run(kRecordMigration, values);
}

// One step in a transaction of its own, unless another process did it meanwhile. Returns whether
// the store has the program's version.
absl::StatusOr<bool> Step(Connection& writer) {
  const auto found = SchemaVersion(writer);
  if (!found.ok()) return found.status();
  if (*found > ProgramSchemaVersion()) return Newer(*found);
  if (*found == ProgramSchemaVersion()) return true;
  if (absl::Status status = Apply(writer, *found + 1); !status.ok()) return status;
  return false;
}

}  // namespace

int ProgramSchemaVersion() { return int(schema::kMigrations.size()); }

absl::StatusOr<int> SchemaVersion(Connection& connection) {
  const auto has_schema =
      OneInt(connection, IsSqlite(connection) ? kSqliteHasSchema : kPostgresqlHasSchema);
  if (!has_schema.ok()) return has_schema.status();
  if (*has_schema == 0) return 0;
  const auto version = OneInt(connection, kSchemaVersion);
  if (!version.ok()) return version.status();
  return int(*version);
}

absl::Status CheckSchema(Connection& connection) {
  const auto found = SchemaVersion(connection);
  if (!found.ok()) return found.status();
  if (*found > ProgramSchemaVersion()) return Newer(*found);
  if (*found == ProgramSchemaVersion()) return absl::OkStatus();
  if (*found == 0) {
    return absl::FailedPreconditionError("the depot has no tables yet. Run: ferruled migrate");
  }
  return absl::FailedPreconditionError(
      absl::StrCat("the depot has schema version ", *found, ", this program needs version ",
                   ProgramSchemaVersion(), ". Run: ferruled migrate"));
}

absl::Status Migrate(Connection& writer) {
  for (;;) {
    if (absl::Status status = writer.Begin(TransactionKind::kSchema); !status.ok()) return status;
    const auto done = Step(writer);
    if (!done.ok() || *done) {
      absl::Status rollback = writer.Rollback();
      return done.ok() ? rollback : done.status();
    }
    if (absl::Status status = writer.Commit(); !status.ok()) return status;
  }
}

}  // namespace ferrule::store
