// Memory that runs out inside the embedded engine, at every allocation of a recording.
#include <gtest/gtest.h>
#include <sqlite3.h>

#include <atomic>
#include <map>

#include "absl/strings/str_cat.h"
#include "core/store/connection.h"
#include "tests/support/entries.h"
#include "tests/support/ledger_depot.h"

namespace ferrule::testing {
namespace {

std::atomic<int> left{0};    // allocations until one fails; 0 while none is to
std::atomic<int> fails{0};   // how many fail one after the other from there on
std::atomic<int> failed{0};  // how many did
sqlite3_mem_methods real;

bool MustFail() {
  int before = left.load();
  while (before > 1 && !left.compare_exchange_weak(before, before - 1)) {
  }
  if (before != 1) return false;
  ++failed;
  if (--fails == 0) left = 0;
  return true;
}

void* Malloc(int size) { return MustFail() ? nullptr : real.xMalloc(size); }
void* Realloc(void* memory, int size) { return MustFail() ? nullptr : real.xRealloc(memory, size); }

// Before anything opens a store. Without the engine's own small-memory pool, so that its
// allocations come here.
const bool installed = [] {
  sqlite3_config(SQLITE_CONFIG_GETMALLOC, &real);
  sqlite3_mem_methods ours = real;
  ours.xMalloc = Malloc;
  ours.xRealloc = Realloc;
  sqlite3_config(SQLITE_CONFIG_LOOKASIDE, 0, 0);
  return sqlite3_config(SQLITE_CONFIG_MALLOC, &ours) == SQLITE_OK;
}();

void FailFrom(int allocation, int many) {
  failed = 0;
  fails = many;
  left = allocation;
}

void NoMoreFailures() { left = 0; }

v1::Entry Report(int number) {
  return ReceiveUnit(absl::StrCat("K-", number), kStartUs + number * kHourUs);
}

// Records entries while the n-th allocation of each fails; what was acknowledged must be there, and
// what was not is settled by sending it again, in the same process or after a restart.
void RecordWithFailures(int many, bool restart) {
  ASSERT_TRUE(installed);
  LedgerDepot depot("sqlite");
  depot.MustRecord(SettingsEntry());
  std::map<int, int64_t> acknowledged;
  int refused = 0;
  int number = 0;
  for (int quiet = 0; quiet < 3 && number < 2'000; ++number) {
    FailFrom(number + 1, many);
    const absl::StatusOr<v1::Receipt> receipt = depot.Record(Report(number));
    NoMoreFailures();
    quiet = failed > 0 ? 0 : quiet + 1;
    if (receipt.ok()) {
      acknowledged[number] = receipt->sequence();
      continue;
    }
    // Internal says that nobody knows whether it holds: only of a commit.
    const bool in_commit = receipt.status().message().find("commit") != std::string::npos;
    ++refused;
    EXPECT_EQ(receipt.status().code(),
              in_commit ? absl::StatusCode::kInternal : absl::StatusCode::kResourceExhausted)
        << receipt.status();
    EXPECT_EQ(store::IsOutOfMemory(receipt.status()), !in_commit) << receipt.status();
    EXPECT_NE(receipt.status().message().find("add memory, then"), std::string::npos)
        << receipt.status();
    if (restart) depot.Reopen();
    acknowledged[number] = depot.MustRecord(Report(number)).sequence();
  }
  EXPECT_GT(refused, 20);
  for (const auto& [which, sequence] : acknowledged) {
    const v1::Receipt again = depot.MustRecord(Report(which));
    EXPECT_TRUE(again.repeated()) << which;
    EXPECT_EQ(again.sequence(), sequence) << which;
  }
  const ledger::WholeReport whole = depot.MustVerify();
  EXPECT_TRUE(whole.ok());
  EXPECT_EQ(whole.entries, int64_t(acknowledged.size()) + 1);
}

TEST(LedgerMemory, OneAllocationThatFailsIsToldAndTheNextTryRecords) {
  RecordWithFailures(/*many=*/1, /*restart=*/false);
}

TEST(LedgerMemory, ManyThatFailInARowAreToldAndTheNextTryRecords) {
  RecordWithFailures(/*many=*/50, /*restart=*/false);
}

TEST(LedgerMemory, AfterARestartARepeatSettlesWhatFailed) {
  RecordWithFailures(/*many=*/3, /*restart=*/true);
}

}  // namespace
}  // namespace ferrule::testing
