#include "service/watch.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <atomic>
#include <memory>
#include <string>
#include <thread>
#include <vector>

#include "absl/strings/str_cat.h"
#include "tests/service/served_depot.h"
#include "tests/support/entries.h"

namespace ferrule::service {
namespace {

using ferrule::testing::DetailsOf;
using ferrule::testing::kStartUs;
using ferrule::testing::ServedDepot;
using ferrule::testing::Transport;

// One feed, read by a blocking client.
class Feed {
 public:
  Feed(v1::LedgerService::Stub& stub, int64_t after) {
    v1::WatchEntriesRequest request;
    request.set_after_sequence(after);
    reader_ = stub.WatchEntries(&context_, request);
  }
  ~Feed() {
    context_.TryCancel();
    if (!ended_) End();
  }
  bool Next(v1::WatchEntriesResponse* message) { return reader_->Read(message); }
  void Cancel() { context_.TryCancel(); }
  grpc::Status End() {
    v1::WatchEntriesResponse rest;
    while (reader_->Read(&rest)) {
    }
    ended_ = true;
    return reader_->Finish();
  }

 private:
  grpc::ClientContext context_;
  std::unique_ptr<grpc::ClientReader<v1::WatchEntriesResponse>> reader_;
  bool ended_ = false;
};

class WatchEntries : public ::testing::TestWithParam<Transport> {
 protected:
  WatchEntries()
      : depot_(absl::Seconds(1)), stub_(v1::LedgerService::NewStub(depot_.Channel(GetParam()))) {}

  absl::StatusOr<v1::Receipt> Receive(const std::string& unit) {
    return depot_.host().ledger().RecordAndWait(ferrule::testing::ReceiveUnit(unit, kStartUs));
  }
  void RecordSettings() {
    ASSERT_TRUE(depot_.host().ledger().RecordAndWait(ferrule::testing::SettingsEntry()).ok());
  }
  // Reads until `last`, checking that no position is missed or repeated.
  void ReadGapFree(Feed& feed, int64_t after, int64_t last) {
    v1::WatchEntriesResponse message;
    while (after < last) {
      ASSERT_TRUE(feed.Next(&message)) << "the feed ended after " << after;
      for (const v1::LedgerEntry& entry : message.entries()) {
        ASSERT_EQ(entry.sequence(), after + 1);
        after = entry.sequence();
      }
      ASSERT_EQ(message.through_sequence(), after);
    }
  }

