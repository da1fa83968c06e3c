// Answers about promises, fit, motion and use in words and tables.
#pragma once

#include <string>

#include "absl/time/time.h"
#include "cli/render_fields.h"
#include "cli/render_table.h"
#include "cli/zones.h"
#include "ferrule/v1/promise_service.pb.h"

namespace ferrule::cli {

template <typename Row>
using Rows = google::protobuf::RepeatedPtrField<Row>;

// "97.3 %".
std::string OddsText(int permille);
// "yes, 97.3 %", "likely, 73.9 %, yes from 2026-12-18", "no, not before 2026-12-21".
std::string VerdictText(const v1::AssessPromiseResponse& answer);
std::string PromiseText(const v1::AssessPromiseResponse& answer);
Table SourceTable(const Rows<v1::PromiseSource>& sources);

std::string MoveText(const v1::AssessMoveResponse& answer);
Table MovedPromiseTable(const Rows<v1::MovedPromise>& promises);

std::string FitText(const v1::AssessFitResponse& answer);
Table FitTable(const v1::AssessFitResponse& answer);

Table WaitingTable(const Rows<v1::WaitingRow>& rows, const Zones& zones);
Table PromiseTable(const Rows<v1::PromiseRow>& rows);

Fields MotionPlanFields(const v1::GetMotionPlanResponse& plan, absl::TimeZone zone);
std::string MotionPlanText(const v1::GetMotionPlanResponse& plan, const Fields& fields);

std::string UsageText(const v1::GetUsageResponse& usage);
Table UsageTable(const v1::GetUsageResponse& usage);

}  // namespace ferrule::cli
