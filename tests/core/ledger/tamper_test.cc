// Tests core/ledger/chain_check.cc: whoever can write to the store by hand changes, takes out,
// swaps, cuts off or rewrites entries, in ways drawn by seed; verify names the first one that is
// not what was recorded. What a chain alone cannot show, it shows against a head noted elsewhere.
#include <gtest/gtest.h>

#include <cstdlib>
#include <random>

#include "absl/strings/str_cat.h"
#include "core/ledger/chain.h"
#include "core/time/civil.h"
#include "ferrule/v1/ledger_service.pb.h"
#include "tests/support/entries.h"
#include "tests/support/ledger_depot.h"

namespace ferrule::testing {
namespace {

using store::Value;

constexpr int64_t kEntries = 25;

int Seeds() {
  const char* seeds = std::getenv("FERRULE_TAMPER_SEEDS");
  return seeds != nullptr ? std::atoi(seeds) : 20;
}

struct Row {
  int64_t recorded_us = 0;
  int64_t key = 0;
  std::string digest;
  std::string bytes;
};

void Flip(uint64_t at, uint64_t bit, std::string* bytes) {
  char& byte = (*bytes)[at % bytes->size()];
  byte = static_cast<char>(byte ^ (1 << bit % 8));
}

class LedgerTamper : public OnEveryEngine {
 protected:
  void SetUp() override {
    OnEveryEngine::SetUp();
    depot_ = std::make_unique<LedgerDepot>(GetParam());
    depot_->MustRecord(SettingsEntry());
    for (int i = 0; i < (kEntries - 1) / 2; ++i) {
      depot_->clock().Set(depot_->clock().NowMicros() + kMinuteUs);
      depot_->MustRecord(ReceiveUnit(absl::StrCat("K-", i), kStartUs));
      depot_->MustRecord(
          MakeReady(absl::StrCat("r-", i), absl::StrCat("K-", i), kStartUs + kHourUs));
    }
    rows_ = ReadRows();
    anchors_ = {{10, rows_[9].digest}, {kEntries, rows_.back().digest}};
  }

  std::vector<Row> ReadRows() {
    std::vector<Row> rows;
    depot_->Sql(
        {"t_rows", "SELECT recorded_us, id_key, digest, bytes FROM entries ORDER BY sequence"}, {},
        [&](const store::Row& row) {
          rows.push_back(
              {row.Int(0), row.Int(1), std::string(row.Bytes(2)), std::string(row.Bytes(3))});
        });
    return rows;
  }
  void PutRow(int64_t sequence, const Row& row) {
    depot_->Sql(
        {"t_put",
         "UPDATE entries SET recorded_us = $1, digest = $2, bytes = $3 WHERE sequence = $4"},
        {Value::Int(row.recorded_us), Value::Blob(row.digest), Value::Blob(row.bytes),
         Value::Int(sequence)});
  }
  void PutHead(int64_t sequence, const Row& row) {
    depot_->Sql({"t_head", "UPDATE ledger_head SET sequence = $1, digest = $2, recorded_us = $3"},
                {Value::Int(sequence), Value::Blob(row.digest), Value::Int(row.recorded_us)});
  }
  void Undo() {
    depot_->Sql({"t_none", "DELETE FROM entries"});
    for (size_t i = 0; i < rows_.size(); ++i) {
      depot_->Sql(
          {"t_add",
           "INSERT INTO entries (sequence, recorded_us, id_key, digest, bytes) VALUES ($1, $2, "
           "$3, $4, $5)"},
          {Value::Int(static_cast<int64_t>(i) + 1), Value::Int(rows_[i].recorded_us),
           Value::Int(rows_[i].key), Value::Blob(rows_[i].digest), Value::Blob(rows_[i].bytes)});
    }
    PutHead(kEntries, rows_.back());
  }