  ServedDepot depot_;
  std::unique_ptr<v1::LedgerService::Stub> stub_;
};

INSTANTIATE_TEST_SUITE_P(Transports, WatchEntries,
                         ::testing::Values(Transport::kInProcess, Transport::kTcp),
                         ferrule::testing::TransportName);

TEST_P(WatchEntries, FirstMessageConfirmsWhereTheFeedBegins) {
  Feed feed(*stub_, 0);
  v1::WatchEntriesResponse message;
  ASSERT_TRUE(feed.Next(&message));
  EXPECT_EQ(message.entries_size(), 0);
  EXPECT_EQ(message.through_sequence(), 0);
}

TEST_P(WatchEntries, IdleFeedSaysHowFarItIs) {
  RecordSettings();
  Feed feed(*stub_, 1);
  v1::WatchEntriesResponse message;
  for (int i = 0; i < 3; ++i) {
    ASSERT_TRUE(feed.Next(&message));
    EXPECT_EQ(message.entries_size(), 0);
    EXPECT_EQ(message.through_sequence(), 1);
  }
}

TEST_P(WatchEntries, NoGapUnderConcurrentWriters) {
  RecordSettings();
  constexpr int kWriters = 4;
  constexpr int kEach = 50;
  constexpr int64_t kLast = 1 + kWriters * kEach;
  std::vector<std::thread> readers;
  for (int r = 0; r < 6; ++r) {
    readers.emplace_back([this] {
      Feed feed(*stub_, 0);
      ReadGapFree(feed, 0, kLast);
    });
  }
  std::vector<std::thread> writers;
  for (int w = 0; w < kWriters; ++w) {
    writers.emplace_back([this, w] {
      for (int i = 0; i < kEach; ++i) {
        EXPECT_TRUE(Receive(absl::StrCat("W", w, "-", i)).ok());
      }
    });
  }
  for (std::thread& writer : writers) writer.join();
  for (std::thread& reader : readers) reader.join();
}

TEST_P(WatchEntries, ResumesAfterTheLastPositionSeen) {
  RecordSettings();
  for (int i = 0; i < 20; ++i) ASSERT_TRUE(Receive(absl::StrCat("K-", i)).ok());
  {
    Feed feed(*stub_, 0);
    ReadGapFree(feed, 0, 21);
  }
  ASSERT_TRUE(Receive("K-late").ok());
  Feed feed(*stub_, 21);
  v1::WatchEntriesResponse message;
  ASSERT_TRUE(feed.Next(&message));
  ASSERT_EQ(message.entries_size(), 1);
  EXPECT_EQ(message.entries(0).sequence(), 22);
  EXPECT_EQ(message.entries(0).entry().entry_id(), "receive-K-late");
}

TEST_P(WatchEntries, LargeBacklogComesInPagesOfAtMostAMegabyte) {
  RecordSettings();
  for (int i = 0; i < 30; ++i) {
    v1::Entry entry = ferrule::testing::ReceiveUnit(absl::StrCat("K-", i), kStartUs);
    for (int n = 0; n < 60; ++n) {
      ferrule::testing::AddFact(
          kStartUs + n + 1,
          absl::StrCat("meter_read { unit: 'K-", i, "' reading_s: 0 } note: '",
                       std::string(1900, 'n'), "'"),
          &entry);
    }
    const auto receipt = depot_.host().ledger().RecordAndWait(entry);
    ASSERT_TRUE(receipt.ok()) << receipt.status();
  }
  Feed feed(*stub_, 0);
  v1::WatchEntriesResponse message;
  int64_t through = 0;
  int messages = 0;
  while (through < 31) {
    ASSERT_TRUE(feed.Next(&message));
    EXPECT_LE(message.ByteSizeLong(), kMaxPageBytes + 64);
    through = message.through_sequence();
    ++messages;
  }
  EXPECT_GE(messages, 4);  // 3.4 MB in all
}

TEST_P(WatchEntries, PositionBeyondTheEndIsOutOfRange) {
  RecordSettings();
  Feed feed(*stub_, 2);
  const grpc::Status status = feed.End();
  EXPECT_EQ(status.error_code(), grpc::StatusCode::OUT_OF_RANGE);
  EXPECT_EQ(DetailsOf(status).info.reason(), "SEQUENCE_BEYOND_HEAD");
  EXPECT_EQ(DetailsOf(status).info.metadata().at("head_sequence"), "1");
}

TEST_P(WatchEntries, NegativePositionIsInvalid) {
  Feed feed(*stub_, -1);
  EXPECT_EQ(feed.End().error_code(), grpc::StatusCode::INVALID_ARGUMENT);
}

TEST_P(WatchEntries, CallersWhoGoAwayLeaveRoomForOthers) {
  RecordSettings();
  for (int i = 0; i < 200; ++i) {
    Feed feed(*stub_, i % 2);
    if (i % 3 == 0) {
      v1::WatchEntriesResponse message;
      EXPECT_TRUE(feed.Next(&message));
    }
    if (i % 10 == 0) {
      EXPECT_TRUE(Receive(absl::StrCat("K-", i)).ok());
    }
  }
  Feed feed(*stub_, 0);
  ReadGapFree(feed, 0, 21);
}

TEST_P(WatchEntries, SlowReaderHoldsUpNobody) {
  RecordSettings();
  Feed slow(*stub_, 0);  // is never read while others are
  Feed quick(*stub_, 0);
  for (int i = 0; i < 100; ++i) ASSERT_TRUE(Receive(absl::StrCat("K-", i)).ok());
  ReadGapFree(quick, 0, 101);
  ReadGapFree(slow, 0, 101);
}

// In process, what is in flight is cancelled when the server ends.
TEST(WatchEntriesOverTcp, DrainEndsFeedsWithTheLastPositionSent) {
  ServedDepot depot;
  ASSERT_TRUE(depot.host().ledger().RecordAndWait(ferrule::testing::SettingsEntry()).ok());
  const auto stub = v1::LedgerService::NewStub(depot.Channel(Transport::kTcp));
  Feed feed(*stub, 0);
  v1::WatchEntriesResponse message;
  ASSERT_TRUE(feed.Next(&message));
  EXPECT_EQ(message.through_sequence(), 1);
  std::thread ending([&depot] { depot.host().Shutdown(absl::Seconds(10)); });
  const grpc::Status status = feed.End();
  ending.join();
  EXPECT_EQ(status.error_code(), grpc::StatusCode::UNAVAILABLE);
  EXPECT_EQ(DetailsOf(status).info.reason(), "DRAINING");
  EXPECT_EQ(DetailsOf(status).info.metadata().at("through_sequence"), "1");
  EXPECT_TRUE(DetailsOf(status).has_retry);
}

}  // namespace
}  // namespace ferrule::service
