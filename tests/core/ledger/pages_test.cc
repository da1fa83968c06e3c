// The whole ledger read by several threads comes out whole and in order.
#include "core/ledger/pages.h"

#include <gtest/gtest.h>

#include "absl/strings/str_cat.h"
#include "tests/support/entries.h"
#include "tests/support/ledger_depot.h"

namespace ferrule::testing {
namespace {

constexpr int kEntries = 5'001;  // more than two pages

class LedgerPages : public OnEveryEngine {
 protected:
  void SetUp() override {
    OnEveryEngine::SetUp();
    depot_ = std::make_unique<LedgerDepot>(GetParam());
    std::vector<v1::Entry> entries = {SettingsEntry(), ReceiveUnit("K-1", kStartUs)};
    while (entries.size() < kEntries) {
      entries.push_back(EntryOf(absl::StrCat("move-", entries.size()),
                                kStartUs + int64_t(entries.size()) * kMinuteUs,
                                "unit_moved { unit: 'K-1' to_place: 'north-dock' }"));
    }
    for (const auto& outcome : depot_->RecordBatch(std::move(entries))) {
      ASSERT_TRUE(outcome.ok()) << outcome.status();
    }
  }

  absl::Status Read(int64_t through,
                    const std::function<absl::Status(const ledger::RawEntry&)>& on_raw) {
    seen_.clear();
    return depot_->ledger().WithReader([&](store::Connection& connection) {
      return ledger::ReadPages(connection, through, on_raw, [&](ledger::Page& page) { See(page); });
    });
  }

  void See(const ledger::Page& page) {
    ASSERT_EQ(page.rows.size(), page.entries.size());
    for (size_t i = 0; i < page.rows.size(); ++i) {
      v1::LedgerEntry stored;
      ASSERT_TRUE(
          stored.ParseFromString(page.bytes.substr(page.rows[i].offset, page.rows[i].size)));
      EXPECT_EQ(stored.sequence(), page.rows[i].sequence);
      EXPECT_EQ(stored.DebugString(), page.entries[i]->DebugString());
      seen_.push_back(stored.sequence());
    }
  }

  // Whether the sequences seen are 1, 2, ... and that many.
  bool SawAllUpTo(int64_t last) const {
    for (size_t i = 0; i < seen_.size(); ++i) {
      if (seen_[i] != int64_t(i) + 1) return false;
    }
    return int64_t(seen_.size()) == last;
  }

  std::unique_ptr<LedgerDepot> depot_;
  std::vector<int64_t> seen_;
};
FERRULE_ON_EVERY_ENGINE(LedgerPages);

TEST_P(LedgerPages, ComeInTheLedgersOrder) {
  int64_t raw = 0;
  ASSERT_EQ(Read(INT64_MAX,
                 [&](const ledger::RawEntry& entry) {
                   EXPECT_EQ(entry.sequence, ++raw);
                   EXPECT_EQ(entry.digest.size(), 32u);
                   return absl::OkStatus();
                 }),
            absl::OkStatus());
  EXPECT_TRUE(SawAllUpTo(kEntries));
  EXPECT_EQ(raw, kEntries);
  for (const int64_t through : {1, 1'999, 2'000, 2'001, kEntries}) {
    ASSERT_EQ(Read(through, nullptr), absl::OkStatus());
    EXPECT_TRUE(SawAllUpTo(through)) << through;
  }
}

TEST_P(LedgerPages, AnErrorAboutARowEndsTheReading) {
  const absl::Status status = Read(INT64_MAX, [](const ledger::RawEntry& entry) {
    return entry.sequence == 3'000 ? absl::DataLossError("enough") : absl::OkStatus();
  });
  EXPECT_EQ(status, absl::DataLossError("enough"));
  EXPECT_LT(seen_.size(), 3'000u);
}

TEST_P(LedgerPages, ALedgerShorterThanItsHeadIsALoss) {
  EXPECT_EQ(Read(kEntries + 1, nullptr).code(), absl::StatusCode::kDataLoss);
}

TEST_P(LedgerPages, AnEntryThatCannotBeReadIsNamed) {
  depot_->Sql({"t_spoil", "UPDATE entries SET bytes = $1 WHERE sequence = 2500"},
              {store::Value::Blob("no entry")});
  const absl::Status status = Read(INT64_MAX, nullptr);
  EXPECT_EQ(status.code(), absl::StatusCode::kDataLoss);
  EXPECT_NE(status.message().find("entry 2500 "), absl::string_view::npos) << status;
  EXPECT_TRUE(SawAllUpTo(2'000));
}

}  // namespace
}  // namespace ferrule::testing
