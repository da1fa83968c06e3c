// What a scan stands for in the records: the depot's own tag, another name of a unit, the maker's
// serial number or UDI, a part, a lot, an order, a place or a cleaning product.
#pragma once

#include <cstdint>

#include "absl/status/statusor.h"
#include "core/board/name_index.h"
#include "core/ledger/ledger.h"
#include "ferrule/v1/label_service.pb.h"

namespace ferrule::board {

// Answers in words whatever the text is; the index is brought up to date first. The own tag is the
// key: where it and, say, a serial number of another unit read alike, the tag's unit is the answer
// and the other one a remark.
absl::StatusOr<v1::ResolveScanResponse> ResolveScan(ledger::Ledger& ledger, NameIndex& index,
                                                    const v1::ResolveScanRequest& request,
                                                    int64_t now_us);

}  // namespace ferrule::board
