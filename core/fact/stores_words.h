// The facts of stores, transfers, stocktakes and recalls in words; words.h is the entrance.
#pragma once

#include "core/fact/line.h"
#include "ferrule/v1/facts.pb.h"

namespace ferrule::fact {

void Add(const v1::StockReceived& f, Line* line);
void Add(const v1::StockMoved& f, Line* line);
void Add(const v1::StockIssued& f, Line* line);
void Add(const v1::StockReturned& f, Line* line);
void Add(const v1::StockDiscarded& f, Line* line);
void Add(const v1::StockAdjusted& f, Line* line);
void Add(const v1::TransferSent& f, Line* line);
void Add(const v1::TransferReceived& f, Line* line);
void Add(const v1::ClosetUseReported& f, Line* line);
void Add(const v1::ClosetUseSettled& f, Line* line);
void Add(const v1::CountOpened& f, Line* line);
void Add(const v1::CountTallied& f, Line* line);
void Add(const v1::CountClosed& f, Line* line);
void Add(const v1::RecallOpened& f, Line* line);
void Add(const v1::RecallOutcomeNoted& f, Line* line);
void Add(const v1::RecallClosed& f, Line* line);
void Add(const v1::SealBroken& f, Line* line);
void Add(const v1::PurposeChanged& f, Line* line);

}  // namespace ferrule::fact
