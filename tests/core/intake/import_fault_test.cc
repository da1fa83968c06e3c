// Tests core/intake/import_facts.cc on a disk that fails: a file whose import was cut off is read
// again from where its rows are missing, and in the end each row is recorded once. All synthetic.
#include <gtest/gtest.h>

#include <string>

#include "absl/strings/str_cat.h"
#include "absl/time/time.h"
#include "core/intake/digest.h"
#include "core/intake/intake.h"
#include "tests/support/entries.h"
#include "tests/support/fault_disk.h"
#include "tests/support/ledger_depot.h"

namespace ferrule::testing {
namespace {

constexpr int kRows = 1'200;

v1::ImportRowsRequest Readings() {
  v1::ImportRowsRequest request;
  request.set_kind(v1::IMPORT_KIND_READINGS);
  request.set_header("unit,time,meter_h\n");
  std::string rows;
  for (int i = 0; i < kRows; ++i) {
    const std::string time = absl::FormatTime(
        "%Y-%m-%dT%H:%M:%SZ", absl::FromUnixMicros(kStartUs + i * kMinuteUs), absl::UTCTimeZone());
    absl::StrAppend(&rows, "K-1,", time, ",", i / 100.0, "\n");
  }
  request.set_rows(rows);
  request.set_file_sha256(intake::Sha256(rows));
  request.set_first_line(2);
  request.set_offset_bytes(static_cast<int64_t>(request.header().size()));
  request.set_actor("clerk-eve");
  request.set_last(true);
  return request;
}

// The file from where the depot says that it goes on, as a client sends it.
v1::ImportRowsRequest Rest(const v1::ImportRowsRequest& whole, const v1::GetImportResponse& state) {
  v1::ImportRowsRequest rest = whole;
  if (state.offset_bytes() <= whole.offset_bytes()) return rest;
  rest.set_rows(
      whole.rows().substr(static_cast<size_t>(state.offset_bytes() - whole.offset_bytes())));
  rest.set_offset_bytes(state.offset_bytes());
  rest.set_first_line(state.next_line());
  return rest;
}

class ImportFaultTest : public ::testing::TestWithParam<int> {};

// The disk is full for one write, after so many steps of it: one of the file's goes is lost, and
// the ones after it may be stored.
TEST_P(ImportFaultTest, NoRowIsLostOrDoubledByAGoThatCouldNotBeStored) {
  LedgerDepot depot("sqlite");
  depot.MustRecord(EntryOf(
      "settings-1", kStartUs - kDayUs,
      "settings_put { settings { " + SmallSettings("1") +
          " } from_time { seconds: " + absl::StrCat((kStartUs - kDayUs) / 1'000'000) + " } }"));
  depot.MustRecord(ReceiveUnit("K-1", kStartUs - kHourUs));
  depot.clock().Set(kStartUs + 30 * kDayUs);
  depot.MustVerify();  // closes the file
  FaultDisk& disk = FaultDisk::Instance();
  disk.Watch(depot.path());
  const int64_t head = depot.ledger().head().sequence;
  intake::Intake intake(&depot.ledger());
  const v1::ImportRowsRequest request = Readings();
  disk.SetPlan({.fault = FaultDisk::Fault::kFull, .at = GetParam()});
  const auto failed = intake.Import(request, "");
  ASSERT_EQ(disk.happened(), 1);
  EXPECT_TRUE(absl::IsResourceExhausted(failed.status())) << failed.status();

  v1::GetImportRequest ask;
  ask.set_file_sha256(request.file_sha256());
  ask.set_kind(request.kind());
  const auto state = intake.ImportState(ask);
  ASSERT_TRUE(state.ok()) << state.status();
  const auto again = intake.Import(Rest(request, *state), "");
  ASSERT_TRUE(again.ok()) << again.status();
  EXPECT_EQ(depot.ledger().head().sequence, head + kRows);
  const auto after = intake.ImportState(ask);
  EXPECT_EQ(after->totals().read_count(), kRows);
  EXPECT_EQ(after->totals().accepted_count() + after->totals().repeated_count(), kRows);
  EXPECT_EQ(after->offset_bytes(), again->next_offset_bytes());
}

INSTANTIATE_TEST_SUITE_P(, ImportFaultTest, ::testing::Values(0, 40, 90, 140, 200));

}  // namespace
}  // namespace ferrule::testing
