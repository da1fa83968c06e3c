// The facts of complaints, breakdowns and the keeping of records in words; words.h is the entrance.
#pragma once

#include "core/fact/line.h"
#include "ferrule/v1/facts.pb.h"

namespace ferrule::fact {

void Add(const v1::BreakdownReported& f, Line* line);
void Add(const v1::BreakdownSettled& f, Line* line);
void Add(const v1::ComplaintReceived& f, Line* line);
void Add(const v1::ComplaintAnswered& f, Line* line);
void Add(const v1::ComplaintClosed& f, Line* line);
void Add(const v1::RecordsHeld& f, Line* line);
void Add(const v1::RecordsReleased& f, Line* line);
void Add(const v1::RecordsDisclosed& f, Line* line);

}  // namespace ferrule::fact
