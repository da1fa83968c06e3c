#include "service/metrics.h"

#include <unistd.h>

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <filesystem>
#include <fstream>
#include <optional>

#include "absl/strings/str_cat.h"
#include "absl/strings/str_format.h"
#include "absl/strings/str_replace.h"
#include "absl/time/clock.h"
#include "service/file_work.h"

namespace ferrule::service {
namespace {

constexpr const char* kCodeNames[] = {
    "OK",        "CANCELLED",      "UNKNOWN",           "INVALID_ARGUMENT",   "DEADLINE_EXCEEDED",
    "NOT_FOUND", "ALREADY_EXISTS", "PERMISSION_DENIED", "RESOURCE_EXHAUSTED", "FAILED_PRECONDITION",
    "ABORTED",   "OUT_OF_RANGE",   "UNIMPLEMENTED",     "INTERNAL",           "UNAVAILABLE",
    "DATA_LOSS", "UNAUTHENTICATED"};

std::string Number(double value) {
  if (std::isinf(value)) return "+Inf";
  return absl::StrFormat("%.15g", value);
}

std::string Label(const std::string& value) {
  return absl::StrCat(
      "\"", absl::StrReplaceAll(value, {{"\\", "\\\\"}, {"\"", "\\\""}, {"\n", "\\n"}}), "\"");
}

void Head(const char* name, const char* type, const char* help, std::string* out) {
  absl::StrAppend(out, "# HELP ", name, " ", help, "\n# TYPE ", name, " ", type, "\n");
}

void One(const char* name, const char* type, const char* help, double value, std::string* out) {
  Head(name, type, help, out);
  absl::StrAppend(out, name, " ", Number(value), "\n");
}

// "/package.Service/Method" to the two labels.
std::string MethodLabels(const std::string& path) {
  const size_t slash = path.rfind('/');
  return absl::StrCat("service=", Label(path.substr(1, slash - 1)),
                      ",method=", Label(path.substr(slash + 1)));
}

int OpenFiles() {
  int count = 0;
  std::error_code error;
  for (const auto& entry : std::filesystem::directory_iterator("/proc/self/fd", error)) {
    (void)entry;
    ++count;
  }
  return std::max(count - 1, 0);  // without the one that looked
}

double CpuSeconds() {
  timespec used{};
  clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &used);
  return static_cast<double>(used.tv_sec) + static_cast<double>(used.tv_nsec) / 1e9;
}

double ResidentBytes() {
  std::ifstream file("/proc/self/statm");
  double size = 0;
  double resident = 0;
  file >> size >> resident;
  return resident * static_cast<double>(sysconf(_SC_PAGESIZE));
}

void AppendProcess(double started_s, std::string* out) {
  One("process_start_time_seconds", "gauge", "When the process started, since 1970.", started_s,
      out);
  One("process_cpu_seconds_total", "counter", "CPU time used.", CpuSeconds(), out);
  One("process_resident_memory_bytes", "gauge", "Memory in use.", ResidentBytes(), out);
  One("process_open_fds", "gauge", "Files and connections open.", OpenFiles(), out);
}

void AppendFiles(const std::string& depot_file, std::string* out) {
  if (depot_file.empty()) return;
  const auto bytes = [](const std::string& path) { return static_cast<double>(SizeOf(path)); };
  Head("ferrule_depot_bytes", "gauge", "Size of the depot file and of its write-ahead log.", out);
  absl::StrAppend(out, "ferrule_depot_bytes{file=\"depot\"} ", Number(bytes(depot_file)),
                  "\nferrule_depot_bytes{file=\"log\"} ", Number(bytes(depot_file + "-wal")), "\n");
  const std::optional<int64_t> room = FreeBytesAt(depot_file);
  if (!room.has_value()) return;
  One("ferrule_disk_free_bytes", "gauge", "Room left on the depot's disk.",
      static_cast<double>(*room), out);
}

}  // namespace

void Histogram::See(double value) {
  size_t i = 0;
  while (i < kMostBounds && value > bounds_[i]) ++i;
  counts_[i].fetch_add(1, std::memory_order_relaxed);
  micros_.fetch_add(static_cast<uint64_t>(std::max(value, 0.0) * 1e6), std::memory_order_relaxed);
}

uint64_t Histogram::count() const {
  uint64_t sum = 0;
  for (const auto& count : counts_) sum += count.load(std::memory_order_relaxed);
  return sum;
}

