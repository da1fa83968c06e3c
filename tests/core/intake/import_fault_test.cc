// Tests core/intake/import_facts.cc on a disk that fails: a file whose import was cut off is read
// again from where its rows are missing, and in the end each row is recorded once. All synthetic.
#include <gtest/gtest.h>

#include <memory>
#include <set>
#include <string>
#include <utility>

#include "absl/strings/str_cat.h"
#include "absl/time/time.h"
#include "core/intake/digest.h"
#include "core/intake/intake.h"
#include "core/time/civil.h"
#include "tests/support/entries.h"
#include "tests/support/fault_disk.h"
#include "tests/support/ledger_depot.h"

namespace ferrule::testing {
namespace {

constexpr int kRows = 9'600;
constexpr int kRowsOfPart = 1'200;
constexpr int kPoints = 30;

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

// The depot, and what the disk did since it was watched.
class ImportFault : public ::testing::Test {
 protected:
  // Another depot, closed once so that its file is whole.
  void Fresh() {
    depot_ = std::make_unique<LedgerDepot>("sqlite");
    depot_->MustRecord(EntryOf(
        "settings-1", kStartUs - kDayUs,
        "settings_put { settings { " + SmallSettings("1") +
            " } from_time { seconds: " + absl::StrCat((kStartUs - kDayUs) / 1'000'000) + " } }"));
    depot_->MustRecord(ReceiveUnit("K-1", kStartUs - kHourUs));
    depot_->clock().Set(kStartUs + 30 * kDayUs);
    depot_->MustVerify();
    disk_.Watch(depot_->path());
    head_ = depot_->ledger().head().sequence;
  }

  v1::GetImportResponse State(intake::Intake& intake) {
    v1::GetImportRequest ask;
    ask.set_file_sha256(whole_.file_sha256());
    ask.set_kind(whole_.kind());
    const auto state = intake.ImportState(ask);
    EXPECT_EQ(state.status(), absl::OkStatus());
    return state.ok() ? *state : v1::GetImportResponse();
  }

  // As a client sends it: part by part, from where the depot says that the file goes on.
  absl::Status Import() {
    intake::Intake intake(&depot_->ledger());
    v1::ImportRowsRequest part = whole_;
    const v1::GetImportResponse state = State(intake);
    if (state.offset_bytes() > whole_.offset_bytes()) {
      part.set_offset_bytes(state.offset_bytes());
      part.set_first_line(state.next_line());
    }
    const int64_t end = whole_.offset_bytes() + static_cast<int64_t>(whole_.rows().size());
    while (part.offset_bytes() < end) {
      const auto from = static_cast<size_t>(part.offset_bytes() - whole_.offset_bytes());
      size_t to = from;
      for (int row = 0; row < kRowsOfPart && to < whole_.rows().size(); ++row) {
        to = whole_.rows().find('\n', to) + 1;
      }
      part.set_rows(whole_.rows().substr(from, to - from));
      part.set_last(to == whole_.rows().size());
      const auto answer = intake.Import(part, "");
      if (!answer.ok()) return answer.status();
      part.set_offset_bytes(answer->next_offset_bytes());
      part.set_first_line(answer->next_line());
    }
    return absl::OkStatus();
  }

  // Every row of the file is in the ledger once, nothing else is, and the file is told as whole.
  void ExpectEachRowOnce() {
    intake::Intake intake(&depot_->ledger());
    const v1::GetImportResponse state = State(intake);
    EXPECT_EQ(state.totals().read_count(), kRows);
    EXPECT_EQ(state.totals().accepted_count() + state.totals().repeated_count(), kRows);
    EXPECT_EQ(state.offset_bytes(),
              whole_.offset_bytes() + static_cast<int64_t>(whole_.rows().size()));
    std::multiset<std::pair<int64_t, int64_t>> recorded, wanted;  // when, and what was read
    const absl::Status read = depot_->ledger().Read(head_, "", [&](const ledger::Recorded& one) {
      v1::LedgerEntry kept;
      EXPECT_TRUE(kept.ParseFromArray(one.bytes.data(), static_cast<int>(one.bytes.size())));
      for (const v1::Fact& fact : kept.entry().facts()) {
        recorded.emplace(time::ToMicros(fact.happened_time()), fact.meter_read().reading_s());
      }
      return true;
    });
    ASSERT_EQ(read, absl::OkStatus());
    for (int i = 0; i < kRows; ++i) wanted.emplace(kStartUs + i * kMinuteUs, i * 36);
    EXPECT_EQ(recorded, wanted);
  }

  FaultDisk& disk_ = FaultDisk::Instance();
  const v1::ImportRowsRequest whole_ = Readings();
  std::unique_ptr<LedgerDepot> depot_;
  int64_t head_ = 0;
};

// The disk is full at one of 30 points of the import, for one write or until room is made, so that
// some goes of the file are lost and the ones after them may be stored.
TEST_F(ImportFault, NoRowIsLostOrDoubledWhereverTheDiskIsFull) {
  Fresh();
  disk_.SetPlan({});
  ASSERT_EQ(Import(), absl::OkStatus());
  const int64_t steps = disk_.steps();
  ExpectEachRowOnce();
  ASSERT_GT(steps, 3 * kPoints / 2);
  int in_the_middle = 0, too_late = 0;
  for (int point = 0; point < kPoints; ++point) {
    SCOPED_TRACE(absl::StrCat("point ", point));
    Fresh();
    disk_.SetPlan({.fault = FaultDisk::Fault::kFull,
                   .at = steps * point / kPoints,
                   .for_ever = point % 2 == 1});
    const absl::Status failed = Import();
    if (disk_.happened() == 0) {  // fewer steps than before, as its goes were gathered
      ++too_late;
      EXPECT_EQ(failed, absl::OkStatus());
    } else {
      EXPECT_TRUE(absl::IsResourceExhausted(failed)) << failed;
    }
    const int64_t stored = depot_->ledger().head().sequence - head_;
    if (stored > 0 && stored < kRows) ++in_the_middle;
    disk_.SetPlan({});
    ASSERT_EQ(Import(), absl::OkStatus());
    ExpectEachRowOnce();
    EXPECT_TRUE(depot_->MustVerify().ok());
  }
  EXPECT_GT(in_the_middle, kPoints / 2);
  EXPECT_LT(too_late, kPoints / 4);
}

}  // namespace
}  // namespace ferrule::testing
