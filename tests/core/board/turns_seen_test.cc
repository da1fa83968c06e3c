// Tests core/board/turns_seen.cc.
#include "core/board/turns_seen.h"

#include <gtest/gtest.h>

#include "core/time/civil.h"
#include "google/protobuf/text_format.h"

namespace ferrule::board {
namespace {

constexpr char kSettings[] = R"(
  branches { id: 'north' time_zone: 'Europe/Berlin'
    places { id: 'van' kind: PLACE_KIND_VAN_DIRTY }
    places { id: 'dock' kind: PLACE_KIND_DOCK }
    places { id: 'bench' kind: PLACE_KIND_BENCH }
    places { id: 'shelf' kind: PLACE_KIND_CLEAN_SHELF } }
)";

class TurnsSeen : public ::testing::Test {
 protected:
  TurnsSeen()
      : rules_([] {
          v1::Settings settings;
          EXPECT_TRUE(google::protobuf::TextFormat::ParseFromString(kSettings, &settings));
          return settings;
        }()) {}

  // One after the other, each from that local time on.
  std::vector<promise::TurnSeen> Turns(
      const std::vector<std::pair<std::string, std::string>>& holders) {
    std::vector<CustodySpan> spans;
    for (const auto& [at, holder] : holders) {
      const int64_t us = time::ParseInstant(at, rules_.ZoneOf("north")).value();
      if (!spans.empty()) spans.back().to_us = us;
      spans.push_back({us, INT64_MAX, holder});
    }
    return TurnsOf(spans, rules_);
  }
  static int64_t Day(const std::string& day) {
    return time::DayNumber(time::ParseDay(day).value());
  }

  depot::Rules rules_;
};

TEST_F(TurnsSeen, FromThePatientOverVanAndBenchToTheShelf) {
  const auto turns = Turns({{"2026-05-01 12:00", "orders/R-1"},
                            {"2026-05-20 23:30", "places/van"},
                            {"2026-05-21 08:00", "places/dock"},
                            {"2026-05-22 08:00", "places/bench"},
                            {"2026-05-26 16:00", "places/shelf"},
                            {"2026-05-28 09:00", "orders/R-2"}});
  ASSERT_EQ(turns.size(), 1u) << "the second rental goes on";
  EXPECT_EQ(turns[0].left, Day("2026-05-20")) << "by the branch's clock, not by Greenwich's";
  EXPECT_EQ(turns[0].received, Day("2026-05-21"));
  EXPECT_EQ(turns[0].ready, Day("2026-05-26"));
  EXPECT_FALSE(turns[0].gone);
}

TEST_F(TurnsSeen, OneThatGoesOnIsOpen) {
  const auto turns =
      Turns({{"2026-05-01 12:00", "orders/R-1"}, {"2026-05-20 15:00", "places/van"}});
  ASSERT_EQ(turns.size(), 1u);
  EXPECT_FALSE(turns[0].received);
  EXPECT_FALSE(turns[0].ready);
}

TEST_F(TurnsSeen, LossEndsOneAndAPatientsNextRentalBeginsNone) {
  const auto lost = Turns({{"2026-05-01 12:00", "orders/R-1"},
                           {"2026-05-20 15:00", "places/dock"},
                           {"2026-05-23 15:00", "nobody"},
                           {"2026-06-23 15:00", "places/shelf"}});
  ASSERT_EQ(lost.size(), 1u);
  EXPECT_EQ(lost[0].gone, Day("2026-05-23"));
  EXPECT_FALSE(lost[0].ready);
  const auto carried = Turns({{"2026-05-01 12:00", "orders/R-1"},
                              {"2026-05-20 15:00", "orders/R-2"},
                              {"2026-06-20 15:00", "places/shelf"}});
  ASSERT_EQ(carried.size(), 1u);
  EXPECT_EQ(carried[0].left, Day("2026-06-20"));
}

TEST_F(TurnsSeen, TheWayToAnotherBranchBelongsToIt) {
  const auto turns = Turns({{"2026-05-01 12:00", "orders/R-1"},
                            {"2026-05-20 15:00", "places/dock"},
                            {"2026-05-21 15:00", "transfers/T-1"},
                            {"2026-05-23 15:00", "places/shelf"}});
  ASSERT_EQ(turns.size(), 1u);
  EXPECT_EQ(turns[0].ready, Day("2026-05-23"));
}

}  // namespace
}  // namespace ferrule::board
