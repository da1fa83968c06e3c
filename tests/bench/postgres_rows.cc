// The floor of recording on PostgreSQL: the rows alone, by libpq alone, one transaction and one
// round trip a group (pipeline mode).
#include <endian.h>
#include <libpq-fe.h>

#include <array>
#include <cstdint>
#include <cstring>
#include <set>
#include <string>
#include <vector>

#include "tests/bench/depots.h"
#include "tests/bench/measure.h"
#include "tests/bench/process.h"
#include "tests/bench/rows.h"
#include "tests/bench/rows_floor.h"

namespace ferrule::bench {
namespace {

class Writer {
 public:
  explicit Writer(const std::string& conninfo) : connection_(PQconnectdb(conninfo.c_str())) {
    if (PQstatus(connection_) != CONNECTION_OK) GiveUp(PQerrorMessage(connection_));
    if (PQenterPipelineMode(connection_) != 1) GiveUp("no pipeline mode");
  }
  ~Writer() { PQfinish(connection_); }
  Writer(const Writer&) = delete;
  Writer& operator=(const Writer&) = delete;

  void Begin() { Run({"begin", "BEGIN", &none_}); }
  void Run(const Write& write) {
    if (prepared_.insert(write.name).second) {
      Sent(PQsendPrepare(connection_, write.name, write.sql, 0, nullptr));
    }
    const size_t count = write.cells->size();
    values_.assign(count, nullptr);
    lengths_.assign(count, 0);
    formats_.assign(count, 1);
    numbers_.resize(count);
    for (size_t i = 0; i < count; ++i) {
      const Cell& cell = (*write.cells)[i];
      if (cell.kind == Cell::Kind::kNull) continue;
      if (cell.kind == Cell::Kind::kInt) {
        numbers_[i] = htobe64(static_cast<uint64_t>(cell.number));
        values_[i] = reinterpret_cast<const char*>(&numbers_[i]);
        lengths_[i] = sizeof(uint64_t);
      } else {
        values_[i] = cell.bytes.data();
        lengths_[i] = static_cast<int>(cell.bytes.size());
      }
    }
    Sent(PQsendQueryPrepared(connection_, write.name, static_cast<int>(count), values_.data(),
                             lengths_.data(), formats_.data(), 1));
  }
  // Ends the transaction, sends everything and waits for the answers.
  void Commit() {
    Run({"commit", "COMMIT", &none_});
    if (PQpipelineSync(connection_) != 1) GiveUp(PQerrorMessage(connection_));
    ++pending_;
    for (int done = 0; done < pending_;) {
      PGresult* result = PQgetResult(connection_);
      if (result == nullptr) continue;  // the end of one statement's results
      const ExecStatusType status = PQresultStatus(result);
      if (status != PGRES_COMMAND_OK && status != PGRES_PIPELINE_SYNC) {
        GiveUp(PQresultErrorMessage(result));
      }
      PQclear(result);
      ++done;
    }
    pending_ = 0;
  }

 private:
  void Sent(int ok) {
    if (ok != 1) GiveUp(PQerrorMessage(connection_));
    ++pending_;
  }

  PGconn* connection_;
  const Cells none_;
  std::set<std::string> prepared_;
  int pending_ = 0;
  std::vector<const char*> values_;
  std::vector<int> lengths_;
  std::vector<int> formats_;
  std::vector<uint64_t> numbers_;
};

}  // namespace

double PostgresRowsPerSecond(const Options& options, const std::string& depot_file, EntryKind kind,
                             int group) {
  constexpr size_t kRowsAtOnce = 100;  // well below what the sockets' buffers hold
  return MedianOf(options, [&] {
    Writer writer(FreshSchema(options, "bench_rows"));
    EntryRows rows(depot_file, kind);
    const std::vector<Write> before = rows.Before();
    for (size_t i = 0; i < before.size(); i += kRowsAtOnce) {
      writer.Begin();
      for (size_t k = i; k < std::min(i + kRowsAtOnce, before.size()); ++k) writer.Run(before[k]);
      writer.Commit();
    }
    int64_t entries = 0;
    const Stopwatch watch;
    while (watch.Seconds() < options.seconds) {
      writer.Begin();
      for (int i = 0; i < group; ++i) {
        for (const Write& write : rows.Next()) writer.Run(write);
      }
      writer.Run(rows.Head());
      writer.Commit();
      entries += group;
    }
    return static_cast<double>(entries) / watch.Seconds();
  });
}

}  // namespace ferrule::bench
