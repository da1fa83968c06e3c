// A generated year through the real door: no enforced entry is refused, and the ledger verifies.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <map>
#include <string>
#include <vector>

#include "core/demo/simulator.h"
#include "tests/support/ledger_depot.h"

namespace ferrule::demo {
namespace {

TEST(RecordedDepot, NoEntryIsRefusedAndTheLedgerVerifies) {
  testing::LedgerDepot depot("sqlite");
  Simulator simulator({.seed = 4, .years = 1, .units = 60, .batch_span_us = 4 * 3'600'000'000});
  int entries = 0;
  int questions = 0;
  std::map<std::string, int> refused;
  for (Batch batch; simulator.Next(&batch);) {
    depot.clock().Set(batch.recorded_us);
    const std::vector<v1::Entry> sent = batch.entries;
    const auto receipts = depot.RecordBatch(std::move(batch.entries));
    ASSERT_EQ(receipts.size(), sent.size());
    for (size_t i = 0; i < sent.size(); ++i) {
      ++entries;
      if (receipts[i].ok()) {
        questions += receipts[i]->questions_size();
        continue;
      }
      const std::string why(receipts[i].status().message());
      if (refused[why.substr(0, 40)]++ == 0) {
        ADD_FAILURE() << why << "\n" << sent[i].ShortDebugString();
      }
    }
  }
  EXPECT_GT(entries, 3'000);
  EXPECT_GT(questions, 0);
  const ledger::VerifyReport report = depot.MustVerify();
  EXPECT_TRUE(report.ok()) << report.broken;
  EXPECT_EQ(report.entries, entries);
}

}  // namespace
}  // namespace ferrule::demo
