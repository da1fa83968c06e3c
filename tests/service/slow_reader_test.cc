// Tests service/call.cc and service/watch.cc on a reader who takes nothing for a while.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <chrono>
#include <memory>
#include <string>
#include <thread>

#include "absl/strings/numbers.h"
#include "absl/strings/str_cat.h"
#include "tests/service/gated_depot.h"

namespace ferrule::service {
namespace {

using testing::DetailsOf;

constexpr int kUnits = 6'000;  // with their notes far more than a connection holds on its way

class SlowReader : public GatedDepot {
 protected:
  void OpenFull() {
    HostOptions options;
    options.slow_reader = absl::Seconds(2);
    ASSERT_EQ(Open(options), absl::OkStatus());
    ASSERT_TRUE(host_->ledger().RecordAndWait(testing::SettingsEntry()).ok());
    for (int i = 1; i < kUnits; i += 100) {
      v1::Entry entry = testing::ReceiveUnit(absl::StrCat("K-", i), testing::kStartUs);
      entry.mutable_facts(0)->set_note(std::string(2'000, 'x'));
      for (int k = 1; k < 100; ++k) {
        v1::Fact* fact = entry.add_facts();
        *fact = entry.facts(0);
        fact->mutable_unit_received()->set_unit(absl::StrCat("K-", i + k));
        fact->mutable_unit_received()->set_serial(absl::StrCat("S-", i + k));
      }
      const auto recorded = host_->ledger().RecordAndWait(entry);
      ASSERT_TRUE(recorded.ok()) << recorded.status();
    }
    last_ = host_->ledger().head().sequence;
  }
  std::unique_ptr<grpc::ClientReader<v1::WatchEntriesResponse>> Watch(grpc::ClientContext* context,
                                                                      int64_t after) {
    v1::WatchEntriesRequest request;
    request.set_after_sequence(after);
    return v1::LedgerService::NewStub(Tcp())->WatchEntries(context, request);
  }

  int64_t last_ = 0;
};

// The position through where a reader has the feed, page after page without a gap.
void Follow(const v1::WatchEntriesResponse& page, int64_t* through) {
  for (const v1::LedgerEntry& entry : page.entries()) {
    ASSERT_EQ(entry.sequence(), *through + 1);
    *through = entry.sequence();
  }
}

TEST_F(SlowReader, IsEndedWithThePositionFromWhereToGoOn) {
  OpenFull();
  const auto context = Context("");
  const auto reader = Watch(context.get(), 0);
  std::this_thread::sleep_for(std::chrono::seconds(5));
  int64_t through = 0;
  v1::WatchEntriesResponse page;
  while (reader->Read(&page)) Follow(page, &through);
  const grpc::Status ended = reader->Finish();
  ASSERT_EQ(ended.error_code(), grpc::StatusCode::UNAVAILABLE) << ended.error_message();
  EXPECT_EQ(DetailsOf(ended).info.reason(), "SLOW_CONSUMER");
  int64_t told = -1;
  ASSERT_TRUE(absl::SimpleAtoi(DetailsOf(ended).info.metadata().at("through_sequence"), &told));
  // What was on its way when it was ended came as well, so the position told is never too far.
  EXPECT_LE(told, through);
  EXPECT_LT(through, last_);
  const auto again = Context("");
  const auto rest = Watch(again.get(), through);
  while (through < last_ && rest->Read(&page)) Follow(page, &through);
  EXPECT_EQ(through, last_);
  again->TryCancel();
}

TEST_F(SlowReader, WhoTakesNothingAtAllIsCutOffAndOthersAreServed) {
  OpenFull();
  const auto context = Context("");
  const auto stuck = Watch(context.get(), 0);
  const auto other = Context("");
  const auto reader = Watch(other.get(), 0);
  int64_t through = 0;
  v1::WatchEntriesResponse page;
  while (through < last_ && reader->Read(&page)) Follow(page, &through);
  EXPECT_EQ(through, last_);
  other->TryCancel();
  std::this_thread::sleep_for(std::chrono::seconds(2) + absl::ToChronoSeconds(kCutOff) +
                              std::chrono::seconds(3));
  while (stuck->Read(&page)) {
  }
  EXPECT_FALSE(stuck->Finish().ok());
}

}  // namespace
}  // namespace ferrule::service
