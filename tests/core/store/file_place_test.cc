#include "core/store/file_place.h"

#include <gtest/gtest.h>

#include <filesystem>
#include <fstream>

#include "core/store/migrate.h"
#include "core/store/open.h"
#include "tests/support/depot_stores.h"

namespace ferrule::store {
namespace {

using testing::StoreKind;
using testing::TempFolder;
using testing::TestStore;

void Write(const std::string& path) { std::ofstream(path) << "something"; }

TEST(FilePlace, AFileThatIsGoneReplacedOrBackIsTold) {
  const TempFolder folder;
  const std::string path = folder.File("file");
  FilePlace place(path);
  place.Note();
  EXPECT_FALSE(place.Moved());  // nothing is known yet
  Write(path);
  EXPECT_FALSE(place.Moved());
  place.Note();
  EXPECT_FALSE(place.Moved());
  std::filesystem::rename(path, folder.File("away"));
  EXPECT_TRUE(place.Moved());
  Write(path);
  EXPECT_TRUE(place.Moved());
  place.Note();  // the first one was the right one
  EXPECT_TRUE(place.Moved());
  std::filesystem::rename(folder.File("away"), path);
  EXPECT_FALSE(place.Moved());
}

TEST(FilePlace, ADepotThatWasMovedTakesNoMoreUntilItIsBack) {
  const TestStore store(StoreKind::kSqliteFile);
  const auto database = store.OpenMigrated();
  const auto writer = *database->OpenWriter();
  for (const std::string& path : {store.path(), store.path() + "-wal"}) {
    ASSERT_EQ(writer->Begin(TransactionKind::kWrite), absl::OkStatus());
    ASSERT_EQ(writer->RunScript({"change", "UPDATE ledger_head SET label = 'a'"}),
              absl::OkStatus());
    ASSERT_EQ(writer->Commit(), absl::OkStatus());
    std::filesystem::rename(path, path + ".away");
    EXPECT_EQ(writer->Begin(TransactionKind::kWrite).code(), absl::StatusCode::kUnavailable);
    EXPECT_FALSE(writer->in_transaction());
    ASSERT_EQ(writer->Begin(TransactionKind::kRead), absl::OkStatus());
    ASSERT_EQ(writer->Rollback(), absl::OkStatus());
    std::filesystem::rename(path + ".away", path);
  }
  EXPECT_EQ(writer->Begin(TransactionKind::kWrite), absl::OkStatus());
  EXPECT_EQ(writer->Rollback(), absl::OkStatus());
}

}  // namespace
}  // namespace ferrule::store
