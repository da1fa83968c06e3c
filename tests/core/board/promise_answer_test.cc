// Answers about promises are the same on both engines, and follow the records.
// Tests core/board/pool_index.cc, core/board/move_preview.cc, core/board/fit_report.cc,
// Tests core/board/promise_report.cc.
#include "core/board/promise_answer.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "absl/strings/str_cat.h"
#include "core/board/fit_report.h"
#include "core/board/move_preview.h"
#include "core/board/promise_report.h"
#include "tests/support/entries.h"
#include "tests/support/ledger_depot.h"

namespace ferrule::board {
namespace {

using testing::EntryOf;
using testing::kDayUs;
using testing::kHourUs;
using testing::kStartUs;
using testing::LedgerDepot;

constexpr int64_t kNow = kStartUs + 4 * kHourUs;

class PromiseAnswer : public testing::OnEveryEngine {
 protected:
  PromiseAnswer() {
    depot_.clock().Set(kNow);
    depot_.MustRecord(testing::SettingsEntry());
    for (const char* unit : {"K-1", "K-2"}) {
      depot_.MustRecord(testing::ReceiveUnit(unit, kStartUs - 9 * kDayUs));
      depot_.MustRecord(
          testing::MakeReady(absl::StrCat("ready-", unit), unit, kStartUs - 9 * kDayUs + kHourUs));
    }
    depot_.MustRecord(testing::TakeOrder("R-1", kStartUs + kHourUs));
  }
  PoolMembers Members() {
    const auto members = desk_.index.Members(depot_.ledger(), "north", "knee");
    EXPECT_TRUE(members.ok()) << members.status();
    return *members;
  }
  v1::AssessPromiseResponse Promise(const std::string& order) {
    v1::AssessPromiseRequest request;
    request.set_name("orders/" + order);
    const auto answer = AssessPromise(depot_.ledger(), desk_, request, kNow);
    EXPECT_TRUE(answer.ok()) << answer.status();
    return answer.ok() ? *answer : v1::AssessPromiseResponse();
  }

  LedgerDepot depot_{GetParam()};
  PromiseDesk desk_;
};
FERRULE_ON_EVERY_ENGINE(PromiseAnswer);

TEST_P(PromiseAnswer, TheIndexFollowsTheRecords) {
  EXPECT_THAT(Members().units, ::testing::ElementsAre("units/K-1", "units/K-2"));
  EXPECT_THAT(Members().orders, ::testing::ElementsAre("orders/R-1"));
  depot_.MustRecord(EntryOf("gone", kStartUs + 2 * kHourUs,
                            "unit_written_off { unit: 'K-1' reason: 'water' approved_by: 'x' }"));
  depot_.MustRecord(EntryOf("off", kStartUs + 2 * kHourUs, "order_cancelled { order: 'R-1' }"));
  depot_.MustRecord(EntryOf("moved", kStartUs + 2 * kHourUs,
                            "unit_moved { unit: 'K-2' to_place: 'west-shelf' }"));
  EXPECT_THAT(Members().units, ::testing::IsEmpty());
  EXPECT_THAT(Members().orders, ::testing::IsEmpty());
  EXPECT_EQ(Members().sequence, depot_.ledger().head().sequence);
  const auto west = desk_.index.Members(depot_.ledger(), "west", "knee");
  EXPECT_THAT(west->units, ::testing::ElementsAre("units/K-2"));
  // A new one reads the same at once.
  PoolIndex anew;
  EXPECT_EQ(anew.Members(depot_.ledger(), "west", "knee")->units, west->units);
}

TEST_P(PromiseAnswer, NewSettingsMoveUnitsToTheirNewClass) {
  EXPECT_EQ(Members().units.size(), 2u);
  std::string text = testing::SmallSettings("2");
  for (size_t at = text.find("'knee'"); at != std::string::npos; at = text.find("'knee'", at + 1)) {
    text.replace(at, 6, "'leg'");
  }
  depot_.MustRecord(
      EntryOf("settings-2", kNow,
              "settings_put { settings {" + text + "} from_time { seconds: 1767225600 } }",
              v1::ENTRY_MODE_OBSERVED));
  EXPECT_EQ(Members().units.size(), 0u);
  EXPECT_EQ(desk_.index.Members(depot_.ledger(), "north", "leg")->units.size(), 2u);
}

TEST_P(PromiseAnswer, IsWorkedOutRecordedAndMoved) {
  const v1::AssessPromiseResponse answer = Promise("R-1");
  EXPECT_EQ(answer.verdict(), v1::PROMISE_VERDICT_YES);
  EXPECT_EQ(answer.sources(0).unit(), "K-1");
  EXPECT_EQ(answer.as_of_sequence(), depot_.ledger().head().sequence);
  v1::Entry entry;
  entry.set_entry_id("promise");
  entry.set_actor("intake-ida");
  *entry.mutable_facts() = answer.proposal();
  depot_.MustRecord(entry);
  v1::AssessMoveRequest move;
  move.set_name("orders/R-1");
  *move.mutable_surgery_date() = time::FromDay(absl::CivilDay(2026, 3, 8));
  const auto moved = AssessMove(depot_.ledger(), desk_, move, kNow);
  ASSERT_TRUE(moved.ok()) << moved.status();
  EXPECT_EQ(moved->broken_count(), 0);
  EXPECT_EQ(moved->odds_permille(), 1000);
  const auto report = ReportPromises(depot_.ledger(), desk_, {}, kNow);
  ASSERT_TRUE(report.ok()) << report.status();
  ASSERT_EQ(report->rows_size(), 1);
  EXPECT_EQ(report->rows(0).promise().from_date().day(), 7);
  EXPECT_EQ(depot_.MustVerify().differing_states, std::vector<std::string>());
}

TEST_P(PromiseAnswer, FitsAreRankedAndWaitingIsListed) {
  v1::AssessFitRequest fit;
  fit.set_name("orders/R-1");
  auto fits = AssessFit(depot_.ledger(), desk_, fit, kNow);
  ASSERT_TRUE(fits.ok()) << fits.status();
  ASSERT_EQ(fits->fits_size(), 2);
  EXPECT_EQ(fits->fits(0).unit(), "K-1");
  // One that is soiled comes after one that is ready.
  depot_.MustRecord(EntryOf("soiled", kStartUs + 2 * kHourUs,
                            "unit_moved { unit: 'K-1' to_place: 'north-dock' }"));
  fits = AssessFit(depot_.ledger(), desk_, fit, kNow);
  EXPECT_EQ(fits->fits(0).unit(), "K-2");
  EXPECT_FALSE(fits->fits(1).not_ready().empty());
  depot_.MustRecord(EntryOf("wait", kStartUs + 2 * kHourUs, "waiting_noted { order: 'R-1' }"));
  const auto waiting = ListWaiting(depot_.ledger(), desk_, {}, kNow);
  ASSERT_TRUE(waiting.ok()) << waiting.status();
  ASSERT_EQ(waiting->rows_size(), 1);
  EXPECT_EQ(waiting->rows(0).order(), "R-1");
}

}  // namespace
}  // namespace ferrule::board
