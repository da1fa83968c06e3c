// A backtest as a stream: one past day after the other on a worker, a message after each, the
// scores in the last. It ends when the caller goes.
#pragma once

#include <memory>

#include "absl/status/statusor.h"
#include "core/outlook/backtest.h"
#include "ferrule/v1/plan_service.pb.h"
#include "service/call.h"

namespace ferrule::service {

absl::StatusOr<std::unique_ptr<Stream>> OpenBacktest(std::shared_ptr<outlook::RecordsReader> reader,
                                                     StreamCall& call,
                                                     const v1::WatchBacktestRequest& request);

}  // namespace ferrule::service
