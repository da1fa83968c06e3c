// Under which key an entry is found by its id, and that entries which share one are told apart.
// Tests EntryKey of core/ledger/chain.h and what stands on it.
#include <gtest/gtest.h>

#include <set>
#include <string>
#include <unordered_map>

#include "absl/strings/str_cat.h"
#include "core/fact/timed_id.h"
#include "core/ledger/chain.h"
#include "tests/support/entries.h"
#include "tests/support/ledger_depot.h"

namespace ferrule::testing {
namespace {

using ledger::EntryKey;

constexpr int64_t kMs = kStartUs / 1000;

// The id that number `n` of a sender has who makes them all in one millisecond.
std::string IdOf(int n, int64_t ms = kMs) {
  const auto low = static_cast<uint8_t>(n), high = static_cast<uint8_t>(n >> 8);
  return fact::TimedId(ms, {high, low, high, low, 0, 0, 0, 0, high, low});
}

v1::Entry Moved(const std::string& id, const std::string& place = "north-dock") {
  return EntryOf(id, kStartUs + kHourUs,
                 absl::StrCat("unit_moved { unit: 'K-1' to_place: '", place, "' }"));
}

// Computed with another program, Python's hashlib.
TEST(EntryKey, IsTheTimeWithAPartOfTheHashOrTheHash) {
  // The example of RFC 9562, appendix A.6, of 1645557742000 ms.
  EXPECT_EQ(EntryKey("017F22E2-79B0-7CC3-98C4-DC0C0C07398F"), 1645557742000 << 20 | 975442);
  EXPECT_EQ(EntryKey("entry-1"), 6786182598439292278);
  // A time that nobody will live to see is no time.
  EXPECT_EQ(EntryKey("ffffffff-ffff-7fff-bfff-ffffffffffff"), 8152928800048953128);
  EXPECT_GT(EntryKey(IdOf(1, (int64_t{1} << 43) - 1)), int64_t{0x7FFFFFFFFFF} << 20);
}

TEST(EntryKey, FollowsTheTime) {
  for (int n = 1; n < 1000; ++n) {
    EXPECT_LT(EntryKey(IdOf(1000 - n, kMs + n - 1)), EntryKey(IdOf(n, kMs + n)));
  }
}

TEST(EntryKey, IdsOfOneMillisecondLieApart) {
  std::set<int64_t> keys;
  for (int n = 0; n < 10'000; ++n) keys.insert(EntryKey(IdOf(n)));
  // Of 10,000 draws out of 2^20 some 50 fall on one that was drawn before.
  EXPECT_GT(keys.size(), 9'900u);
}

class LedgerKeys : public OnEveryEngine {
 protected:
  void SetUp() override {
    OnEveryEngine::SetUp();
    depot_ = std::make_unique<LedgerDepot>(GetParam());
    depot_->MustRecord(SettingsEntry());
    depot_->MustRecord(ReceiveUnit("K-1", kStartUs));
  }
  // As a program before EntryKey knew of times filed it.
  void FileUnderHash(const std::string& id, int64_t sequence) {
    const std::string digest = ledger::Sha256(id);
    uint64_t hash = 0;
    for (int i = 0; i < 8; ++i) hash = hash << 8 | static_cast<unsigned char>(digest[i]);
    depot_->Sql({"t_key", "UPDATE entries SET id_key = $1 WHERE sequence = $2"},
                {store::Value::Int(static_cast<int64_t>(hash)), store::Value::Int(sequence)});
  }
  void ExpectRepeat(const v1::Entry& entry, const v1::Receipt& first) {
    const v1::Receipt again = depot_->MustRecord(entry);
    EXPECT_TRUE(again.repeated()) << entry.entry_id();
    EXPECT_EQ(again.sequence(), first.sequence());
    EXPECT_EQ(again.digest(), first.digest());
  }

  std::unique_ptr<LedgerDepot> depot_;
};
FERRULE_ON_EVERY_ENGINE(LedgerKeys);

TEST_P(LedgerKeys, IdsThatShareAKeyAreToldApart) {
  std::unordered_map<int64_t, int> seen;
  std::pair<int, int> alike{-1, -1};
  for (int n = 0; alike.first < 0; ++n) {
    ASSERT_LT(n, 1 << 16);
    const auto [earlier, is_new] = seen.emplace(EntryKey(IdOf(n)), n);
    if (!is_new) alike = {earlier->second, n};
  }
  const v1::Entry one = Moved(IdOf(alike.first)), other = Moved(IdOf(alike.second), "north-bench");
  ASSERT_EQ(EntryKey(one.entry_id()), EntryKey(other.entry_id()));
  const v1::Receipt first = depot_->MustRecord(one);
  const v1::Receipt second = depot_->MustRecord(other);
  EXPECT_FALSE(second.repeated());
  EXPECT_EQ(second.sequence(), first.sequence() + 1);
  ExpectRepeat(other, second);
  ExpectRepeat(one, first);
  // Other content under an id that was used is refused, whatever shares its key.
  EXPECT_EQ(depot_->Record(Moved(one.entry_id(), "north-bench")).status().code(),
            absl::StatusCode::kInvalidArgument);
  // Both at once.
  const auto again = depot_->RecordBatch({other, one});
  EXPECT_EQ(again[0]->sequence(), second.sequence());
  EXPECT_EQ(again[1]->sequence(), first.sequence());
  EXPECT_TRUE(depot_->MustVerify().ok());
}

// A wrong key means that a repeat is not recognised.
TEST_P(LedgerKeys, AWrongKeyIsFoundAndMended) {
  const v1::Entry entry = Moved(IdOf(1)), foreign = Moved("move-1", "north-bench");
  const v1::Receipt first = depot_->MustRecord(entry), second = depot_->MustRecord(foreign);
  for (const v1::Receipt& receipt : {first, second}) {
    depot_->Sql({"t_wrong", "UPDATE entries SET id_key = id_key + 1 WHERE sequence = $1"},
                {store::Value::Int(receipt.sequence())});
    const ledger::VerifyReport report = depot_->MustVerify();
    EXPECT_EQ(report.first_broken_sequence, 0) << report.broken;
    ASSERT_EQ(report.differing_states.size(), 1u);
    EXPECT_NE(report.differing_states[0].find(absl::StrCat("entry ", receipt.sequence(), ":")),
              std::string::npos)
        << report.differing_states[0];
    depot_->MustRebuild();
    EXPECT_TRUE(depot_->MustVerify().ok());
  }
  ExpectRepeat(entry, first);
  ExpectRepeat(foreign, second);
}

// More of them than one statement takes.
TEST_P(LedgerKeys, ALedgerOfHashesIsFiledAnewByARebuild) {
  constexpr int kEntries = 1'201;
  std::vector<v1::Entry> entries;
  for (int n = 0; n < kEntries; ++n) entries.push_back(Moved(IdOf(n, kMs + n % 7)));
  const auto receipts = depot_->RecordBatch(entries);
  // All at once, with a number that no hash gives.
  depot_->Sql({"t_keys", "UPDATE entries SET id_key = -sequence WHERE sequence > 2"});
  FileUnderHash(entries[0].entry_id(), receipts[0]->sequence());
  EXPECT_EQ(depot_->MustVerify().differing_states.size(), 20u);
  depot_->MustRebuild();
  EXPECT_TRUE(depot_->MustVerify().ok());
  for (const int n : {0, 1, 499, 500, 501, kEntries - 1}) {
    ExpectRepeat(entries[static_cast<size_t>(n)], *receipts[static_cast<size_t>(n)]);
  }
}

}  // namespace
}  // namespace ferrule::testing
