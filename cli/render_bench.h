// The bench's answers as tables and lines.
#pragma once

#include <string>

#include "absl/time/time.h"
#include "cli/render_table.h"
#include "cli/zones.h"
#include "ferrule/v1/bench_service.pb.h"

namespace ferrule::cli {

Table BenchTable(const v1::ReportBenchResponse& bench, const Zones& zones);
Table ServiceTable(const v1::ReportServiceResponse& service);
Table DoubtTable(const v1::ReportDoubtsResponse& doubts, const Zones& zones);
Table CleaningTable(const v1::ReportCleaningsResponse& cleanings, absl::TimeZone zone);
Table InspectionTable(const v1::AssessFailureResponse& failure, absl::TimeZone zone);
Table TrendTable(const google::protobuf::RepeatedPtrField<v1::Trend>& trends);
Table RepairTable(const v1::AssessFailureResponse& failure, absl::TimeZone zone);
Table MissingTable(const v1::ReportMissingAccessoriesResponse& missing, const Zones& zones);
Table SegmentTable(const v1::GetRunHoursResponse& hours, absl::TimeZone zone);
Table FailingTable(const v1::ReportFailingUnitsResponse& failing);
Table ReliabilityTable(const v1::ReportReliabilityResponse& reliability);
Table SpareTable(const v1::ReportSparesResponse& spares);
Table ProposalTable(const google::protobuf::RepeatedPtrField<v1::Proposal>& proposals);

// Proposals as numbered lines, each with the commands' facts that would put the records right.
std::string ProposalLines(const google::protobuf::RepeatedPtrField<v1::Proposal>& proposals);

// "12.3" with at most `digits` behind the point.
std::string Rounded(double value, int digits);

}  // namespace ferrule::cli
