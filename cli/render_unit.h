// A unit in words: its three axes, its parts, its meter.
#pragma once

#include <string>

#include "absl/time/time.h"
#include "cli/render_fields.h"
#include "cli/render_table.h"
#include "ferrule/v1/depot_service.pb.h"
#include "ferrule/v1/states.pb.h"

namespace ferrule::cli {

// "at north-shelf, cleaned, passed, free": custody, fitness, commitment.
std::string AxesWords(const v1::UnitState& unit);
// True run time over all meter segments, hours with one decimal; "at least ..." when a last reading
// is missing; empty when no meter was ever read.
std::string RunHours(const v1::Meter& meter);
Fields UnitFields(const v1::UnitState& unit, absl::TimeZone zone);
Table UnitTable(const google::protobuf::RepeatedPtrField<v1::UnitRow>& units);

}  // namespace ferrule::cli
