// What the door does with entries, on every engine.
#include <gtest/gtest.h>

#include <atomic>
#include <thread>
#include <vector>

#include "absl/strings/str_cat.h"
#include "core/fold/fold.h"
#include "core/ledger/chain.h"
#include "tests/support/entries.h"
#include "tests/support/ledger_depot.h"

namespace ferrule::testing {
namespace {

class LedgerRecord : public OnEveryEngine {};
FERRULE_ON_EVERY_ENGINE(LedgerRecord);

// A unit that is ready on the shelf and an order that may go out.
void PrepareTurn(LedgerDepot& depot) {
  depot.MustRecord(SettingsEntry());
  depot.MustRecord(ReceiveUnit("K-1", kStartUs));
  depot.MustRecord(MakeReady("ready-1", "K-1", kStartUs + kHourUs));
  depot.MustRecord(TakeOrder("R-1", kStartUs + 2 * kHourUs));
}

std::vector<v1::Reason> ReasonsOf(const absl::Status& status) {
  std::vector<v1::Reason> out;
  absl::StatusOr<v1::Refusal> refusal = ledger::RefusalOf(status);
  if (!refusal.ok()) return out;
  for (const v1::Finding& f : refusal->findings()) out.push_back(f.reason());
  return out;
}

TEST_P(LedgerRecord, SequenceAndChainHaveNoGaps) {
  LedgerDepot depot(GetParam());
  PrepareTurn(depot);
  std::string digest;
  int64_t sequence = 0;
  ASSERT_TRUE(depot.ledger()
                  .Read(0, "",
                        [&](const ledger::Recorded& r) {
                          EXPECT_EQ(r.sequence, ++sequence);
                          digest = ledger::ChainDigest(digest, r.bytes);
                          EXPECT_EQ(digest, r.digest);
                          return true;
                        })
                  .ok());
  EXPECT_EQ(sequence, 4);
  EXPECT_EQ(depot.ledger().head().digest, digest);
}

TEST_P(LedgerRecord, ARepeatGetsTheFirstReceiptAndChangesNothing) {
  LedgerDepot depot(GetParam());
  depot.MustRecord(SettingsEntry());
  const v1::Receipt first = depot.MustRecord(ReceiveUnit("K-1", kStartUs));
  EXPECT_FALSE(first.repeated());
  depot.clock().Set(kStartUs + 9 * kDayUs);
  v1::Receipt again = depot.MustRecord(ReceiveUnit("K-1", kStartUs));
  EXPECT_TRUE(again.repeated());
  again.set_repeated(false);
  EXPECT_EQ(again.SerializeAsString(), first.SerializeAsString());
  depot.Reopen();
  EXPECT_TRUE(depot.MustRecord(ReceiveUnit("K-1", kStartUs)).repeated());
  EXPECT_EQ(depot.ledger().head().sequence, 2);
}

TEST_P(LedgerRecord, AnIdUsedForOtherContentIsRefused) {
  LedgerDepot depot(GetParam());
  depot.MustRecord(SettingsEntry());
  depot.MustRecord(ReceiveUnit("K-1", kStartUs));
  v1::Entry other = ReceiveUnit("K-2", kStartUs);
  other.set_entry_id("receive-K-1");
  const absl::Status status = depot.Record(other).status();
  EXPECT_EQ(status.code(), absl::StatusCode::kInvalidArgument);
  EXPECT_NE(status.message().find("REQUEST_ID_REUSED"), absl::string_view::npos);
  EXPECT_EQ(depot.ledger().Get("units/K-2").status().code(), absl::StatusCode::kNotFound);
}

TEST_P(LedgerRecord, AMalformedEntryNamesItsFieldsAndMayBeSentAgainCured) {
  LedgerDepot depot(GetParam());
  depot.MustRecord(SettingsEntry());
  v1::Entry entry = ReceiveUnit("K-1", kStartUs);
  entry.mutable_facts(0)->mutable_unit_received()->clear_model();
  const absl::Status status = depot.Record(entry).status();
  EXPECT_EQ(status.code(), absl::StatusCode::kInvalidArgument);
  EXPECT_NE(status.message().find("entry.facts[0].unit_received.model"), absl::string_view::npos);
  EXPECT_EQ(depot.MustRecord(ReceiveUnit("K-1", kStartUs)).sequence(), 2);
}

TEST_P(LedgerRecord, AnEnforcedHandOverOfAnUninspectedUnitIsRefusedWhole) {
  LedgerDepot depot(GetParam());
  PrepareTurn(depot);
  depot.MustRecord(EntryOf("repair-open", kStartUs + 3 * kHourUs,
                           "repair_opened { unit: 'K-1' complaint: 'stops' }"));
  depot.MustRecord(EntryOf("repair-close", kStartUs + 4 * kHourUs,
                           "repair_closed { unit: 'K-1' work: 'new cable' }"));
  const absl::Status status =
      depot.Record(HandOver("hand-over", "K-1", "R-1", kStartUs + 5 * kHourUs)).status();
  EXPECT_EQ(status.code(), absl::StatusCode::kFailedPrecondition);
  EXPECT_THAT(ReasonsOf(status), ::testing::Contains(v1::REASON_REPAIRED_AFTER_INSPECTION));
  const v1::Finding finding = ledger::RefusalOf(status)->findings(0);
  EXPECT_NE(finding.text(), "");
  EXPECT_NE(finding.remedy(), "");
  ASSERT_GE(finding.evidence_size(), 1);
  EXPECT_EQ(finding.evidence(0).actor(), "tech-ada");
  EXPECT_EQ((*depot.ledger().Get("units/K-1"))->unit().custody(), v1::CUSTODY_PLACE);
  EXPECT_EQ((*depot.ledger().Get("orders/R-1"))->order().status(), v1::ORDER_STATUS_OPEN);
}

TEST_P(LedgerRecord, ARefusalIsRememberedEvenAfterItsCauseIsCured) {
  LedgerDepot depot(GetParam());
  depot.MustRecord(SettingsEntry());
  depot.MustRecord(ReceiveUnit("K-1", kStartUs));
  depot.MustRecord(TakeOrder("R-1", kStartUs));
  const v1::Entry early = HandOver("hand-over", "K-1", "R-1", kStartUs + 9 * kHourUs);
  EXPECT_FALSE(depot.Record(early).ok());
  depot.MustRecord(MakeReady("ready-1", "K-1", kStartUs + kHourUs));
  const absl::Status again = depot.Record(early).status();
  EXPECT_EQ(again.code(), absl::StatusCode::kFailedPrecondition);
  EXPECT_TRUE(ledger::RefusalOf(again)->repeated());
  depot.MustRecord(HandOver("hand-over-2", "K-1", "R-1", kStartUs + 9 * kHourUs));
}

TEST_P(LedgerRecord, ObservedFactsGoInAndOpenQuestions) {
  LedgerDepot depot(GetParam());
  depot.MustRecord(SettingsEntry());
  depot.MustRecord(ReceiveUnit("K-1", kStartUs));
  depot.MustRecord(TakeOrder("R-1", kStartUs));
  const v1::Receipt receipt = depot.MustRecord(
      HandOver("late-paper", "K-1", "R-1", kStartUs + 9 * kHourUs, v1::ENTRY_MODE_OBSERVED));
  EXPECT_GT(receipt.questions_size(), 0);
  const auto unit = *depot.ledger().Get("units/K-1");
  EXPECT_EQ(unit->unit().custody(), v1::CUSTODY_HOME);
  EXPECT_GT(unit->questions_size(), 0);
  // The paper that explains it arrives later and lies earlier: nothing is left to ask.
  depot.MustRecord(MakeReady("ready-1", "K-1", kStartUs + kHourUs));
  EXPECT_EQ((*depot.ledger().Get("units/K-1"))->questions_size(), 0);
  EXPECT_EQ((*depot.ledger().Get("units/K-1"))->unit().custody(), v1::CUSTODY_HOME);
}

TEST_P(LedgerRecord, ACheckKeepsNothing) {
  LedgerDepot depot(GetParam());
  depot.MustRecord(SettingsEntry());
  EXPECT_TRUE(depot.Check(ReceiveUnit("K-1", kStartUs)).ok());
  EXPECT_FALSE(depot.ledger().Get("units/K-1").ok());
  EXPECT_FALSE(depot.Check(MakeReady("ready", "K-1", kStartUs)).ok());
  EXPECT_EQ(depot.ledger().head().sequence, 1);
  EXPECT_FALSE(depot.MustRecord(ReceiveUnit("K-1", kStartUs)).repeated());
}

TEST_P(LedgerRecord, AnyOrderOfArrivalGivesTheSameState) {
  std::vector<v1::Entry> entries = {ReceiveUnit("K-1", kStartUs),
                                    MakeReady("ready-1", "K-1", kStartUs + kHourUs),
                                    TakeOrder("R-1", kStartUs + 2 * kHourUs),
                                    HandOver("out", "K-1", "R-1", kStartUs + 3 * kHourUs)};
  for (v1::Entry& entry : entries) entry.set_mode(v1::ENTRY_MODE_OBSERVED);
  std::string unit;
  std::string order;
  for (bool forwards : {true, false}) {
    LedgerDepot depot(GetParam());
    depot.MustRecord(SettingsEntry());
    for (size_t i = 0; i < entries.size(); ++i) {
      depot.MustRecord(entries[forwards ? i : entries.size() - 1 - i]);
    }
    const std::string this_unit = (*depot.ledger().Get("units/K-1"))->SerializeAsString();
    const std::string this_order = (*depot.ledger().Get("orders/R-1"))->SerializeAsString();
    if (!forwards) {
      EXPECT_EQ(unit, this_unit);
      EXPECT_EQ(order, this_order);
    }
    unit = this_unit;
    order = this_order;
    EXPECT_TRUE(depot.MustVerify().ok());
  }
}

TEST_P(LedgerRecord, AReversalUndoesAFactAndBothStayReadable) {
  LedgerDepot depot(GetParam());
  PrepareTurn(depot);
  const std::string before = (*depot.ledger().Get("units/K-1"))->unit().SerializeAsString();
  depot.MustRecord(EntryOf("hold-1", kStartUs + 3 * kHourUs,
                           "hold_placed { unit: 'K-1' kind: HOLD_KIND_OTHER reason: 'typo' }"));
  EXPECT_EQ((*depot.ledger().Get("units/K-1"))->unit().holds_size(), 1);
  depot.MustRecord(EntryOf("undo", kStartUs + 4 * kHourUs,
                           "reversal { fact { entry_id: 'hold-1' } subjects: 'units/K-1' "
                           "because: 'wrong unit' }"));
  EXPECT_EQ((*depot.ledger().Get("units/K-1"))->unit().SerializeAsString(), before);
  int entries = 0;
  ASSERT_TRUE(depot.ledger()
                  .Read(0, "units/K-1",
                        [&](const ledger::Recorded&) {
                          ++entries;
                          return true;
                        })
                  .ok());
  EXPECT_EQ(entries, 4);
}

TEST_P(LedgerRecord, SettingsThatReachBackJudgeEarlierFactsAgain) {
  LedgerDepot depot(GetParam());
  PrepareTurn(depot);
  // From two hours before the cleaning on, the label asks for ten minutes: two were not enough.
  v1::Entry stricter =
      EntryOf("settings-2", kStartUs, "settings_put { settings {" + SmallSettings("2") + "} }");
  v1::SettingsPut& put = *stricter.mutable_facts(0)->mutable_settings_put();
  put.mutable_settings()->mutable_cleaning_products(0)->set_contact_time_s(600);
  time::SetMicros(kStartUs - kHourUs, put.mutable_from_time());
  depot.MustRecord(stricter);
  const auto unit = *depot.ledger().Get("units/K-1");
  EXPECT_EQ(unit->unit().hygiene(), v1::HYGIENE_SOILED);
  EXPECT_GT(unit->questions_size(), 0);
  EXPECT_TRUE(depot.MustVerify().ok());
}

TEST_P(LedgerRecord, ABatchDecidesEachEntryAfterThoseBeforeIt) {
  LedgerDepot depot(GetParam());
  depot.MustRecord(SettingsEntry());
  std::vector<v1::Entry> batch = {
      HandOver("too-early", "K-1", "R-1", kStartUs + kHourUs),
      ReceiveUnit("K-1", kStartUs),
      MakeReady("ready-1", "K-1", kStartUs + 2 * kHourUs),
      ReceiveUnit("K-1", kStartUs),
      TakeOrder("R-1", kStartUs),
      HandOver("out", "K-1", "R-1", kStartUs + 4 * kHourUs),
  };
  const auto outcomes = depot.RecordBatch(batch);
  ASSERT_EQ(outcomes.size(), 6u);
  EXPECT_FALSE(outcomes[0].ok());
  EXPECT_TRUE(outcomes[1].ok());
  EXPECT_TRUE(outcomes[2].ok()) << outcomes[2].status();
  ASSERT_TRUE(outcomes[3].ok());
  EXPECT_TRUE(outcomes[3]->repeated());
  EXPECT_TRUE(outcomes[5].ok()) << outcomes[5].status();
  EXPECT_EQ((*depot.ledger().Get("units/K-1"))->unit().commitment(), v1::COMMITMENT_ON_RENT);
}

TEST_P(LedgerRecord, AsKnownThenIsReproducible) {
  LedgerDepot depot(GetParam());
  depot.clock().Set(kStartUs);
  depot.MustRecord(SettingsEntry());
  depot.MustRecord(ReceiveUnit("K-1", kStartUs - kHourUs));
  const std::string then = (*depot.ledger().Get("units/K-1"))->SerializeAsString();
  depot.clock().Set(kStartUs + kDayUs);
  depot.MustRecord(EntryOf("hold", kStartUs - 30 * kMinuteUs,
                           "hold_placed { unit: 'K-1' kind: HOLD_KIND_RECALL reason: 'notice' }"));
  EXPECT_NE((*depot.ledger().Get("units/K-1"))->SerializeAsString(), then);
  auto known = depot.ledger().GetKnownAt("units/K-1", kStartUs + kHourUs);
  ASSERT_TRUE(known.ok()) << known.status();
  EXPECT_EQ((*known)->SerializeAsString(), then);
  EXPECT_EQ(depot.ledger().GetKnownAt("units/K-1", kStartUs - kDayUs).status().code(),
            absl::StatusCode::kNotFound);
}

TEST_P(LedgerRecord, KnownTimeNeverFallsWhenTheClockDoes) {
  LedgerDepot depot(GetParam());
  depot.MustRecord(SettingsEntry());
  const int64_t first =
      time::ToMicros(depot.MustRecord(ReceiveUnit("K-1", kStartUs)).recorded_time());
  depot.clock().Set(depot.clock().NowMicros() - 3 * kHourUs);
  const int64_t second =
      time::ToMicros(depot.MustRecord(ReceiveUnit("K-2", kStartUs)).recorded_time());
  EXPECT_GE(second, first);
}

TEST_P(LedgerRecord, OneUnitIsNeverHeldForTwoOrdersAtOnce) {
  LedgerDepot depot(GetParam());
  PrepareTurn(depot);
  constexpr int kCallers = 16;
  for (int i = 0; i < kCallers; ++i) {
    depot.MustRecord(TakeOrder(absl::StrCat("Q-", i), kStartUs + kHourUs));
  }
  std::atomic<int> won = 0;
  std::atomic<int> refused = 0;
  std::vector<std::thread> callers;
  for (int i = 0; i < kCallers; ++i) {
    callers.emplace_back([&, i] {
      const absl::Status status =
          depot
              .Record(EntryOf(absl::StrCat("hold-", i), kStartUs + 5 * kHourUs + i,
                              absl::StrCat("unit_held_for_order { unit: 'K-1' order: 'Q-", i,
                                           "' firm: true }")))
              .status();
      ++(status.ok() ? won : refused);
    });
  }
  for (std::thread& t : callers) t.join();
  EXPECT_EQ(won, 1);
  EXPECT_EQ(refused, kCallers - 1);
  EXPECT_TRUE(depot.MustVerify().ok());
}

}  // namespace
}  // namespace ferrule::testing
