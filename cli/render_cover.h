// Days, ends, claims and corrections as tables and text.
#pragma once

#include <string>

#include "cli/render_table.h"
#include "ferrule/v1/cover_service.pb.h"

namespace ferrule::cli {

Table MissingTable(const v1::AssessOrderResponse& answer);
std::string MissingText(const v1::AssessOrderResponse& answer, const Table& table);

Table EndsTable(const v1::GetRentalEndsResponse& answer);
std::string EndsText(const v1::GetRentalEndsResponse& answer, const Table& table);

// One line a day, with a column for the state by each further reading.
Table DaysTable(const v1::GetDayLedgerResponse& answer);
// The sums by each reading, the days put together where nothing changes, and where readings differ.
std::string DaysText(const v1::GetDayLedgerResponse& answer, const Table& table);

Table ClaimsTable(const v1::ReportClaimsResponse& answer);
Table RefusedTable(const v1::ReportClaimsResponse& answer);
std::string ClaimsText(const v1::ReportClaimsResponse& answer, const Table& table);

Table CorrectionsTable(const v1::ReportCorrectionsResponse& answer);
std::string CorrectionsText(const v1::ReportCorrectionsResponse& answer, const Table& table);

}  // namespace ferrule::cli
