#include "core/store/migrate.h"

#include <array>
#include <chrono>
#include <string>

#include "absl/strings/str_cat.h"
#include "core/store/schema/migrations.h"
#include "core/store/schema/steps.h"

namespace ferrule::store {
namespace schema {
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

// A row of version 0 stands there from the first step of an older store on until what follows from
// its facts was written anew: whatever cuts that off is made up for by the next migration.
constexpr int kRebuildRow = 0;
constexpr Sql kHasRebuildRow{"has_rebuild_row",
                             "SELECT count(*) FROM schema_migrations WHERE version = 0"};
constexpr Sql kDropRebuildRow{"drop_rebuild_row",
                              "DELETE FROM schema_migrations WHERE version = 0"};

bool IsSqlite(const Connection& connection) { return connection.engine() == "sqlite"; }

absl::StatusOr<int64_t> OneInt(Connection& connection, const Sql& sql) {
  int64_t result = 0;
  absl::Status status = connection.Run(sql, {}, [&](const Row& row) { result = row.Int(0); });
  if (!status.ok()) return status;
  return result;
}

int64_t NowUs() {
  const auto now = std::chrono::system_clock::now().time_since_epoch();
  return std::chrono::duration_cast<std::chrono::microseconds>(now).count();
}

}  // namespace

absl::StatusOr<int> Steps::Version(Connection& connection) {
  const auto has_schema =
      OneInt(connection, IsSqlite(connection) ? kSqliteHasSchema : kPostgresqlHasSchema);
  if (!has_schema.ok()) return has_schema.status();
  if (*has_schema == 0) return 0;
  const auto version = OneInt(connection, kSchemaVersion);
  if (!version.ok()) return version.status();
  if (*version < 0 || *version > 1'000'000) {
    return absl::DataLossError(absl::StrCat("the depot's schema version is given as ", *version,
                                            ": it is damaged. Restore the last backup"));
  }
  return int(*version);
}

absl::Status Steps::Newer(int found) const {
  return absl::FailedPreconditionError(absl::StrCat(
      "the depot has schema version ", found, ", this program knows version ", last_version(),
      ": use a release that knows schema version ", found, " or newer. Nothing was changed"));
}

absl::Status Steps::Check(Connection& connection) const {
  const auto found = Version(connection);
  if (!found.ok()) return found.status();
  if (*found > last_version()) return Newer(*found);
  if (*found == last_version()) return absl::OkStatus();
  if (*found == 0) {
    return absl::FailedPreconditionError("the depot has no tables yet. Run: ferruled migrate");
  }
  return absl::FailedPreconditionError(absl::StrCat("the depot has schema version ", *found,
                                                    ", this program needs version ", last_version(),
                                                    ". Run: ferruled migrate"));
}

absl::Status Steps::ApplyStep(Connection& writer, int version) const {
  const Migration& step = steps_[size_t(version) - 1];
  const Sql script{step.name, IsSqlite(writer) ? step.sqlite : step.postgresql};
  if (absl::Status status = writer.RunScript(script); !status.ok()) return status;
  const std::array values = {Value::Int(version), Value::Int(NowUs()), Value::Text(step.name)};
  return writer.Run(kRecordMigration, values);
}

absl::Status Steps::NoteRebuild(Connection& writer) {
  const auto noted = OneInt(writer, kHasRebuildRow);
  if (!noted.ok() || *noted > 0) return noted.status();
  const std::array values = {Value::Int(kRebuildRow), Value::Int(NowUs()), Value::Text("rebuild")};
  return writer.Run(kRecordMigration, values);
}

absl::StatusOr<bool> Steps::MustRebuild(Connection& connection) {
  const auto version = Version(connection);
  if (!version.ok()) return version.status();
  if (*version == 0) return false;
  const auto noted = OneInt(connection, kHasRebuildRow);
  if (!noted.ok()) return noted.status();
  return *noted > 0;
}

absl::Status Steps::Rebuilt(Connection& writer) {
  const auto must = MustRebuild(writer);
  if (!must.ok() || !*must) return must.status();
  return writer.Run(kDropRebuildRow, {});
}

// Asks for the version anew: another process may have migrated meanwhile. A database without tables
// gets every step at once, so that a depot is either there or not. Returns whether there was a step
// to apply.
absl::StatusOr<bool> Steps::ApplyNext(Connection& writer) const {
  const auto found = Version(writer);
  if (!found.ok()) return found.status();
  if (*found > last_version()) return Newer(*found);
  if (*found == last_version()) return false;
  if (*found > 0) {
    if (absl::Status noted = NoteRebuild(writer); !noted.ok()) return noted;
  }
  const int until = *found == 0 ? last_version() : *found + 1;
  for (int version = *found + 1; version <= until; ++version) {
    if (absl::Status status = ApplyStep(writer, version); !status.ok()) return status;
  }
  return true;
}

absl::Status Steps::Apply(Connection& writer) const {
  for (;;) {
    if (absl::Status status = writer.Begin(TransactionKind::kSchema); !status.ok()) return status;
    const auto applied = ApplyNext(writer);
    if (!applied.ok() || !*applied) {
      const absl::Status rollback = writer.Rollback();
      return applied.ok() ? rollback : applied.status();
    }
    if (absl::Status status = writer.Commit(); !status.ok()) return status;
  }
}

}  // namespace schema

namespace {
schema::Steps Program() { return schema::Steps(schema::kMigrations); }
}  // namespace

int ProgramSchemaVersion() { return Program().last_version(); }

absl::StatusOr<int> SchemaVersion(Connection& connection) {
  return schema::Steps::Version(connection);
}

absl::Status CheckVersion(Connection& connection) { return Program().Check(connection); }

absl::Status CheckSchema(Connection& connection) {
  if (absl::Status version = CheckVersion(connection); !version.ok()) return version;
  const auto must = MustRebuild(connection);
  if (!must.ok() || !*must) return must.status();
  return absl::FailedPreconditionError(
      "a migration was cut off before everything that follows from the facts was written anew. "
      "Run: ferruled migrate");
}

absl::StatusOr<bool> MustRebuild(Connection& connection) {
  return schema::Steps::MustRebuild(connection);
}

absl::Status Rebuilt(Connection& writer) { return schema::Steps::Rebuilt(writer); }

absl::Status Migrate(Connection& writer) { return Program().Apply(writer); }

}  // namespace ferrule::store