  std::unique_ptr<LedgerDepot> depot_;
  std::vector<Row> rows_;
  std::vector<ledger::Anchor> anchors_;
};
FERRULE_ON_EVERY_ENGINE(LedgerTamper);

TEST_P(LedgerTamper, TheFirstEntryThatIsNotWhatWasRecordedIsNamed) {
  for (int seed = 1; seed <= Seeds(); ++seed) {
    std::mt19937_64 random(static_cast<uint64_t>(seed));
    const auto at = static_cast<int64_t>(1 + random() % kEntries);
    Row row = rows_[static_cast<size_t>(at) - 1];
    int64_t named = at;
    switch (random() % 6) {
      case 0:
        Flip(random(), random(), &row.bytes);
        PutRow(at, row);
        break;
      case 1:
        Flip(random(), random(), &row.digest);
        PutRow(at, row);
        break;
      case 2:
        depot_->Sql({"t_del", "DELETE FROM entries WHERE sequence = $1"}, {Value::Int(at)});
        break;
      case 3: {  // two change places
        const auto other = static_cast<int64_t>(1 + random() % kEntries);
        if (other == at) continue;
        PutRow(at, rows_[static_cast<size_t>(other) - 1]);
        PutRow(other, row);
        named = std::min(at, other);
        break;
      }
      case 4:  // its time alone, which lists by time stand on
        row.recorded_us += 1;
        PutRow(at, row);
        break;
      default:  // one more after the last
        depot_->Sql({"t_more",
                     "INSERT INTO entries (sequence, recorded_us, id_key, digest, bytes) VALUES "
                     "($1, $2, $3, $4, $5)"},
                    {Value::Int(kEntries + 1), Value::Int(row.recorded_us + kDayUs), Value::Int(1),
                     Value::Blob(row.digest), Value::Blob(row.bytes)});
        named = kEntries + 1;
        break;
    }
    EXPECT_EQ(depot_->MustVerify().first_broken_sequence, named) << "seed " << seed;
    Undo();
  }
  EXPECT_TRUE(depot_->MustVerify(anchors_).ok());
}

// The tail goes, and with it every trace of it: head, states, indexes.
TEST_P(LedgerTamper, ACutTailIsFoundAgainstAHeadNotedElsewhere) {
  for (const int64_t keep : {kEntries - 1, int64_t{10}}) {
    depot_->Sql({"t_cut", "DELETE FROM entries WHERE sequence > $1"}, {Value::Int(keep)});
    depot_->Sql({"t_cut_facts", "DELETE FROM fact_subjects WHERE sequence > $1"},
                {Value::Int(keep)});
    PutHead(keep, rows_[static_cast<size_t>(keep) - 1]);
    depot_->MustRebuild();
    EXPECT_TRUE(depot_->MustVerify().ok()) << "the chain alone cannot know";
    const ledger::WholeReport report = depot_->MustVerify(anchors_);
    EXPECT_EQ(report.first_broken_sequence, keep + 1);
    EXPECT_NE(report.broken.find("cut off"), std::string::npos) << report.broken;
  }
}

// An entry is forged, every digest after it computed anew, and the states made to fit.
TEST_P(LedgerTamper, AChainWrittenAnewIsFoundAgainstAHeadNotedElsewhere) {
  constexpr int64_t kForged = 7;
  std::string previous = rows_[kForged - 2].digest;
  Row last;
  for (int64_t sequence = kForged; sequence <= kEntries; ++sequence) {
    Row row = rows_[static_cast<size_t>(sequence) - 1];
    if (sequence == kForged) {
      v1::LedgerEntry entry;
      ASSERT_TRUE(entry.ParseFromString(row.bytes));
      entry.mutable_entry()->set_actor("somebody-else");
      row.bytes = entry.SerializeAsString();
    }
    row.digest = previous = ledger::ChainDigest(previous, row.bytes);
    PutRow(sequence, row);
    last = row;
  }
  PutHead(kEntries, last);
  depot_->MustRebuild();
  EXPECT_TRUE(depot_->MustVerify().ok()) << "the chain alone cannot know";
  const ledger::WholeReport report = depot_->MustVerify(anchors_);
  EXPECT_EQ(report.first_broken_sequence, 10) << "the first anchor behind it";
  EXPECT_NE(report.broken.find("written anew"), std::string::npos) << report.broken;
}

// A start looks at the end of the ledger and refuses to go on from what does not fit together.
TEST_P(LedgerTamper, AStartRefusesABrokenEnd) {
  Row row = rows_[kEntries - 3];
  Flip(5, 0, &row.bytes);
  PutRow(kEntries - 2, row);
  EXPECT_EQ(depot_->TryReopen().code(), absl::StatusCode::kDataLoss);
  Undo();
  EXPECT_EQ(depot_->TryReopen(), absl::OkStatus());
  depot_->Sql({"t_cut", "DELETE FROM entries WHERE sequence > 20"});
  EXPECT_EQ(depot_->TryReopen().code(), absl::StatusCode::kDataLoss);
}

}  // namespace
}  // namespace ferrule::testing
