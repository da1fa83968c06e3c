// How much one caller may ask: calls a second, streams at once, wrong tokens. The figures stand in
// limits.h.
#pragma once

#include <cstdint>
#include <map>
#include <mutex>
#include <string>
#include <string_view>

#include "absl/status/status.h"

namespace ferrule::service {

// Thread-safe. Only callers who had to say who they are are counted.
class Quota {
 public:
  // One call; RESOURCE_EXHAUSTED with the time after which to try again.
  absl::Status TakeCall(std::string_view principal, int64_t now_us);
  // One wrong token from a peer; RESOURCE_EXHAUSTED when there were too many.
  absl::Status TakeFailure(std::string_view peer, int64_t now_us);
  absl::Status BeginStream(std::string_view principal);
  void EndStream(std::string_view principal);

 private:
  struct Bucket {
    double left = 0;
    int64_t filled_us = 0;
    bool begun = false;
  };
  using Buckets = std::map<std::string, Bucket, std::less<>>;
  // Microseconds to wait, 0 when one was to be had.
  static int64_t Take(Buckets* buckets, std::string_view key, int64_t now_us, double per_second,
                      double most);

  std::mutex mutex_;
  Buckets calls_;
  Buckets failures_;
  std::map<std::string, int, std::less<>> streams_;
};

}  // namespace ferrule::service
