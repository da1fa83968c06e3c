// Stores for tests of any room: a depot in memory, one in a file of its own, and a PostgreSQL
// schema of its own, each empty until migrated. Tests run side by side without meeting.
//
//   class MyTest : public testing::TestWithParam<StoreKind> {
//     TestStore store_{GetParam()};
//   };
//   INSTANTIATE_TEST_SUITE_P(Engines, MyTest, testing::ValuesIn(kLastingStores), StoreKindName);
//
// PostgreSQL is where FERRULE_TEST_POSTGRES says (a libpq connection string; see postgres.sh).
// When it says nothing, every test on PostgreSQL fails: none is passed over.
#pragma once

#include <filesystem>
#include <memory>
#include <string>

#include "core/store/connection.h"
#include "gtest/gtest.h"

namespace ferrule::testing {

enum class StoreKind { kSqliteMemory, kSqliteFile, kPostgres };

inline constexpr StoreKind kAllStores[] = {StoreKind::kSqliteMemory, StoreKind::kSqliteFile,
                                           StoreKind::kPostgres};
// Those with reading connections, which outlive their last connection.
inline constexpr StoreKind kLastingStores[] = {StoreKind::kSqliteFile, StoreKind::kPostgres};

// The name of a parameterised test's instance.
std::string StoreKindName(const ::testing::TestParamInfo<StoreKind>& info);

// A folder of its own, removed with all that is in it.
class TempFolder {
 public:
  TempFolder();
  ~TempFolder();
  TempFolder(const TempFolder&) = delete;
  TempFolder& operator=(const TempFolder&) = delete;
  std::string File(const std::string& name) const { return (path_ / name).string(); }

 private:
  std::filesystem::path path_;
};

// One store, gone when destroyed. What cannot be made is thrown, and fails the test with its words.
class TestStore {
 public:
  explicit TestStore(StoreKind kind);
  ~TestStore();
  TestStore(const TestStore&) = delete;
  TestStore& operator=(const TestStore&) = delete;

  StoreKind kind() const { return kind_; }
  // Opens it, anew at every call; a file only while no other Database has it. In memory each is
  // another one.
  std::unique_ptr<store::Database> Open() const;
  // The same, migrated to the program's schema.
  std::unique_ptr<store::Database> OpenMigrated() const;

  // Of a file.
  const std::string& path() const { return path_; }
  // Of PostgreSQL: a connection string that leads to its schema.
  const std::string& conninfo() const { return conninfo_; }

 private:
  const StoreKind kind_;
  TempFolder folder_;
  std::string path_;
  std::string schema_;
  std::string conninfo_;
};

}  // namespace ferrule::testing
