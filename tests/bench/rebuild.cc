// Every state of the large depot written anew from its facts, and what a fact takes on disk.
#include <filesystem>
#include <string>
#include <utility>
#include <vector>

#include "SQLiteCpp/SQLiteCpp.h"
#include "core/ledger/ledger.h"
#include "core/store/open.h"
#include "tests/bench/benches.h"
#include "tests/bench/depots.h"

namespace ferrule::bench {
namespace {

// Reading all that a rebuild reads and writing all that it writes, by SQLite alone.
double RowsSeconds(const Options& options, const std::string& file) {
  const std::string scratch = options.folder + "/states.scratch";
  std::filesystem::remove(scratch);
  SQLite::Database database(file, SQLite::OPEN_READWRITE | SQLite::OPEN_CREATE);
  database.exec("ATTACH '" + scratch + "' AS scratch");
  const Stopwatch watch;
  for (const char* sql : {"SELECT sequence, recorded_us, bytes, digest FROM entries",
                          "SELECT subject_id, sequence, fact_index, kind FROM fact_subjects"}) {
    SQLite::Statement statement(database, sql);
    int64_t bytes = 0;
    while (statement.executeStep()) bytes += statement.getColumn(2).getBytes();
    if (bytes == 0) GiveUp("nothing to read in " + file);
  }
  database.exec("CREATE TABLE scratch.states AS SELECT * FROM main.states ORDER BY id");
  const double seconds = watch.Seconds();
  database.exec("DETACH scratch");
  std::filesystem::remove(scratch);
  return seconds;
}

int64_t OneNumber(const std::string& file, const char* sql) {
  SQLite::Database database(file, SQLite::OPEN_READWRITE);
  return database.execAndGet(sql).getInt64();
}

}  // namespace

void Rebuild(const Options& options, Report* report) {
  const std::string file = LargeDepot(options);
  const double rows_s = RowsSeconds(options, file);
  store::SqliteOptions store;
  store.path = file;
  int64_t facts = 0;
  std::vector<double> cpu;
  const double seconds = MedianOf(options, [&] {
    auto database = Must(store::OpenSqlite(store));
    const double cpu_s = OwnCpuSeconds();
    const Stopwatch watch;
    facts = Must(ledger::Rebuild(*database, [](int64_t) {}));
    cpu.push_back(OwnCpuSeconds() - cpu_s);
    return watch.Seconds();
  });
  const auto count = static_cast<double>(facts);
  report->Put("rebuild", "facts", facts);
  report->PutAgainst("rebuild", "facts_per_s", count / seconds, "reading and writing the rows",
                     count / rows_s, true);
  report->Put("rebuild", "cpu_us_per_fact", Median(std::move(cpu)) * 1e6 / count);

  const double kept = static_cast<double>(
      OneNumber(file, "SELECT sum(length(bytes) + length(digest)) FROM entries"));
  const double pages =
      static_cast<double>(OneNumber(file, "SELECT page_count FROM pragma_page_count()") *
                          OneNumber(file, "SELECT page_size FROM pragma_page_size()"));
  report->PutAgainst("bytes_per_fact", "file", pages / count, "entries and digests alone",
                     kept / count, false);
}

}  // namespace ferrule::bench
