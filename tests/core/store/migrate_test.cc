#include "core/store/migrate.h"

#include <array>
#include <future>
#include <set>
#include <span>
#include <string>
#include <vector>

#include "core/store/open.h"
#include "core/store/schema/migrations.h"
#include "core/store/schema/steps.h"
#include "gmock/gmock.h"
#include "gtest/gtest.h"
#include "tests/support/depot_stores.h"

namespace ferrule::store {
namespace {

using ::testing::AllOf;
using ::testing::HasSubstr;
using testing::kAllStores;
using testing::StoreKind;
using testing::StoreKindName;
using testing::TestStore;

class StoreMigrate : public ::testing::TestWithParam<StoreKind> {
 protected:
  StoreMigrate() : database_(store_.Open()), writer_(*database_->OpenWriter()) {}

  // Every row of every table, as text, to see that nothing changed.
  std::string Contents() {
    std::string all;
    for (const Sql& sql : {Sql{"heads", "SELECT id, sequence, epoch, label FROM ledger_head"},
                           Sql{"steps",
                               "SELECT version, applied_us, name, name FROM schema_migrations "
                               "ORDER BY version"}}) {
      EXPECT_EQ(writer_->Run(sql, {},
                             [&](const Row& row) {
                               all += std::to_string(row.Int(0)) + " " +
                                      std::to_string(row.Int(1)) + " " + std::string(row.Bytes(2)) +
                                      "\n";
                             }),
                absl::OkStatus());
    }
    return all;
  }

  void PretendVersion(int version) {
    static constexpr Sql kPretend{
        "pretend", "INSERT INTO schema_migrations (version, applied_us, name) VALUES ($1, 0, '')"};
    const std::array values = {Value::Int(version)};
    ASSERT_EQ(writer_->Run(kPretend, values), absl::OkStatus());
  }

