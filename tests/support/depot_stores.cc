#include "tests/support/depot_stores.h"

#include <stdlib.h>
#include <unistd.h>

#include <atomic>
#include <cstdlib>
#include <stdexcept>
#include <utility>

#include "absl/strings/str_cat.h"
#include "core/store/migrate.h"
#include "core/store/open.h"

namespace ferrule::testing {
namespace {

template <typename T>
T Must(absl::StatusOr<T> value) {
  if (!value.ok()) throw std::runtime_error(value.status().ToString());
  return *std::move(value);
}

void Must(const absl::Status& status) {
  if (!status.ok()) throw std::runtime_error(status.ToString());
}

std::string ConninfoForTests() {
  const char* conninfo = std::getenv("FERRULE_TEST_POSTGRES");
  if (conninfo == nullptr || *conninfo == '\0') {
    throw std::runtime_error(
        "FERRULE_TEST_POSTGRES is not set. Run: tests/support/postgres.sh start DIR PORT, and set "
        "it to the connection string that this prints");
  }
  return conninfo;
}

void RunAsAdministrator(const std::string& text) {
  const auto writer = Must(Must(store::OpenPostgres(ConninfoForTests()))->OpenWriter());
  Must(writer->RunScript({"test_schema", text.c_str()}));
}

}  // namespace

std::string StoreKindName(const ::testing::TestParamInfo<StoreKind>& info) {
  switch (info.param) {
    case StoreKind::kSqliteMemory:
      return "SqliteMemory";
    case StoreKind::kSqliteFile:
      return "SqliteFile";
    case StoreKind::kPostgres:
      break;
  }
  return "Postgres";
}

TempFolder::TempFolder() {
  std::string pattern = (std::filesystem::temp_directory_path() / "ferrule-test-XXXXXX").string();
  if (mkdtemp(pattern.data()) == nullptr) throw std::runtime_error("no temporary folder");
  path_ = pattern;
}

TempFolder::~TempFolder() {
  std::error_code ignored;
  std::filesystem::remove_all(path_, ignored);
}

TestStore::TestStore(StoreKind kind) : kind_(kind), path_(folder_.File("depot.ferrule")) {
  if (kind_ != StoreKind::kPostgres) return;
  static std::atomic<int> next = 1;
  schema_ = absl::StrCat("test_", getpid(), "_", next++);
  RunAsAdministrator(absl::StrCat("CREATE SCHEMA ", schema_));
  conninfo_ = absl::StrCat(ConninfoForTests(), " options='-c search_path=", schema_, "'");
}

TestStore::~TestStore() {
  if (schema_.empty()) return;
  try {
    RunAsAdministrator(absl::StrCat("DROP SCHEMA ", schema_, " CASCADE"));
  } catch (const std::runtime_error& e) {
    ADD_FAILURE() << "the test's schema stays behind: " << e.what();
  }
}

std::unique_ptr<store::Database> TestStore::Open() const {
  switch (kind_) {
    case StoreKind::kSqliteMemory:
      return Must(store::OpenSqliteInMemory());
    case StoreKind::kSqliteFile:
      return Must(store::OpenSqlite({.path = path_, .create = true}));
    case StoreKind::kPostgres:
      break;
  }
  return Must(store::OpenPostgres(conninfo_));
}

std::unique_ptr<store::Database> TestStore::OpenMigrated() const {
  auto database = Open();
  Must(store::Migrate(*Must(database->OpenWriter())));
  return database;
}

}  // namespace ferrule::testing
