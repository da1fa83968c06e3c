// The feed: entries in commit order without a gap, to any number of callers, without a thread or a
// database read held open for any of them.
#pragma once

#include <atomic>
#include <cstdint>
#include <map>
#include <memory>
#include <mutex>
#include <vector>

#include "absl/status/statusor.h"
#include "absl/time/time.h"
#include "core/ledger/ledger.h"
#include "ferrule/v1/ledger_service.pb.h"
#include "grpcpp/support/byte_buffer.h"
#include "service/call.h"

namespace ferrule::service {

// A message of the feed, encoded, and the positions it spans.
struct FeedPage {
  int64_t after = 0;
  int64_t through = 0;
  grpc::ByteBuffer bytes;
};

// Wakes the feeds after each commit. Outlives the lanes' threads.
class WatchHub {
 public:
  // Says at least every `progress` how far a feed is.
  WatchHub(ledger::Ledger* ledger, absl::Duration progress);
  ~WatchHub();

  absl::StatusOr<std::unique_ptr<Stream>> Open(StreamCall& call,
                                               const v1::WatchEntriesRequest& request);

 private:
  class Watch;
  // The feeds of one lane; the list is touched by its thread alone.
  struct OnLane {
    Lane* lane = nullptr;
    std::vector<Watch*> watches;
    std::atomic<bool> woken{false};
  };

  OnLane* Of(Lane* lane);
  void Committed(int64_t head);
  // The next page, of entries after a position; read by one feed, used by all that stand there.
  absl::StatusOr<std::shared_ptr<const FeedPage>> PageAfter(int64_t after);

  ledger::Ledger& ledger_;
  const absl::Duration progress_;
  std::atomic<int64_t> head_;
  std::atomic<int> open_{0};
  std::mutex mutex_;
  std::map<Lane*, OnLane> lanes_;
  std::shared_ptr<const FeedPage> newest_;
  std::shared_ptr<void> subscription_;
};

}  // namespace ferrule::service
