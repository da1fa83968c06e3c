#include "service/quota.h"

#include <algorithm>

#include "service/errors.h"
#include "service/limits.h"

namespace ferrule::service {
namespace {

// Peers and principals remembered at once; beyond, those with nothing held against them go.
constexpr size_t kMostBuckets = 10'000;

}  // namespace

int64_t Quota::Take(Buckets* buckets, std::string_view key, int64_t now_us, double per_second,
                    double most) {
  if (buckets->size() >= kMostBuckets) {
    std::erase_if(*buckets, [&](const auto& entry) {
      const double idle_s = static_cast<double>(now_us - entry.second.filled_us) * 1e-6;
      return entry.second.left + idle_s * per_second >= most;
    });
  }
  const auto found = buckets->find(key);
  Bucket& bucket = found != buckets->end() ? found->second : (*buckets)[std::string(key)];
  if (!bucket.begun) bucket = {most, now_us, true};
  // A clock that was set back gives nothing, and takes nothing away.
  const double passed_s =
      std::max<double>(0, static_cast<double>(now_us - bucket.filled_us)) * 1e-6;
  bucket.left = std::min(most, bucket.left + passed_s * per_second);
  bucket.filled_us = now_us;
  if (bucket.left >= 1) {
    bucket.left -= 1;
    return 0;
  }
  return static_cast<int64_t>((1 - bucket.left) / per_second * 1e6) + 1;
}

absl::Status Quota::TakeCall(std::string_view principal, int64_t now_us) {
  const std::lock_guard lock(mutex_);
  const int64_t wait_us = Take(&calls_, principal, now_us, kCallsPerSecond, kCallsAtOnce);
  return wait_us == 0 ? absl::OkStatus() : errors::TooManyCalls(principal, wait_us);
}

absl::Status Quota::TakeFailure(std::string_view peer, int64_t now_us) {
  const std::lock_guard lock(mutex_);
  const int64_t wait_us = Take(&failures_, peer, now_us, kWrongTokensPerSecond, kWrongTokensAtOnce);
  return wait_us == 0 ? absl::OkStatus() : errors::TooManyCalls("", wait_us);
}

absl::Status Quota::BeginStream(std::string_view principal) {
  const std::lock_guard lock(mutex_);
  int& open = streams_[std::string(principal)];
  if (open >= kMaxStreamsPerPrincipal) return errors::TooManyStreams(principal);
  ++open;
  return absl::OkStatus();
}

void Quota::EndStream(std::string_view principal) {
  const std::lock_guard lock(mutex_);
  const auto open = streams_.find(principal);
  if (open != streams_.end() && --open->second <= 0) streams_.erase(open);
}

}  // namespace ferrule::service
