// Cleanings with the wet time kept beside the label's.
#include "core/bench/cleanings.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/support/folded_depot.h"

namespace ferrule::bench {
namespace {

using ferrule::testing::FoldedDepot;

TEST(CleaningRow, SaysWhatWasKeptAndWhatTheLabelAsked) {
  FoldedDepot d;
  d.Receive("K-1", 0);
  d.Clean("K-1", 10, "foam", 599, "product_lot: 'F-1'");
  d.Tell(20, "cleaning_started { unit: 'K-1' }");
  d.Clean("K-1", 30, "foam", 600, "extra: 'smoke'");
  d.Clean("K-1", 50, "soap", 600);
  std::vector<v1::CleaningRow> rows;
  Replay("units/K-1", d.FactsOf("units/K-1"), d.book(), [&](const Moment& moment) {
    v1::CleaningRow row;
    if (CleaningRowOf(moment, d.book(), &row)) rows.push_back(row);
  });
  ASSERT_EQ(rows.size(), 3u);
  EXPECT_EQ(rows[0].wet_s(), 599);
  EXPECT_EQ(rows[0].label_s(), 600);
  EXPECT_FALSE(rows[0].counted());
  EXPECT_EQ(rows[0].because(), v1::REASON_WET_TIME_SHORT);
  EXPECT_EQ(rows[0].product_lot(), "F-1");
  EXPECT_TRUE(rows[1].counted());
  EXPECT_EQ(rows[0].minutes(), 0) << "nobody recorded its beginning";
  EXPECT_EQ(rows[1].minutes(), 10);
  EXPECT_THAT(rows[1].extra(), ::testing::ElementsAre("smoke"));
  EXPECT_EQ(rows[2].label_s(), 0) << "no such product";
  EXPECT_EQ(rows[2].because(), v1::REASON_PRODUCT_UNKNOWN);
}

}  // namespace
}  // namespace ferrule::bench
