// A depot with one more table that has a column of each type, for the contract suites.
#pragma once

#include <cstdint>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "core/store/connection.h"
#include "gmock/gmock.h"
#include "gtest/gtest.h"
#include "tests/support/depot_stores.h"

namespace ferrule::store {

inline constexpr Sql kAddThing{
    "add_thing", "INSERT INTO things (id, number, words, bytes) VALUES ($1, $2, $3, $4)"};
inline constexpr Sql kAllThings{"all_things",
                                "SELECT id, number, words, bytes FROM things ORDER BY id"};
inline constexpr Sql kCountThings{"count_things", "SELECT count(*) FROM things"};

struct Thing {
  int64_t id = 0;
  std::optional<int64_t> number = std::nullopt;
  std::optional<std::string> words = std::nullopt;
  std::optional<std::string> bytes = std::nullopt;
  bool operator==(const Thing&) const = default;
};

class ThingsTest : public ::testing::TestWithParam<testing::StoreKind> {
 protected:
  void SetUp() override {
    database_ = store_.OpenMigrated();
    auto writer = database_->OpenWriter();
    ASSERT_TRUE(writer.ok()) << writer.status();
    writer_ = *std::move(writer);
    const bool sqlite = writer_->engine() == "sqlite";
    ASSERT_EQ(writer_->RunScript({"things", sqlite ? kSqlite : kPostgresql}), absl::OkStatus());
  }

  absl::Status Add(const Thing& thing) {
    const std::vector<Value> row = ValuesOf(thing);
    return writer_->Run(kAddThing, row);
  }

  static std::vector<Value> ValuesOf(const Thing& thing) {
    return {Value::Int(thing.id), thing.number ? Value::Int(*thing.number) : Value::Null(),
            thing.words ? Value::Text(*thing.words) : Value::Null(),
            thing.bytes ? Value::Blob(*thing.bytes) : Value::Null()};
  }

  static std::vector<Thing> ThingsOf(Connection& connection) {
    std::vector<Thing> things;
    EXPECT_EQ(connection.Run(kAllThings, {},
                             [&](const Row& row) {
                               Thing thing{.id = row.Int(0)};
                               if (!row.IsNull(1)) thing.number = row.Int(1);
                               if (!row.IsNull(2)) thing.words = std::string(row.Bytes(2));
                               if (!row.IsNull(3)) thing.bytes = std::string(row.Bytes(3));
                               things.push_back(thing);
                             }),
              absl::OkStatus());
    return things;
  }

  static int64_t Count(Connection& connection) {
    int64_t count = -1;
    EXPECT_EQ(connection.Run(kCountThings, {}, [&](const Row& row) { count = row.Int(0); }),
              absl::OkStatus());
    return count;
  }

  std::unique_ptr<Connection> OpenReader() {
    auto reader = database_->OpenReader();
    EXPECT_TRUE(reader.ok()) << reader.status();
    return reader.ok() ? *std::move(reader) : nullptr;
  }

  static constexpr char kSqlite[] =
      "CREATE TABLE things (id INTEGER PRIMARY KEY, number INTEGER, words TEXT UNIQUE, bytes BLOB) "
      "STRICT";
  static constexpr char kPostgresql[] =
      "CREATE TABLE things (id BIGINT PRIMARY KEY, number BIGINT, words TEXT COLLATE \"C\" UNIQUE, "
      "bytes BYTEA)";

  testing::TestStore store_{GetParam()};
  std::unique_ptr<Database> database_;
  std::unique_ptr<Connection> writer_;
};

}  // namespace ferrule::store
