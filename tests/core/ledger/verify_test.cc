// What verify finds, and what rebuild mends. Tests core/ledger/chain_check.cc,
// core/store/integrity.cc.
#include <gtest/gtest.h>

#include "absl/strings/str_cat.h"
#include "core/ledger/refold.h"
#include "tests/support/entries.h"
#include "tests/support/ledger_depot.h"

namespace ferrule::testing {
namespace {

class LedgerVerify : public OnEveryEngine {
 protected:
  void SetUp() override {
    OnEveryEngine::SetUp();
    depot_ = std::make_unique<LedgerDepot>(GetParam());
    depot_->MustRecord(SettingsEntry());
    for (int i = 0; i < 5; ++i) {
      depot_->MustRecord(ReceiveUnit(absl::StrCat("K-", i), kStartUs));
      depot_->MustRecord(
          MakeReady(absl::StrCat("ready-", i), absl::StrCat("K-", i), kStartUs + kHourUs));
    }
  }
  std::unique_ptr<LedgerDepot> depot_;
};
FERRULE_ON_EVERY_ENGINE(LedgerVerify);

TEST_P(LedgerVerify, ASoundLedgerPasses) {
  const ledger::VerifyReport report = depot_->MustVerify();
  EXPECT_TRUE(report.ok()) << report.broken;
  EXPECT_EQ(report.entries, 11);
  EXPECT_EQ(report.states, 6);
}

TEST_P(LedgerVerify, AnyFlippedByteNamesItsEntry) {
  std::string bytes;
  depot_->Sql({"t_bytes", "SELECT bytes FROM entries WHERE sequence = 4"}, {},
              [&](const store::Row& row) { bytes = std::string(row.Bytes(0)); });
  ASSERT_FALSE(bytes.empty());
  for (size_t at = 0; at < bytes.size(); at += 7) {
    std::string flipped = bytes;
    flipped[at] = static_cast<char>(flipped[at] ^ 0x20);
    depot_->Sql({"t_put", "UPDATE entries SET bytes = $1 WHERE sequence = 4"},
                {store::Value::Blob(flipped)});
    EXPECT_EQ(depot_->MustVerify().first_broken_sequence, 4) << "byte " << at;
  }
  depot_->Sql({"t_put", "UPDATE entries SET bytes = $1 WHERE sequence = 4"},
              {store::Value::Blob(bytes)});
  EXPECT_TRUE(depot_->MustVerify().ok());
}

TEST_P(LedgerVerify, AMissingEntryIsNamed) {
  depot_->Sql({"t_del", "DELETE FROM entries WHERE sequence = 7"});
  EXPECT_EQ(depot_->MustVerify().first_broken_sequence, 7);
}

TEST_P(LedgerVerify, ACutTailIsFoundThroughTheHead) {
  depot_->Sql({"t_cut", "DELETE FROM entries WHERE sequence > 9"});
  EXPECT_EQ(depot_->MustVerify().first_broken_sequence, 10);
}

TEST_P(LedgerVerify, SwappedEntriesAreFound) {
  depot_->Sql({"t_swap1", "UPDATE entries SET sequence = 1000 WHERE sequence = 3"});
  depot_->Sql({"t_swap2", "UPDATE entries SET sequence = 3 WHERE sequence = 5"});
  depot_->Sql({"t_swap3", "UPDATE entries SET sequence = 5 WHERE sequence = 1000"});
  EXPECT_EQ(depot_->MustVerify().first_broken_sequence, 3);
}

TEST_P(LedgerVerify, AChangedStateIsNamedAndRebuildMendsIt) {
  depot_->Sql({"t_state", "UPDATE states SET custody = 2 WHERE name = 'units/K-3'"});
  ledger::VerifyReport report = depot_->MustVerify();
  EXPECT_EQ(report.first_broken_sequence, 0);
  ASSERT_EQ(report.differing_states.size(), 1u);
  EXPECT_NE(report.differing_states[0].find("units/K-3"), std::string::npos);
  depot_->MustRebuild();
  EXPECT_TRUE(depot_->MustVerify().ok());
}

TEST_P(LedgerVerify, RebuildNeedsNothingButTheLedger) {
  const std::string before = (*depot_->ledger().Get("units/K-2"))->SerializeAsString();
  depot_->Sql({"t_drop", "DELETE FROM states"});
  EXPECT_FALSE(depot_->MustVerify().ok());
  EXPECT_EQ(depot_->MustRebuild(), 26);
  EXPECT_TRUE(depot_->MustVerify().ok());
  EXPECT_EQ((*depot_->ledger().Get("units/K-2"))->SerializeAsString(), before);
}

TEST_P(LedgerVerify, AChangedIndexOfFactsIsFound) {
  depot_->Sql({"t_index", "DELETE FROM fact_subjects WHERE sequence = 6"});
  EXPECT_FALSE(depot_->MustVerify().ok());
}

}  // namespace
}  // namespace ferrule::testing
