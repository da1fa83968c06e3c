// Figures for the operator, in Prometheus' text form. They count calls and bytes; none
// names a unit, an order, a person or any text that a caller gave.
#pragma once

#include <array>
#include <atomic>
#include <cstdint>
#include <functional>
#include <map>
#include <memory>
#include <mutex>
#include <string>

#include "absl/time/time.h"
#include "core/ledger/ledger.h"
#include "grpcpp/support/status.h"

namespace ferrule::service {

// Times or sizes counted by upper bounds. Thread-safe.
class Histogram {
 public:
  static constexpr size_t kMostBounds = 12;
  // Bounds ascend; those left over are infinite.
  explicit Histogram(std::array<double, kMostBounds> bounds) : bounds_(bounds) {}
  void See(double value);
  // Appends the lines of one series; `labels` as in `method="x"`, or empty.
  void Append(const std::string& name, const std::string& labels, std::string* out) const;
  uint64_t count() const;

 private:
  const std::array<double, kMostBounds> bounds_;
  std::array<std::atomic<uint64_t>, kMostBounds + 1> counts_{};
  std::atomic<uint64_t> micros_{0};  // the sum, in millionths
};

// What is counted of one method. Thread-safe.
class MethodMetrics {
 public:
  void Done(grpc::StatusCode code, absl::Duration took);
  void StreamOpened() { open_.fetch_add(1, std::memory_order_relaxed); }
  void StreamClosed(grpc::StatusCode code);

 private:
  friend class Metrics;
  static constexpr size_t kCodes = 17;
  std::array<std::atomic<uint64_t>, kCodes> codes_{};
  std::atomic<int64_t> open_{0};
  Histogram seconds_{{0.0005, 0.001, 0.0025, 0.005, 0.01, 0.025, 0.05, 0.1, 0.5, 1, 5, 30}};
};

// Of one process.
class Metrics {
 public:
  // What is asked for when the figures are read.
  struct Present {
    std::string version;
    std::string engine;
    ledger::Head head;
    std::string depot_file;  // empty on a database
    std::string epoch;       // core/ledger/whole.h, StoredEpoch
  };

  Metrics();
  // The one of a method's path ("/package.Service/Method"), for as long as this lives.
  MethodMetrics* Of(const std::string& path);
  std::string Text(const Present& present) const;

 private:
  void AppendCalls(std::string* out) const;

  const double started_s_;
  mutable std::mutex mutex_;  // of the map alone
  std::map<std::string, std::unique_ptr<MethodMetrics>> methods_;
};

}  // namespace ferrule::service
