#include "core/outlook/turns.h"

#include "gtest/gtest.h"
#include "tests/core/outlook/built_records.h"

namespace ferrule::outlook {
namespace {

TEST(Turns, AreFromOutToOutAgain) {
  BuiltRecords built;
  built.Unit("K-1", 0);
  built.Order("R-1", 1, 5);
  built.Order("R-2", 20, 40);
  built.Rental("K-1", "R-1", 5, 27, 29);
  built.HandOver("K-1", "R-2", At(40));
  const auto turns = TurnsOf(built.AsOf(At(50)));
  ASSERT_EQ(turns.size(), 2u);
  EXPECT_EQ(turns[0].order, "R-1");
  EXPECT_EQ(turns[0].out_us, At(5));
  EXPECT_EQ(turns[0].back_us, At(27));
  EXPECT_EQ(turns[0].received_us, At(27, 15));
  EXPECT_EQ(turns[0].cleaned_us, At(29, 9));
  EXPECT_EQ(turns[0].passed_us, At(29, 10));
  EXPECT_EQ(turns[0].ready_us, At(29, 11));
  EXPECT_EQ(turns[0].next_us, At(40));
  EXPECT_FALSE(turns[0].lost);
  EXPECT_EQ(turns[1].back_us, kNever);
}

TEST(Turns, AFailedPassPutsTheEarlierOneAway) {
  BuiltRecords built;
  built.Unit("K-1", 0);
  built.Order("R-1", 1, 5);
  built.HandOver("K-1", "R-1", At(5));
  built.PickUp("K-1", "R-1", At(20));
  built.Step("K-1", At(20, 15), v1::Fact::kReceivedBack, [](UnitStep& s) { s.place = "dock"; });
  built.Step("K-1", At(21, 9), v1::Fact::kCleaningFinished,
             [](UnitStep& s) { s.hygiene = v1::HYGIENE_CLEANED; });
  built.Step("K-1", At(21, 10), v1::Fact::kInspectionDone,
             [](UnitStep& s) { s.condition = v1::CONDITION_PASSED; });
  built.Step("K-1", At(21, 11), v1::Fact::kRepairOpened,
             [](UnitStep& s) { s.condition = v1::CONDITION_UNDER_REPAIR; });
  built.Step("K-1", At(23, 10), v1::Fact::kInspectionDone, [](UnitStep& s) {
    s.condition = v1::CONDITION_PASSED;
    s.ready = true;
  });
  const auto turns = TurnsOf(built.AsOf(At(30)));
  ASSERT_EQ(turns.size(), 1u);
  EXPECT_EQ(turns[0].passed_us, At(23, 10));
  EXPECT_EQ(turns[0].ready_us, At(23, 10));
}

TEST(Turns, AUnitThatGoesMissingAtHomeIsLost) {
  BuiltRecords built;
  built.Unit("K-1", 0);
  built.Order("R-1", 1, 5);
  built.HandOver("K-1", "R-1", At(5));
  built.Step("K-1", At(60), v1::Fact::kUnitMissing,
             [](UnitStep& s) { s.custody = v1::CUSTODY_UNACCOUNTED; });
  const auto turns = TurnsOf(built.AsOf(At(70)));
  ASSERT_EQ(turns.size(), 1u);
  EXPECT_TRUE(turns[0].lost);
  EXPECT_EQ(turns[0].back_us, At(60));
  EXPECT_EQ(turns[0].ready_us, kNever);
}

TEST(Spans, AddUpToTheWholeTurnAndSplitTheHomeAtItsDays) {
  BuiltRecords built;
  built.Unit("K-1", 0);
  built.Order("R-1", 1, 5, 10);
  built.Order("R-2", 2, 40);
  // Out two days before the operation; due on day 12 (3 + 10 - 1), picked up on day 15.
  built.HandOver("K-1", "R-1", At(3));
  built.PickUp("K-1", "R-1", At(15));
  built.MakeReady("K-1", At(16), At(17), At(18), At(19));
  built.HandOver("K-1", "R-2", At(40));
  const Records& records = built.AsOf(At(50));
  const auto spans = SpansOf(records, records.units[0], At(3), At(40));
  double sum = 0;
  std::map<Stage, double> days;
  for (size_t i = 0; i < spans.size(); ++i) {
    const double length = static_cast<double>(spans[i].to_us - spans[i].from_us) / kDayLength;
    days[spans[i].stage] += length;
    sum += length;
    if (i > 0) {
      EXPECT_EQ(spans[i].from_us, spans[i - 1].to_us);
    }
  }
  EXPECT_DOUBLE_EQ(sum, 37);
  EXPECT_DOUBLE_EQ(days[Stage::kBeforeSurgery], 1.5);  // day 3 noon to day 5
  EXPECT_DOUBLE_EQ(days[Stage::kInUse], 8);            // to the end of day 12
  EXPECT_DOUBLE_EQ(days[Stage::kOverdue], 2.5);
  EXPECT_DOUBLE_EQ(days[Stage::kVan], 1);
  EXPECT_DOUBLE_EQ(days[Stage::kDock], 1);
  EXPECT_DOUBLE_EQ(days[Stage::kToInspect], 1);
  EXPECT_DOUBLE_EQ(days[Stage::kBlocked], 1);  // passed, and not on the shelf yet
  EXPECT_DOUBLE_EQ(days[Stage::kIdle], 21);
}

TEST(Spans, EveryStageHasWords) {
  for (int s = 0; s < kStages; ++s) EXPECT_STRNE(StageWords(static_cast<Stage>(s)), "");
}

}  // namespace
}  // namespace ferrule::outlook
