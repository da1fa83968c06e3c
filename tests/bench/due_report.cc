// What is due on the large depot on its last day.
#include "core/board/due_report.h"

#include <memory>
#include <string>
#include <vector>

#include "SQLiteCpp/SQLiteCpp.h"
#include "core/board/queries.h"
#include "core/ledger/ledger.h"
#include "core/time/civil.h"
#include "core/time/clock.h"
#include "ferrule/v1/depot_service.grpc.pb.h"
#include "service/depot_host.h"
#include "tests/bench/benches.h"
#include "tests/bench/depots.h"
#include "tests/bench/load.h"

namespace ferrule::bench {
namespace {

constexpr int kRuns = 21;

double MedianMs(const std::function<void()>& run) {
  std::vector<double> times;
  for (int i = 0; i < kRuns; ++i) {
    const Stopwatch watch;
    run();
    times.push_back(watch.Seconds() * 1000);
  }
  return Median(std::move(times));
}

// The same rows in the same order by SQLite alone, each column copied out.
double BareSqlMs(const std::string& file, int64_t day, int64_t* rows) {
  SQLite::Database database(file, SQLite::OPEN_READONLY);
  SQLite::Statement due(database,
                        std::string(board::sql::kDue.text) + " ORDER BY branch, due_day, name");
  return MedianMs([&] {
    std::vector<std::vector<std::string>> answer;
    due.reset();
    due.bind(1, day);
    while (due.executeStep()) {
      std::vector<std::string> row;
      for (int i = 0; i < due.getColumnCount(); ++i) row.push_back(due.getColumn(i).getString());
      answer.push_back(std::move(row));
    }
    *rows = static_cast<int64_t>(answer.size());
  });
}

}  // namespace

void DueReport(const Options& options, Report* report) {
  const std::string file = LargeDepot(options);
  time::ManualClock clock(NowMicros());
  service::HostOptions host_options;
  host_options.sqlite_path = file;
  host_options.clock = &clock;
  host_options.listen = {"127.0.0.1:0"};
  auto host = Must(service::OpenDepot(std::move(host_options)));
  ledger::Ledger& ledger = host->ledger();
  clock.Set(ledger.head().recorded_us);

  const absl::CivilDay today = time::LocalDay(clock.NowMicros(), absl::UTCTimeZone());
  v1::ReportDueRequest request;
  *request.mutable_through_date() = time::FromDay(today);
  int64_t rows = 0;
  const double bare_ms = BareSqlMs(file, time::DayNumber(today), &rows);
  int64_t answered = 0;
  const double in_process_ms = MedianMs(
      [&] { answered = Must(board::ReportDue(ledger, request, clock.NowMicros())).rows_size(); });
  if (answered != rows) {
    GiveUp("the report has " + std::to_string(answered) + " rows, the bare SQL " +
           std::to_string(rows));
  }
  auto stub =
      v1::DepotService::NewStub(Connect("127.0.0.1:" + std::to_string(host->ports().at(0))));
  const double call_ms = MedianMs([&] {
    grpc::ClientContext context;
    v1::ReportDueResponse response;
    const grpc::Status status = stub->ReportDue(&context, request, &response);
    if (!status.ok()) GiveUp(status.error_message());
  });
  report->Put("due_report", "rows", rows);
  report->PutAgainst("due_report", "in_process_ms", in_process_ms, "bare SQL", bare_ms, false);
  report->PutAgainst("due_report", "call_ms", call_ms, "bare SQL", bare_ms, false);
}

}  // namespace ferrule::bench
