#include "tests/support/ledger_depot.h"

#include <unistd.h>

#include <atomic>
#include <cstdlib>
#include <filesystem>
#include <future>
#include <stdexcept>

#include "absl/strings/str_cat.h"
#include "core/store/migrate.h"
#include "core/store/open.h"
#include "tests/support/entries.h"

namespace ferrule::testing {
namespace {

// Tests cannot go on without their depot: what failed is thrown, and GoogleTest reports it.
template <typename T>
T Must(absl::StatusOr<T> value) {
  if (!value.ok()) throw std::runtime_error(value.status().ToString());
  return *std::move(value);
}

void Must(const absl::Status& status) {
  if (!status.ok()) throw std::runtime_error(status.ToString());
}

std::string PostgresForTests() {
  const char* conninfo = std::getenv("FERRULE_TEST_POSTGRES");
  if (conninfo == nullptr) {
    throw std::runtime_error(
        "FERRULE_TEST_POSTGRES is not set: run deploy/test, which starts a PostgreSQL, or "
        "tests/support/postgres.sh start DIR PORT and set it to what that prints");
  }
  return conninfo;
}

}  // namespace

LedgerDepot::LedgerDepot(const std::string& engine)
    : engine_(engine), clock_(kStartUs + 30 * kDayUs) {
  if (engine_ == "sqlite") {
    std::string pattern = (std::filesystem::temp_directory_path() / "ferrule-XXXXXX").string();
    folder_ = ::mkdtemp(pattern.data());
    path_ = folder_ + "/depot.ferrule";
  } else {
    static std::atomic<int> next = 0;
    schema_ = absl::StrCat("t", ::getpid(), "_", next++);
    auto admin = Must(Must(store::OpenPostgres(PostgresForTests()))->OpenWriter());
    Must(admin->RunScript({"t_create", absl::StrCat("CREATE SCHEMA ", schema_).c_str()}));
    conninfo_ = absl::StrCat(PostgresForTests(), " options='-c search_path=", schema_, "'");
  }
  auto database = OpenDatabase();
  Must(store::Migrate(*Must(database->OpenWriter())));
}

LedgerDepot::~LedgerDepot() {
  ledger_.reset();
  if (!folder_.empty()) {
    std::filesystem::remove_all(folder_);
    return;
  }
  auto database = store::OpenPostgres(PostgresForTests());
  if (!database.ok()) return;
  auto admin = (*database)->OpenWriter();
  if (!admin.ok()) return;
  (*admin)
      ->RunScript({"t_drop", absl::StrCat("DROP SCHEMA ", schema_, " CASCADE").c_str()})
      .IgnoreError();
}

std::unique_ptr<store::Database> LedgerDepot::OpenDatabase() {
  if (engine_ != "sqlite") return Must(store::OpenPostgres(conninfo_));
  store::SqliteOptions options;
  options.path = path_;
  options.create = true;
  return Must(store::OpenSqlite(options));
}

ledger::Ledger& LedgerDepot::ledger() {
  if (ledger_ == nullptr) ledger_ = Must(ledger::Ledger::Open(OpenDatabase(), &clock_, {}));
  return *ledger_;
}

void LedgerDepot::Reopen() {
  ledger_.reset();
  ledger();
}

void LedgerDepot::ReopenAround(
    const std::function<std::unique_ptr<store::Database>(std::unique_ptr<store::Database>)>&
        around) {
  ledger_.reset();
  ledger_ = Must(ledger::Ledger::Open(around(OpenDatabase()), &clock_, {}));
}

absl::StatusOr<v1::Receipt> LedgerDepot::Record(v1::Entry entry) {
  return ledger().RecordAndWait(std::move(entry));
}

absl::StatusOr<v1::Receipt> LedgerDepot::Check(v1::Entry entry) {
  std::promise<absl::StatusOr<v1::Receipt>> promise;
  auto future = promise.get_future();
  ledger().Record(std::move(entry), "", true, [&](absl::StatusOr<v1::Receipt> outcome) {
    promise.set_value(std::move(outcome));
  });
  return future.get();
}

std::vector<absl::StatusOr<v1::Receipt>> LedgerDepot::RecordBatch(std::vector<v1::Entry> entries) {
  std::promise<std::vector<absl::StatusOr<v1::Receipt>>> promise;
  auto future = promise.get_future();
  ledger().RecordBatch(std::move(entries), "",
                       [&](std::vector<absl::StatusOr<v1::Receipt>> outcomes) {
                         promise.set_value(std::move(outcomes));
                       });
  return future.get();
}

v1::Receipt LedgerDepot::MustRecord(v1::Entry entry) {
  const std::string id = entry.entry_id();
  absl::StatusOr<v1::Receipt> receipt = Record(std::move(entry));
  EXPECT_TRUE(receipt.ok()) << id << ": " << receipt.status();
  return receipt.ok() ? *receipt : v1::Receipt();
}

absl::Status LedgerDepot::TryReopen() {
  ledger_.reset();
  auto opened = ledger::Ledger::Open(OpenDatabase(), &clock_, {});
  if (!opened.ok()) return opened.status();
  ledger_ = *std::move(opened);
  return absl::OkStatus();
}

ledger::WholeReport LedgerDepot::MustVerify(std::span<const ledger::Anchor> anchors) {
  ledger_.reset();
  auto database = OpenDatabase();
  return Must(ledger::CheckWhole(*database, nullptr, anchors));
}

int64_t LedgerDepot::MustRebuild() {
  ledger_.reset();
  auto database = OpenDatabase();
  return Must(ledger::Rebuild(*database, nullptr));
}

void LedgerDepot::Sql(const store::Sql& sql, const std::vector<store::Value>& parameters,
                      const std::function<void(const store::Row&)>& on_row) {
  ledger_.reset();
  auto database = OpenDatabase();
  auto writer = Must(database->OpenWriter());
  Must(writer->Run(sql, parameters, [&](const store::Row& row) {
    if (on_row) on_row(row);
  }));
}

}  // namespace ferrule::testing
