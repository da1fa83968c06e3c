#include "core/ledger/parallel.h"

#include <algorithm>
#include <atomic>
#include <thread>
#include <vector>

namespace ferrule::ledger {
namespace {

constexpr unsigned kMostThreads = 8;
constexpr size_t kRange = 256;  // long enough to be worth the taking, short enough to share out

}  // namespace

// Asking the system costs a file read.
int ThreadCount() {
  static const int count =
      static_cast<int>(std::clamp(std::thread::hardware_concurrency(), 1u, kMostThreads));
  return count;
}

void InParallel(size_t count, absl::FunctionRef<void(size_t begin, size_t end)> work) {
  std::atomic<size_t> next{0};
  auto take = [&] {
    for (size_t begin = next.fetch_add(kRange); begin < count; begin = next.fetch_add(kRange)) {
      work(begin, std::min(begin + kRange, count));
    }
  };
  std::vector<std::thread> others;
  const size_t ranges = (count + kRange - 1) / kRange;
  const size_t threads = std::min(ranges, static_cast<size_t>(ThreadCount()));
  for (size_t i = 1; i < threads; ++i) others.emplace_back(take);
  take();
  for (std::thread& thread : others) thread.join();
}

}  // namespace ferrule::ledger
