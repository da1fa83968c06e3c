// What every engine must do alike: statements, values, order, errors.
#include "core/store/connection.h"

#include <algorithm>
#include <array>
#include <atomic>
#include <chrono>
#include <limits>
#include <thread>

#include "tests/core/store/things.h"

namespace ferrule::store {
namespace {

using testing::kAllStores;
using testing::StoreKindName;

class StoreConnection : public ThingsTest {};
INSTANTIATE_TEST_SUITE_P(Engines, StoreConnection, ::testing::ValuesIn(kAllStores), StoreKindName);

TEST_P(StoreConnection, IntegersKeepAll64Bits) {
  std::vector<Thing> things;
  for (int64_t number : {std::numeric_limits<int64_t>::min(), int64_t{-1}, int64_t{0}, int64_t{1},
                         int64_t{1} << 32, std::numeric_limits<int64_t>::max()}) {
    things.push_back({.id = int64_t(things.size()) + 1, .number = number});
    ASSERT_EQ(Add(things.back()), absl::OkStatus());
  }
  EXPECT_EQ(ThingsOf(*writer_), things);
}

TEST_P(StoreConnection, BlobsKeepEveryByte) {
  std::string all;
  for (int byte = 0; byte < 256; ++byte) all.push_back(char(byte));
  const Thing small{.id = 1, .bytes = all};
  const Thing large{.id = 2, .bytes = std::string(1 << 20, '\0') + all};
  ASSERT_EQ(Add(small), absl::OkStatus());
  ASSERT_EQ(Add(large), absl::OkStatus());
  EXPECT_EQ(ThingsOf(*writer_), (std::vector<Thing>{small, large}));
}

TEST_P(StoreConnection, TextKeepsQuotesAndEveryScript) {
  const Thing thing{.id = 1, .words = "it's \"so\" \\ ; -- $1 ?\n é 日本 \xF0\x9D\x84\x9E"};
  ASSERT_EQ(Add(thing), absl::OkStatus());
  EXPECT_EQ(ThingsOf(*writer_), std::vector<Thing>{thing});
}

TEST_P(StoreConnection, EmptyIsNotNull) {
  const std::vector<Thing> things = {{.id = 1}, {.id = 2, .number = 0, .words = "", .bytes = ""}};
  for (const Thing& thing : things) ASSERT_EQ(Add(thing), absl::OkStatus());
  EXPECT_EQ(ThingsOf(*writer_), things);
}

TEST_P(StoreConnection, EmptyViewWithoutAddressIsNotNull) {
  const std::array row = {Value::Int(1), Value::Null(), Value::Text({}), Value::Blob({})};
  ASSERT_EQ(writer_->Run(kAddThing, row), absl::OkStatus());
  EXPECT_EQ(ThingsOf(*writer_), (std::vector<Thing>{{.id = 1, .words = "", .bytes = ""}}));
}

TEST_P(StoreConnection, NullFirstThenValuesInTheSameStatement) {
  const std::vector<Thing> things = {
      {.id = 1}, {.id = 2, .number = 7, .words = "w", .bytes = "b"}, {.id = 3, .words = "x"}};
  for (const Thing& thing : things) ASSERT_EQ(Add(thing), absl::OkStatus());
  EXPECT_EQ(ThingsOf(*writer_), things);
}

TEST_P(StoreConnection, NullReadsAsZeroAndEmpty) {
  ASSERT_EQ(Add({.id = 1}), absl::OkStatus());
  int rows = 0;
  ASSERT_EQ(writer_->Run(kAllThings, {},
                         [&](const Row& row) {
                           ++rows;
                           EXPECT_EQ(row.Int(1), 0);
                           EXPECT_EQ(row.Bytes(2), "");
                         }),
            absl::OkStatus());
  EXPECT_EQ(rows, 1);
}

TEST_P(StoreConnection, TextWithNulIsRefused) {
  using namespace std::string_literals;
  EXPECT_EQ(Add({.id = 1, .words = "a\0b"s}).code(), absl::StatusCode::kInvalidArgument);
  EXPECT_EQ(Count(*writer_), 0);
}

// SQLite numbers parameters by first appearance, PostgreSQL by their digits.
TEST_P(StoreConnection, ParametersAreBoundByName) {
  static constexpr Sql kBackwards{"backwards",
                                  "SELECT id FROM things WHERE number >= $2 AND id = $1"};
  ASSERT_EQ(Add({.id = 1, .number = 10}), absl::OkStatus());
  const std::array values = {Value::Int(1), Value::Int(5)};
  std::vector<int64_t> ids;
  ASSERT_EQ(writer_->Run(kBackwards, values, [&](const Row& row) { ids.push_back(row.Int(0)); }),
            absl::OkStatus());
  EXPECT_EQ(ids, std::vector<int64_t>{1});
}

TEST_P(StoreConnection, OneParameterMayAppearTwice) {
  static constexpr Sql kTwice{"twice", "SELECT id FROM things WHERE number = $1 OR id = $1"};
  ASSERT_EQ(Add({.id = 1, .number = 2}), absl::OkStatus());
  ASSERT_EQ(Add({.id = 2, .number = 9}), absl::OkStatus());
  const std::array values = {Value::Int(2)};
  int rows = 0;
  ASSERT_EQ(writer_->Run(kTwice, values, [&](const Row&) { ++rows; }), absl::OkStatus());
  EXPECT_EQ(rows, 2);
}

TEST_P(StoreConnection, WrongNumberOfParametersIsInternal) {
  const std::array values = {Value::Int(1)};
  EXPECT_EQ(writer_->Run(kAddThing, values).code(), absl::StatusCode::kInternal);
}

TEST_P(StoreConnection, SyntaxErrorIsInternalAndNamesTheStatement) {
  static constexpr Sql kWrong{"wrong_statement", "SELEKT 1"};
  const absl::Status status = writer_->Run(kWrong, {});
  EXPECT_EQ(status.code(), absl::StatusCode::kInternal);
  EXPECT_THAT(std::string(status.message()), ::testing::HasSubstr("wrong_statement"));
}

TEST_P(StoreConnection, SumOfIntegersIsAnInteger) {
  static constexpr Sql kSum{"sum", "SELECT sum(number), max(number), count(*) FROM things"};
  for (int64_t number : {int64_t{4'000'000'000'000}, int64_t{-30'000}, int64_t{-7}}) {
    ASSERT_EQ(Add({.id = number + 100'000, .number = number}), absl::OkStatus());
  }
  ASSERT_EQ(writer_->Run(kSum, {},
                         [](const Row& row) {
                           EXPECT_EQ(row.Int(0), 3'999'999'969'993);
                           EXPECT_EQ(row.Int(1), 4'000'000'000'000);
                           EXPECT_EQ(row.Int(2), 3);
                         }),
            absl::OkStatus());
}

TEST_P(StoreConnection, NegativeSumIsAnInteger) {
  static constexpr Sql kSum{"sum", "SELECT sum(number) FROM things"};
  ASSERT_EQ(Add({.id = 1, .number = -120'000'000}), absl::OkStatus());
  ASSERT_EQ(Add({.id = 2, .number = -50'000}), absl::OkStatus());
  ASSERT_EQ(writer_->Run(kSum, {}, [](const Row& row) { EXPECT_EQ(row.Int(0), -120'050'000); }),
            absl::OkStatus());
}

TEST_P(StoreConnection, TextSortsByItsBytes) {
  std::vector<std::string> words = {"z",
                                    "Z",
                                    "a",
                                    "B",
                                    "é",
                                    "e",
                                    "ä",
                                    "日本",
                                    "a b",
                                    "a-b",
                                    "a_b",
                                    "units/K-9",
                                    "units/K-10",
                                    "\xF0\x9D\x84\x9E",
                                    "\xEF\xBF\xBD",
                                    "",
                                    "~"};
  for (size_t i = 0; i < words.size(); ++i) {
    ASSERT_EQ(Add({.id = int64_t(i), .words = words[i]}), absl::OkStatus());
  }
  std::sort(words.begin(), words.end());
  for (const Sql& sql : {Sql{"by_words", "SELECT words FROM things ORDER BY words"},
                         Sql{"by_words_c", "SELECT words FROM things ORDER BY words COLLATE \"C\""},
                         Sql{"by_words_from",
                             "SELECT words FROM things WHERE words >= '' "
                             "ORDER BY words LIMIT 100"}}) {
    std::vector<std::string> found;
    ASSERT_EQ(
        writer_->Run(sql, {}, [&](const Row& row) { found.push_back(std::string(row.Bytes(0))); }),
        absl::OkStatus());
    EXPECT_EQ(found, words) << sql.name;
  }
}

TEST_P(StoreConnection, UniqueViolationIsAlreadyExists) {
  ASSERT_EQ(Add({.id = 1, .words = "one"}), absl::OkStatus());
  EXPECT_EQ(Add({.id = 1, .words = "two"}).code(), absl::StatusCode::kAlreadyExists);
  EXPECT_EQ(Add({.id = 2, .words = "one"}).code(), absl::StatusCode::kAlreadyExists);
  EXPECT_EQ(ThingsOf(*writer_), (std::vector<Thing>{{.id = 1, .words = "one"}}));
}

TEST_P(StoreConnection, ABrokenCheckIsInternal) {
  static constexpr Sql kSecondHead{
      "second_head",
      "INSERT INTO ledger_head (id, sequence, recorded_us, digest, next_subject_id, epoch, label) "
      "SELECT 2, 0, 0, digest, 1, '', '' FROM ledger_head"};
  EXPECT_EQ(writer_->Run(kSecondHead, {}).code(), absl::StatusCode::kInternal);
}

TEST_P(StoreConnection, TextDoesNotLandInAnIntegerColumn) {
  const std::array row = {Value::Int(1), Value::Text("many"), Value::Null(), Value::Null()};
  EXPECT_FALSE(writer_->Run(kAddThing, row).ok());
  EXPECT_EQ(Count(*writer_), 0);
}

TEST_P(StoreConnection, RunManyRunsEachRow) {
  constexpr int kRows = 10'000;
  std::vector<Value> rows;
  for (int64_t id = 1; id <= kRows; ++id) {
    for (const Value& value : ValuesOf({.id = id, .number = id * id})) rows.push_back(value);
  }
  ASSERT_EQ(writer_->Begin(TransactionKind::kWrite), absl::OkStatus());
  ASSERT_EQ(writer_->RunMany(kAddThing, 4, rows), absl::OkStatus());
  ASSERT_EQ(writer_->Commit(), absl::OkStatus());
  const std::vector<Thing> things = ThingsOf(*writer_);
  ASSERT_EQ(things.size(), size_t{kRows});
  EXPECT_EQ(things.back(), (Thing{.id = kRows, .number = int64_t{kRows} * kRows}));
}

TEST_P(StoreConnection, RunManyTellsWhichRowAResultBelongsTo) {
  static constexpr Sql kUpTo{"up_to", "SELECT id FROM things WHERE id <= $1 ORDER BY id"};
  for (int64_t id : {1, 2, 3}) ASSERT_EQ(Add({.id = id}), absl::OkStatus());
  ASSERT_EQ(writer_->Begin(TransactionKind::kRead), absl::OkStatus());
  const std::array rows = {Value::Int(2), Value::Int(0), Value::Int(3)};
  std::vector<std::pair<size_t, int64_t>> found;
  ASSERT_EQ(writer_->RunMany(
                kUpTo, 1, rows,
                [&](size_t which, const Row& row) { found.emplace_back(which, row.Int(0)); }),
            absl::OkStatus());
  EXPECT_EQ(found,
            (std::vector<std::pair<size_t, int64_t>>{{0, 1}, {0, 2}, {2, 1}, {2, 2}, {2, 3}}));
  EXPECT_EQ(writer_->Commit(), absl::OkStatus());
}

TEST_P(StoreConnection, RunManyOfManyRowsKeepsTheirNumbers) {
  static constexpr Sql kSame{"same", "SELECT $1 + count(*) FROM ledger_head"};
  std::vector<Value> rows;
  for (int64_t i = 0; i < 9'000; ++i) rows.push_back(Value::Int(i));
  ASSERT_EQ(writer_->Begin(TransactionKind::kRead), absl::OkStatus());
  size_t next = 0;
  ASSERT_EQ(writer_->RunMany(kSame, 1, rows,
                             [&](size_t which, const Row& row) {
                               EXPECT_EQ(which, next++);
                               EXPECT_EQ(row.Int(0), int64_t(which) + 1);
                             }),
            absl::OkStatus());
  EXPECT_EQ(next, rows.size());
}

// More goes each way than the buffers between two processes hold, so neither side may wait for
// the other to read first.
TEST_P(StoreConnection, RunManyWithResultsLargerThanItsParameters) {
  static constexpr Sql kTwenty{"twenty",
                               "SELECT $1 || $1 || $1 || $1 || $1 || $1 || $1 || $1 || $1 || $1 || "
                               "$1 || $1 || $1 || $1 || $1 || $1 || $1 || $1 || $1 || $1"};
  const std::string text(500, 'x');
  const std::vector<Value> rows(4'000, Value::Text(text));
  ASSERT_EQ(writer_->Begin(TransactionKind::kRead), absl::OkStatus());
  size_t bytes = 0;
  ASSERT_EQ(writer_->RunMany(kTwenty, 1, rows,
                             [&](size_t, const Row& row) { bytes += row.Bytes(0).size(); }),
            absl::OkStatus());
  EXPECT_EQ(bytes, rows.size() * text.size() * 20);
}

TEST_P(StoreConnection, RunManyStopsAtTheFirstError) {
  ASSERT_EQ(Add({.id = 3}), absl::OkStatus());
  std::vector<Value> rows;
  for (int64_t id = 1; id <= 5; ++id) {
    for (const Value& value : ValuesOf({.id = id})) rows.push_back(value);
  }
  ASSERT_EQ(writer_->Begin(TransactionKind::kWrite), absl::OkStatus());
  EXPECT_EQ(writer_->RunMany(kAddThing, 4, rows).code(), absl::StatusCode::kAlreadyExists);
  ASSERT_EQ(writer_->Rollback(), absl::OkStatus());
  EXPECT_EQ(ThingsOf(*writer_), (std::vector<Thing>{{.id = 3}}));
}

TEST_P(StoreConnection, RunManyOfNothingDoesNothing) {
  ASSERT_EQ(writer_->Begin(TransactionKind::kWrite), absl::OkStatus());
  EXPECT_EQ(writer_->RunMany(kAddThing, 4, {}), absl::OkStatus());
  EXPECT_EQ(writer_->Commit(), absl::OkStatus());
}

TEST_P(StoreConnection, RunManyNeedsWholeRows) {
  ASSERT_EQ(writer_->Begin(TransactionKind::kWrite), absl::OkStatus());
  const std::array values = {Value::Int(1), Value::Null(), Value::Null()};
  EXPECT_EQ(writer_->RunMany(kAddThing, 4, values).code(), absl::StatusCode::kInternal);
}

TEST_P(StoreConnection, RunManyNeedsATransaction) {
  const std::vector<Value> row = ValuesOf({.id = 1});
  EXPECT_EQ(writer_->RunMany(kAddThing, 4, row).code(), absl::StatusCode::kFailedPrecondition);
  EXPECT_EQ(Count(*writer_), 0);
}

TEST_P(StoreConnection, PostedRowsAreThereForTheNextStatement) {
  ASSERT_EQ(writer_->Begin(TransactionKind::kWrite), absl::OkStatus());
  EXPECT_EQ(writer_->Post(kAddThing, 4, {}), absl::OkStatus());
  std::string words = "borrowed";
  ASSERT_EQ(writer_->Post(kAddThing, 4, ValuesOf({.id = 1, .words = words})), absl::OkStatus());
  words = "replaced";
  ASSERT_EQ(writer_->Post(kAddThing, 4, ValuesOf({.id = 2})), absl::OkStatus());
  const std::array upto = {Value::Int(2), Value::Int(1)};
  static constexpr Sql kUpTo{"posted_up_to", "SELECT id FROM things WHERE id <= $1 ORDER BY id"};
  std::vector<std::pair<size_t, int64_t>> found;
  ASSERT_EQ(writer_->RunMany(
                kUpTo, 1, upto,
                [&](size_t which, const Row& row) { found.emplace_back(which, row.Int(0)); }),
            absl::OkStatus());
  EXPECT_EQ(found, (std::vector<std::pair<size_t, int64_t>>{{0, 1}, {0, 2}, {1, 1}}));
  ASSERT_EQ(writer_->Post(kAddThing, 4, ValuesOf({.id = 3})), absl::OkStatus());
  ASSERT_EQ(writer_->Commit(), absl::OkStatus());
  EXPECT_EQ(ThingsOf(*writer_),
            (std::vector<Thing>{{.id = 1, .words = "borrowed"}, {.id = 2}, {.id = 3}}));
}

TEST_P(StoreConnection, PostTakesAnyNumberOfRows) {
  constexpr int kRows = 10'000;
  std::vector<Value> rows;
  for (int64_t id = 1; id <= kRows; ++id) {
    for (const Value& value : ValuesOf({.id = id})) rows.push_back(value);
  }
  ASSERT_EQ(writer_->Begin(TransactionKind::kWrite), absl::OkStatus());
  ASSERT_EQ(writer_->Post(kAddThing, 4, rows), absl::OkStatus());
  ASSERT_EQ(writer_->Commit(), absl::OkStatus());
  EXPECT_EQ(Count(*writer_), kRows);
}

TEST_P(StoreConnection, AnErrorOfAPostedStatementShowsByTheCommit) {
  ASSERT_EQ(Add({.id = 3}), absl::OkStatus());
  ASSERT_EQ(writer_->Begin(TransactionKind::kWrite), absl::OkStatus());
  absl::Status status = writer_->Post(kAddThing, 4, ValuesOf({.id = 3}));
  if (status.ok()) status = writer_->Post(kAddThing, 4, ValuesOf({.id = 4}));
  if (status.ok()) status = writer_->Commit();
  EXPECT_EQ(status.code(), absl::StatusCode::kAlreadyExists) << status;
  ASSERT_EQ(writer_->Rollback(), absl::OkStatus());
  EXPECT_EQ(Count(*writer_), 1);
}

TEST_P(StoreConnection, WhatWasPostedIsRolledBackEvenWhenItFailed) {
  ASSERT_EQ(Add({.id = 3}), absl::OkStatus());
  ASSERT_EQ(writer_->Begin(TransactionKind::kWrite), absl::OkStatus());
  ASSERT_EQ(writer_->Post(kAddThing, 4, ValuesOf({.id = 4})), absl::OkStatus());
  writer_->Post(kAddThing, 4, ValuesOf({.id = 3})).IgnoreError();
  ASSERT_EQ(writer_->Rollback(), absl::OkStatus());
  EXPECT_EQ(Count(*writer_), 1);
  ASSERT_EQ(writer_->Begin(TransactionKind::kWrite), absl::OkStatus());
  ASSERT_EQ(writer_->Post(kAddThing, 4, ValuesOf({.id = 5})), absl::OkStatus());
  ASSERT_EQ(writer_->Commit(), absl::OkStatus());
  EXPECT_EQ(Count(*writer_), 2);
}

TEST_P(StoreConnection, PostNeedsATransaction) {
  EXPECT_EQ(writer_->Post(kAddThing, 4, ValuesOf({.id = 1})).code(),
            absl::StatusCode::kFailedPrecondition);
}

TEST_P(StoreConnection, AStatementInsideACallbackIsRefused) {
  ASSERT_EQ(Add({.id = 1}), absl::OkStatus());
  absl::Status inner;
  ASSERT_EQ(
      writer_->Run(kAllThings, {}, [&](const Row&) { inner = writer_->Run(kCountThings, {}); }),
      absl::OkStatus());
  EXPECT_EQ(inner.code(), absl::StatusCode::kFailedPrecondition);
  EXPECT_EQ(Count(*writer_), 1);
}

TEST_P(StoreConnection, InterruptStopsALongStatement) {
  static constexpr Sql kLong{
      "long",
      "WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n WHERE i < 1000000000) "
      "SELECT count(*) FROM n"};
  std::atomic<bool> done = false;
  std::thread interrupter([&] {
    while (!done) {
      std::this_thread::sleep_for(std::chrono::milliseconds(20));
      writer_->Interrupt();
    }
  });
  const absl::Status status = writer_->Run(kLong, {});
  done = true;
  interrupter.join();
  EXPECT_EQ(status.code(), absl::StatusCode::kCancelled) << status;
}

TEST_P(StoreConnection, TheEngineHasANameAndAVersion) {
  const bool sqlite = GetParam() != testing::StoreKind::kPostgres;
  EXPECT_EQ(writer_->engine(), sqlite ? "sqlite" : "postgresql");
  EXPECT_EQ(database_->engine(), writer_->engine());
  EXPECT_EQ(database_->exclusive(), sqlite);
  EXPECT_THAT(writer_->engine_version(), ::testing::MatchesRegex("[0-9]+\\.[0-9.]+"));
}

TEST_P(StoreConnection, AConnectionOutlivesItsDatabase) {
  database_.reset();
  EXPECT_EQ(Add({.id = 1}), absl::OkStatus());
  EXPECT_EQ(Count(*writer_), 1);
}

}  // namespace
}  // namespace ferrule::store
