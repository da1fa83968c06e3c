// Entries recorded at a steady rate, whatever the answers take: what a caller waits is counted from
// when its call was due, so that a server that stands still cannot hide it.
#pragma once

#include <cstdint>
#include <vector>

#include "ferrule/v1/ledger_service.grpc.pb.h"
#include "grpcpp/grpcpp.h"
#include "tests/bench/measure.h"

namespace ferrule::bench {

// What a completion queue hands out.
class Happening {
 public:
  virtual ~Happening() = default;
  virtual void Happened(bool ok) = 0;
};

struct PacedResult {
  int64_t sent = 0;
  std::vector<double> waits_ms;  // without those of the first tenth, which warms up
};

// Records moves of a depot of `units` units, `per_s` a second for so long, and hands out whatever
// else the queue brings meanwhile. Ends the bench at the first call that fails.
PacedResult RecordAtRate(v1::LedgerService::StubInterface& stub, grpc::CompletionQueue& queue,
                         int units, double per_s, double seconds);

}  // namespace ferrule::bench