void Histogram::Append(const std::string& name, const std::string& labels, std::string* out) const {
  uint64_t sum = 0;
  const std::string comma = labels.empty() ? "" : ",";
  for (size_t i = 0; i <= kMostBounds; ++i) {
    sum += counts_[i].load(std::memory_order_relaxed);
    const std::string bound = i < kMostBounds ? Number(bounds_[i]) : "+Inf";
    absl::StrAppend(out, name, "_bucket{", labels, comma, "le=\"", bound, "\"} ", sum, "\n");
  }
  const std::string braces = labels.empty() ? "" : absl::StrCat("{", labels, "}");
  absl::StrAppend(out, name, "_sum", braces, " ",
                  Number(static_cast<double>(micros_.load(std::memory_order_relaxed)) / 1e6), "\n",
                  name, "_count", braces, " ", sum, "\n");
}

void MethodMetrics::Done(grpc::StatusCode code, absl::Duration took) {
  const auto index = static_cast<size_t>(code);
  codes_[index < kCodes ? index : 2].fetch_add(1, std::memory_order_relaxed);
  seconds_.See(absl::ToDoubleSeconds(took));
}

void MethodMetrics::StreamClosed(grpc::StatusCode code) {
  const auto index = static_cast<size_t>(code);
  codes_[index < kCodes ? index : 2].fetch_add(1, std::memory_order_relaxed);
  open_.fetch_sub(1, std::memory_order_relaxed);
}

Metrics::Metrics() : started_s_(static_cast<double>(absl::ToUnixMicros(absl::Now())) / 1e6) {}

MethodMetrics* Metrics::Of(const std::string& path) {
  const std::lock_guard lock(mutex_);
  auto& slot = methods_[path];
  if (slot == nullptr) slot = std::make_unique<MethodMetrics>();
  return slot.get();
}

// Methods that were never called are left out.
void Metrics::AppendCalls(std::string* out) const {
  const std::lock_guard lock(mutex_);
  Head("ferrule_calls_total", "counter", "Calls answered, by the code they ended with.", out);
  for (const auto& [path, method] : methods_) {
    for (size_t code = 0; code < MethodMetrics::kCodes; ++code) {
      const uint64_t count = method->codes_[code].load(std::memory_order_relaxed);
      if (count == 0) continue;
      absl::StrAppend(out, "ferrule_calls_total{", MethodLabels(path), ",code=\"", kCodeNames[code],
                      "\"} ", count, "\n");
    }
  }
  Head("ferrule_call_duration_seconds", "histogram", "From a call's arrival to its answer.", out);
  for (const auto& [path, method] : methods_) {
    if (method->seconds_.count() == 0) continue;
    method->seconds_.Append("ferrule_call_duration_seconds", MethodLabels(path), out);
  }
  Head("ferrule_streams_open", "gauge", "Feeds open now.", out);
  for (const auto& [path, method] : methods_) {
    const int64_t open = method->open_.load(std::memory_order_relaxed);
    if (open == 0) continue;
    absl::StrAppend(out, "ferrule_streams_open{", MethodLabels(path), "} ", open, "\n");
  }
}

std::string Metrics::Text(const Present& present) const {
  std::string out;
  Head("ferrule_build_info", "gauge", "The program and its engine; always 1.", &out);
  absl::StrAppend(&out, "ferrule_build_info{version=", Label(present.version),
                  ",engine=", Label(present.engine), "} 1\n");
  One("ferrule_ledger_head_sequence", "gauge", "Position of the ledger's last entry.",
      static_cast<double>(present.head.sequence), &out);
  Head("ferrule_ledger_epoch_info", "gauge",
       "The mark that the restore of a backup put on this ledger, empty without one; always 1.",
       &out);
  absl::StrAppend(&out, "ferrule_ledger_epoch_info{epoch=", Label(present.epoch), "} 1\n");
  One("ferrule_ledger_recorded_timestamp_seconds", "gauge",
      "When the last entry was recorded, since 1970; 0 for an empty ledger.",
      static_cast<double>(present.head.recorded_us) / 1e6, &out);
  AppendCalls(&out);
  AppendFiles(present.depot_file, &out);
  AppendProcess(started_s_, &out);
  return out;
}

}  // namespace ferrule::service