  TestStore store_{GetParam()};
  std::unique_ptr<Database> database_;
  std::unique_ptr<Connection> writer_;
};
INSTANTIATE_TEST_SUITE_P(Engines, StoreMigrate, ::testing::ValuesIn(kAllStores), StoreKindName);

TEST_P(StoreMigrate, AnEmptyStoreGetsTheProgramsVersion) {
  EXPECT_EQ(*SchemaVersion(*writer_), 0);
  ASSERT_EQ(Migrate(*writer_), absl::OkStatus());
  EXPECT_EQ(*SchemaVersion(*writer_), ProgramSchemaVersion());
  EXPECT_EQ(CheckSchema(*writer_), absl::OkStatus());
}

TEST_P(StoreMigrate, TwiceChangesNothing) {
  ASSERT_EQ(Migrate(*writer_), absl::OkStatus());
  const std::string before = Contents();
  ASSERT_EQ(Migrate(*writer_), absl::OkStatus());
  EXPECT_EQ(Contents(), before);
  EXPECT_FALSE(writer_->in_transaction());
}

TEST_P(StoreMigrate, TheLedgerStartsEmpty) {
  static constexpr Sql kHead{"head",
                             "SELECT sequence, recorded_us, digest, next_subject_id, "
                             "max_happened_us, epoch, label FROM ledger_head"};
  ASSERT_EQ(Migrate(*writer_), absl::OkStatus());
  int rows = 0;
  ASSERT_EQ(writer_->Run(kHead, {},
                         [&](const Row& row) {
                           ++rows;
                           EXPECT_EQ(row.Int(0), 0);
                           EXPECT_EQ(row.Int(1), 0);
                           EXPECT_FALSE(row.IsNull(2));
                           EXPECT_EQ(row.Bytes(2), "");
                           EXPECT_EQ(row.Int(3), 1);
                           EXPECT_TRUE(row.IsNull(4));
                           EXPECT_EQ(row.Bytes(5), "");
                           EXPECT_EQ(row.Bytes(6), "");
                         }),
            absl::OkStatus());
  EXPECT_EQ(rows, 1);
}

TEST_P(StoreMigrate, AStoreWithoutTablesIsRefusedWithTheCommand) {
  const absl::Status status = CheckSchema(*writer_);
  EXPECT_EQ(status.code(), absl::StatusCode::kFailedPrecondition);
  EXPECT_THAT(std::string(status.message()), HasSubstr("ferruled migrate"));
}

// Steps of a schema of our own, as later releases have them.
constexpr schema::Migration kThreeSteps[] = {
    {"first",
     "CREATE TABLE schema_migrations (version INTEGER, applied_us INTEGER, name TEXT); "
     "CREATE TABLE t (a INTEGER); INSERT INTO t VALUES (7)",
     "CREATE TABLE schema_migrations (version BIGINT, applied_us BIGINT, name TEXT); "
     "CREATE TABLE t (a BIGINT); INSERT INTO t VALUES (7)"},
    {"second", "ALTER TABLE t ADD COLUMN b INTEGER; UPDATE t SET b = a + 1",
     "ALTER TABLE t ADD COLUMN b BIGINT; UPDATE t SET b = a + 1"},
    {"third", "ALTER TABLE t ADD COLUMN c INTEGER; SELECT nothing FROM nowhere",
     "ALTER TABLE t ADD COLUMN c BIGINT; SELECT nothing FROM nowhere"},
};

TEST_P(StoreMigrate, AnOlderStoreIsRefusedWithTheCommandAndBroughtForward) {
  const std::span steps(kThreeSteps);
  ASSERT_EQ(schema::Steps(steps.first(1)).Apply(*writer_), absl::OkStatus());
  const schema::Steps newer(steps.first(2));
  const absl::Status status = newer.Check(*writer_);
  EXPECT_EQ(status.code(), absl::StatusCode::kFailedPrecondition);
  EXPECT_THAT(std::string(status.message()),
              AllOf(HasSubstr("version 1"), HasSubstr("version 2"), HasSubstr("ferruled migrate")));
  ASSERT_EQ(newer.Apply(*writer_), absl::OkStatus());
  EXPECT_EQ(newer.Check(*writer_), absl::OkStatus());
  static constexpr Sql kSum{"sum_of_t", "SELECT a + b FROM t"};
  EXPECT_EQ(writer_->Run(kSum, {}, [](const Row& row) { EXPECT_EQ(row.Int(0), 15); }),
            absl::OkStatus());
}

// Cut off between the last step and the work that follows it, nobody takes the store for done.
TEST_P(StoreMigrate, AnOlderStoreIsNotServedUntilWhatFollowsFromItsFactsWasWrittenAnew) {
  const std::span steps(schema::kMigrations);
  ASSERT_EQ(schema::Steps(steps.first(1)).Apply(*writer_), absl::OkStatus());
  EXPECT_FALSE(*MustRebuild(*writer_));
  ASSERT_EQ(Migrate(*writer_), absl::OkStatus());
  EXPECT_EQ(*SchemaVersion(*writer_), ProgramSchemaVersion());
  EXPECT_EQ(CheckVersion(*writer_), absl::OkStatus());
  EXPECT_TRUE(*MustRebuild(*writer_));
  const absl::Status status = CheckSchema(*writer_);
  EXPECT_EQ(status.code(), absl::StatusCode::kFailedPrecondition);
  EXPECT_THAT(std::string(status.message()), HasSubstr("ferruled migrate"));
  ASSERT_EQ(Migrate(*writer_), absl::OkStatus());
  EXPECT_TRUE(*MustRebuild(*writer_));
  ASSERT_EQ(Rebuilt(*writer_), absl::OkStatus());
  EXPECT_FALSE(*MustRebuild(*writer_));
  EXPECT_EQ(CheckSchema(*writer_), absl::OkStatus());
  ASSERT_EQ(Rebuilt(*writer_), absl::OkStatus());
}

// Another server of the same database, of the release before, still runs: it must not file entries
// where this program does not find them.
TEST_P(StoreMigrate, AProgramBeforeKeysFollowedTheTimeCanNoLongerRecord) {
  const std::span steps(schema::kMigrations);
  constexpr Sql kAdd{"add_entry_before",
                     "INSERT INTO entries (sequence, recorded_us, entry_key, digest, bytes, "
                     "receipt) VALUES ($1, $2, $3, $4, $5, $6)"};
  const auto add = [&](int64_t sequence) {
    const std::array values = {Value::Int(sequence), Value::Int(0),    Value::Int(7),
                               Value::Blob("d"),     Value::Blob("b"), Value::Null()};
    return writer_->Run(kAdd, values);
  };
  ASSERT_EQ(schema::Steps(steps.first(4)).Apply(*writer_), absl::OkStatus());
  EXPECT_EQ(add(1), absl::OkStatus());
  ASSERT_EQ(Migrate(*writer_), absl::OkStatus());
  EXPECT_FALSE(add(2).ok());
  constexpr Sql kKeys{"keys_now", "SELECT count(*), max(id_key) FROM entries"};
  EXPECT_EQ(writer_->Run(kKeys, {},
                         [](const Row& row) {
                           EXPECT_EQ(row.Int(0), 1);
                           EXPECT_EQ(row.Int(1), 7);
                         }),
            absl::OkStatus());
}

TEST_P(StoreMigrate, AStepThatFailsLeavesTheStepsBeforeIt) {
  const std::span steps(kThreeSteps);
  const schema::Steps broken(steps);
  // A new depot is there whole or not at all.
  EXPECT_EQ(broken.Apply(*writer_).code(), absl::StatusCode::kInternal);
  EXPECT_EQ(*SchemaVersion(*writer_), 0);
  ASSERT_EQ(schema::Steps(steps.first(1)).Apply(*writer_), absl::OkStatus());
  EXPECT_EQ(broken.Apply(*writer_).code(), absl::StatusCode::kInternal);
  EXPECT_FALSE(writer_->in_transaction());
  EXPECT_EQ(*SchemaVersion(*writer_), 2);
  static constexpr Sql kThirdColumn{"third_column", "SELECT c FROM t"};
  EXPECT_FALSE(writer_->Run(kThirdColumn, {}).ok());
  EXPECT_EQ(schema::Steps(steps.first(2)).Check(*writer_), absl::OkStatus());
}

TEST_P(StoreMigrate, AVersionThatCannotBeIsDataLoss) {
  ASSERT_EQ(Migrate(*writer_), absl::OkStatus());
  ASSERT_EQ(writer_->RunScript({"damage", "UPDATE schema_migrations SET version = -version"}),
            absl::OkStatus());
  EXPECT_EQ(CheckSchema(*writer_).code(), absl::StatusCode::kDataLoss);
  EXPECT_EQ(Migrate(*writer_).code(), absl::StatusCode::kDataLoss);
}

TEST_P(StoreMigrate, ANewerStoreIsRefusedWithTheVersionNeededAndNotChanged) {
  ASSERT_EQ(Migrate(*writer_), absl::OkStatus());
  PretendVersion(ProgramSchemaVersion() + 3);
  const std::string before = Contents();
  const std::string needed = "schema version " + std::to_string(ProgramSchemaVersion() + 3);
  for (const absl::Status& status : {CheckSchema(*writer_), Migrate(*writer_)}) {
    EXPECT_EQ(status.code(), absl::StatusCode::kFailedPrecondition);
    EXPECT_THAT(std::string(status.message()), HasSubstr(needed));
  }
  EXPECT_EQ(Contents(), before);
  EXPECT_FALSE(writer_->in_transaction());
}

TEST_P(StoreMigrate, AStepThatFailsLeavesNothingBehind) {
  // A table in the way makes the first step fail near its end.
  ASSERT_EQ(writer_->RunScript({"in_the_way", "CREATE TABLE states (id INTEGER)"}),
            absl::OkStatus());
  EXPECT_FALSE(Migrate(*writer_).ok());
  EXPECT_EQ(*SchemaVersion(*writer_), 0);
  ASSERT_EQ(writer_->RunScript({"out_of_the_way", "DROP TABLE states"}), absl::OkStatus());
  EXPECT_EQ(Migrate(*writer_), absl::OkStatus());
}

TEST(StoreMigratePostgres, TwoAtOnceMigrateOnce) {
  const TestStore store(StoreKind::kPostgres);
  const auto migrate = [&] {
    const auto database = store.Open();
    return Migrate(**database->OpenWriter());
  };
  std::vector<std::future<absl::Status>> all;
  for (int i = 0; i < 4; ++i) all.push_back(std::async(std::launch::async, migrate));
  for (auto& one : all) EXPECT_EQ(one.get(), absl::OkStatus());
  const auto database = store.Open();
  const auto reader = *database->OpenReader();
  EXPECT_EQ(CheckSchema(*reader), absl::OkStatus());
}

// The statements are shared by the engines, so the tables must be too.
std::set<std::string> ColumnsOf(StoreKind kind) {
  static constexpr Sql kSqlite{
      "sqlite_columns",
      "SELECT t.name || '.' || c.name || CASE WHEN c.\"notnull\" = 1 OR c.pk > 0 THEN ' not null' "
      "ELSE '' END FROM sqlite_schema t JOIN pragma_table_info(t.name) c WHERE t.type = 'table'"};
  static constexpr Sql kPostgresql{
      "postgresql_columns",
      "SELECT CAST(table_name || '.' || column_name || CASE is_nullable WHEN 'NO' THEN ' not null' "
      "ELSE '' END AS text) FROM information_schema.columns WHERE table_schema = current_schema()"};
  const TestStore store(kind);
  const auto database = store.OpenMigrated();
  const auto writer = *database->OpenWriter();
  std::set<std::string> columns;
  EXPECT_EQ(writer->Run(kind == StoreKind::kPostgres ? kPostgresql : kSqlite, {},
                        [&](const Row& row) { columns.insert(std::string(row.Bytes(0))); }),
            absl::OkStatus());
  return columns;
}

TEST(StoreSchema, BothEnginesHaveTheSameColumns) {
  const std::set<std::string> columns = ColumnsOf(StoreKind::kSqliteMemory);
  EXPECT_GE(columns.size(), 40u);
  EXPECT_EQ(columns, ColumnsOf(StoreKind::kPostgres));
}

}  // namespace
}  // namespace ferrule::store
