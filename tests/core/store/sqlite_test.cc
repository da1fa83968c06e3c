// The embedded engine: files that are depots, files that are not, and the write-ahead log.
#include <sqlite3.h>

#include <chrono>
#include <filesystem>
#include <fstream>
#include <functional>
#include <sstream>
#include <string>

#include "core/store/migrate.h"
#include "core/store/open.h"
#include "gmock/gmock.h"
#include "gtest/gtest.h"
#include "tests/support/depot_stores.h"

namespace ferrule::store {
namespace {

using ::testing::HasSubstr;
using testing::StoreKind;
using testing::TempFolder;
using testing::TestStore;

std::string BytesOf(const std::string& path) {
  std::ifstream in(path, std::ios::binary);
  std::stringstream all;
  all << in.rdbuf();
  return all.str();
}

void WriteFile(const std::string& path, const std::string& bytes) {
  std::ofstream(path, std::ios::binary) << bytes;
}

// A database that some other program made.
void MakeForeignDatabase(const std::string& path) {
  sqlite3* raw = nullptr;
  ASSERT_EQ(sqlite3_open(path.c_str(), &raw), SQLITE_OK);
  const std::unique_ptr<sqlite3, decltype(&sqlite3_close)> database(raw, &sqlite3_close);
  ASSERT_EQ(sqlite3_exec(raw, "PRAGMA application_id = 77; CREATE TABLE theirs (x)", nullptr,
                         nullptr, nullptr),
            SQLITE_OK);
}

int64_t Pragma(Connection& connection, const Sql& sql) {
  int64_t value = -1;
  EXPECT_EQ(connection.Run(sql, {}, [&](const Row& row) { value = row.Int(0); }), absl::OkStatus());
  return value;
}

TEST(StoreSqlite, AMissingFileIsNotFoundAndNotMade) {
  const TempFolder folder;
  const auto database = OpenSqlite({.path = folder.File("none.ferrule")});
  EXPECT_EQ(database.status().code(), absl::StatusCode::kNotFound);
  EXPECT_FALSE(std::filesystem::exists(folder.File("none.ferrule")));
  EXPECT_FALSE(std::filesystem::exists(folder.File("none.ferrule.lock")));
}

TEST(StoreSqlite, AMissingFolderIsNotFound) {
  const TempFolder folder;
  EXPECT_EQ(OpenSqlite({.path = folder.File("none/x.ferrule"), .create = true}).status().code(),
            absl::StatusCode::kNotFound);
}

TEST(StoreSqlite, AnEmptyPathIsNotFound) {
  EXPECT_EQ(OpenSqlite({.path = "", .create = true}).status().code(), absl::StatusCode::kNotFound);
}

TEST(StoreSqlite, AFileOfAnotherKindIsRefusedAndLeftAsItIs) {
  const TempFolder folder;
  const std::string foreign = folder.File("foreign.db");
  MakeForeignDatabase(foreign);
  const std::string text = folder.File("notes.txt");
  WriteFile(text, "Call the patient about the pick-up.\n");
  const std::string brief = folder.File("brief.txt");
  WriteFile(brief, "x");
  for (const std::string& path : {foreign, text, brief}) {
    const std::string before = BytesOf(path);
    for (bool create : {false, true}) {
      const auto database = OpenSqlite({.path = path, .create = create});
      EXPECT_EQ(database.status().code(), absl::StatusCode::kFailedPrecondition) << path;
      EXPECT_THAT(std::string(database.status().message()), HasSubstr("not a depot"));
    }
    EXPECT_EQ(BytesOf(path), before);
    EXPECT_FALSE(std::filesystem::exists(path + "-wal"));
    EXPECT_FALSE(std::filesystem::exists(path + ".lock"));
  }
}

TEST(StoreSqlite, AFolderIsRefused) {
  const TempFolder folder;
  std::filesystem::create_directory(folder.File("dir"));
  EXPECT_EQ(OpenSqlite({.path = folder.File("dir"), .create = true}).status().code(),
            absl::StatusCode::kFailedPrecondition);
}

TEST(StoreSqlite, AnEmptyFileIsADepotOnlyWhenOneMayBeMade) {
  const TempFolder folder;
  WriteFile(folder.File("empty"), "");
  EXPECT_EQ(OpenSqlite({.path = folder.File("empty")}).status().code(),
            absl::StatusCode::kFailedPrecondition);
  EXPECT_EQ(BytesOf(folder.File("empty")), "");
  EXPECT_TRUE(OpenSqlite({.path = folder.File("empty"), .create = true}).ok());
  EXPECT_TRUE(OpenSqlite({.path = folder.File("empty")}).ok());
}

TEST(StoreSqlite, AHeaderCutOffIsDataLoss) {
  const TempFolder folder;
  const std::string path = folder.File("depot.ferrule");
  ASSERT_TRUE(OpenSqlite({.path = path, .create = true}).ok());
  std::filesystem::resize_file(path, 50);
  EXPECT_EQ(OpenSqlite({.path = path}).status().code(), absl::StatusCode::kDataLoss);
}

TEST(StoreSqlite, ANewerDepotIsRefusedAndLeftAsItIs) {
  const TestStore store(StoreKind::kSqliteFile);
  {
    const auto database = store.OpenMigrated();
    const auto writer = *database->OpenWriter();
    ASSERT_EQ(writer->RunScript({"newer", "INSERT INTO schema_migrations VALUES (99, 0, 'later')"}),
              absl::OkStatus());
  }
  const std::string before = BytesOf(store.path());
  {
    const auto database = store.Open();
    const auto writer = *database->OpenWriter();
    EXPECT_EQ(CheckSchema(*writer).code(), absl::StatusCode::kFailedPrecondition);
    EXPECT_EQ(Migrate(*writer).code(), absl::StatusCode::kFailedPrecondition);
  }
  EXPECT_EQ(BytesOf(store.path()), before);
}

TEST(StoreSqlite, OneWritingConnectionAtATime) {
  const TestStore store(StoreKind::kSqliteFile);
  const auto database = store.OpenMigrated();
  auto writer = database->OpenWriter();
  ASSERT_TRUE(writer.ok()) << writer.status();
  EXPECT_EQ(database->OpenWriter().status().code(), absl::StatusCode::kFailedPrecondition);
  writer->reset();
  EXPECT_TRUE(database->OpenWriter().ok());
}

TEST(StoreSqlite, InMemoryThereIsNoReader) {
  const auto database = *OpenSqliteInMemory();
  EXPECT_EQ(database->OpenReader().status().code(), absl::StatusCode::kUnimplemented);
}

TEST(StoreSqlite, InMemoryContentsOutliveTheConnectionAndAreNotShared) {
  const auto first = *OpenSqliteInMemory();
  const auto second = *OpenSqliteInMemory();
  ASSERT_EQ(Migrate(**first->OpenWriter()), absl::OkStatus());
  EXPECT_EQ(CheckSchema(**first->OpenWriter()), absl::OkStatus());
  EXPECT_EQ(*SchemaVersion(**second->OpenWriter()), 0);
}

// With synchronous NORMAL a power cut would lose commits that were answered for; an automatic
// checkpoint's error would be seen by nobody.
TEST(StoreSqlite, CommitsAreDurableAndCheckpointsOurOwn) {
  const TestStore store(StoreKind::kSqliteFile);
  const auto database = store.OpenMigrated();
  const auto writer = *database->OpenWriter();
  const auto reader = *database->OpenReader();
  for (Connection* connection : {writer.get(), reader.get()}) {
    EXPECT_EQ(Pragma(*connection, {"p_sync", "PRAGMA synchronous"}), 2);
    EXPECT_EQ(Pragma(*connection, {"p_auto", "PRAGMA wal_autocheckpoint"}), 0);
    EXPECT_EQ(Pragma(*connection, {"p_keys", "PRAGMA foreign_keys"}), 1);
    EXPECT_EQ(Pragma(*connection, {"p_mode",
                                   "SELECT journal_mode = 'wal' FROM "
                                   "pragma_journal_mode"}),
              1);
  }
}

constexpr Sql kPutLabel{"test_put_label", "UPDATE ledger_head SET label = $1"};
constexpr Sql kLabel{"test_label", "SELECT label FROM ledger_head"};

absl::Status PutLabel(Connection& writer, const std::string& label) {
  const std::array values = {Value::Text(label)};
  return writer.Run(kPutLabel, values);
}

std::string Label(Connection& connection) {
  std::string label;
  EXPECT_EQ(connection.Run(kLabel, {}, [&](const Row& row) { label = row.Bytes(0); }),
            absl::OkStatus());
  return label;
}

TEST(StoreSqlite, OnlyTheWriterMovesTheLogIntoTheFile) {
  const TestStore store(StoreKind::kSqliteFile);
  const auto database = store.OpenMigrated();
  const auto writer = *database->OpenWriter();
  const std::string before = BytesOf(store.path());
  ASSERT_EQ(PutLabel(*writer, "moved"), absl::OkStatus());
  {
    const auto reader = *database->OpenReader();
    EXPECT_EQ(Label(*reader), "moved");
  }
  EXPECT_EQ(BytesOf(store.path()), before);
  ASSERT_EQ(database->Checkpoint(*writer, 1'000), absl::OkStatus());
  EXPECT_EQ(BytesOf(store.path()), before);
  ASSERT_EQ(database->Checkpoint(*writer, 0), absl::OkStatus());
  EXPECT_NE(BytesOf(store.path()), before);
}

TEST(StoreSqlite, AReaderThatClosesLastDoesNotMoveIt) {
  const TestStore store(StoreKind::kSqliteFile);
  const auto database = store.OpenMigrated();
  auto writer = *database->OpenWriter();
  auto reader = *database->OpenReader();
  ASSERT_EQ(PutLabel(*writer, "kept"), absl::OkStatus());
  ASSERT_EQ(Label(*reader), "kept");
  const std::string before = BytesOf(store.path());
  writer.reset();
  reader.reset();
  EXPECT_EQ(BytesOf(store.path()), before);
  EXPECT_EQ(Label(**database->OpenReader()), "kept");
}

TEST(StoreSqlite, NoCheckpointInsideATransaction) {
  const TestStore store(StoreKind::kSqliteFile);
  const auto database = store.OpenMigrated();
  const auto writer = *database->OpenWriter();
  ASSERT_EQ(writer->Begin(TransactionKind::kWrite), absl::OkStatus());
  EXPECT_EQ(database->Checkpoint(*writer, 0).code(), absl::StatusCode::kFailedPrecondition);
}

// Checkpoints keep the log short although readers come and go.
TEST(StoreSqlite, TheLogStaysShort) {
  const TestStore store(StoreKind::kSqliteFile);
  const auto database = store.OpenMigrated();
  const auto writer = *database->OpenWriter();
  const auto reader = *database->OpenReader();
  for (int i = 0; i < 300; ++i) {
    ASSERT_EQ(PutLabel(*writer, std::to_string(i)), absl::OkStatus());
    EXPECT_EQ(Label(*reader), std::to_string(i));
    ASSERT_EQ(database->Checkpoint(*writer, 20), absl::OkStatus());
  }
  EXPECT_LT(std::filesystem::file_size(store.path() + "-wal"), 60u * 4'200);
}

// Whatever is closed last, the depot is one file afterwards, so that a copy of it is whole.
TEST(StoreSqlite, ClosedItIsOneFile) {
  for (bool reader_last : {false, true}) {
    const TestStore store(StoreKind::kSqliteFile);
    {
      const auto database = store.OpenMigrated();
      auto writer = *database->OpenWriter();
      auto reader = *database->OpenReader();
      ASSERT_EQ(PutLabel(*writer, "kept"), absl::OkStatus());
      ASSERT_EQ(Label(*reader), "kept");
      (reader_last ? writer : reader).reset();
    }
    for (const char* suffix : {"-wal", "-shm", ".lock", "-journal"}) {
      EXPECT_FALSE(std::filesystem::exists(store.path() + suffix)) << suffix;
    }
    const std::string copy = store.path() + ".copy";
    std::filesystem::copy_file(store.path(), copy);
    const auto database = *OpenSqlite({.path = copy});
    EXPECT_EQ(Label(**database->OpenReader()), "kept");
  }
}

// What the statements of the lists are promised: an index, not a walk through all states.
TEST(StoreSqlite, TheIndexesServeTheLists) {
  const TestStore store(StoreKind::kSqliteMemory);
  const auto database = store.OpenMigrated();
  const auto writer = *database->OpenWriter();
  const auto plan = [&](const Sql& sql) {
    std::string text;
    EXPECT_EQ(writer->Run(sql, {}, [&](const Row& row) { text += row.Bytes(3); }),
              absl::OkStatus());
    return text;
  };
  EXPECT_THAT(plan({"plan_due",
                    "EXPLAIN QUERY PLAN SELECT branch, name, partner, device_class, due_day, "
                    "due_basis, failed_pickups FROM states WHERE due_day IS NOT NULL AND "
                    "due_day <= 20000"}),
              HasSubstr("COVERING INDEX states_due (due_day>? AND due_day<?)"));
  EXPECT_THAT(plan({"plan_serial",
                    "EXPLAIN QUERY PLAN SELECT name FROM states WHERE serial = 'x' AND "
                    "serial <> ''"}),
              HasSubstr("INDEX states_serial (serial=?)"));
  EXPECT_THAT(plan({"plan_place",
                    "EXPLAIN QUERY PLAN SELECT name FROM states WHERE kind = 1 AND place = 'x' "
                    "ORDER BY name"}),
              ::testing::AllOf(HasSubstr("INDEX states_place (place=?)"),
                               ::testing::Not(HasSubstr("TEMP B-TREE"))));
  EXPECT_THAT(plan({"plan_page",
                    "EXPLAIN QUERY PLAN SELECT name FROM states WHERE kind = 4 AND name > 'x' "
                    "ORDER BY name LIMIT 50"}),
              HasSubstr("states_kind_name (kind=? AND name>?)"));
  EXPECT_THAT(plan({"plan_questions",
                    "EXPLAIN QUERY PLAN SELECT name, state FROM states WHERE questions > 0 AND "
                    "name > 'x' ORDER BY name LIMIT 50"}),
              HasSubstr("INDEX states_questions (name>?)"));
}

}  // namespace
}  // namespace ferrule::store
