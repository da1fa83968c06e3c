// The floor of recording on SQLite: the rows alone, by SQLite alone, one transaction a group,
// durable (write-ahead log, synchronous FULL).
#include <cstdint>
#include <filesystem>
#include <map>
#include <memory>
#include <string>

#include "SQLiteCpp/SQLiteCpp.h"
#include "tests/bench/measure.h"
#include "tests/bench/rows.h"
#include "tests/bench/rows_floor.h"

namespace ferrule::bench {
namespace {

constexpr int kCheckpointPages = 16'000;  // as ferruled does

}  // namespace

class SqliteRows::Writer {
 public:
  explicit Writer(const std::string& path) : database_(path, SQLite::OPEN_READWRITE) {
    database_.exec("PRAGMA journal_mode=WAL");
    database_.exec("PRAGMA synchronous=FULL");
    database_.exec("PRAGMA wal_autocheckpoint=" + std::to_string(kCheckpointPages));
  }

  // `size` entries, of which `next` gives the writes.
  void Group(int size, EntryRows* rows, const NextWrites& next) {
    SQLite::Transaction transaction(database_, SQLite::TransactionBehavior::IMMEDIATE);
    for (int i = 0; i < size; ++i) {
      for (const Write& write : next()) Run(write);
    }
    Run(rows->Head());
    transaction.commit();
  }

 private:
  void Run(const Write& write) {
    std::unique_ptr<SQLite::Statement>& statement = statements_[write.name];
    if (statement == nullptr) {
      statement = std::make_unique<SQLite::Statement>(database_, write.sql);
    }
    statement->reset();
    int at = 0;
    for (const Cell& cell : *write.cells) Bind(statement.get(), ++at, cell);
    statement->exec();
  }

  // Statements number their parameters in the order of $1, $2, ...
  static void Bind(SQLite::Statement* statement, int at, const Cell& cell) {
    switch (cell.kind) {
      case Cell::Kind::kNull:
        statement->bind(at);
        return;
      case Cell::Kind::kInt:
        statement->bind(at, cell.number);
        return;
      case Cell::Kind::kText:
        statement->bindNoCopy(at, cell.bytes);
        return;
      case Cell::Kind::kBlob:
        statement->bindNoCopy(at, cell.bytes.data(), static_cast<int>(cell.bytes.size()));
        return;
    }
  }

  SQLite::Database database_;
  std::map<std::string, std::unique_ptr<SQLite::Statement>> statements_;
};

SqliteRows::SqliteRows(const std::string& depot_file, EntryKind kind)
    : rows(depot_file, kind), writer_(std::make_unique<Writer>(depot_file)) {}
SqliteRows::~SqliteRows() = default;

void SqliteRows::Group(int size, const NextWrites& next) { writer_->Group(size, &rows, next); }

double SqliteRowsPerSecond(const Options& options, const std::string& depot_file, EntryKind kind,
                           int group) {
  const std::string copy = options.folder + "/rows.ferrule";
  return MedianOf(options, [&] {
    for (const char* end : {"", "-wal", "-shm"}) std::filesystem::remove(copy + end);
    std::filesystem::copy_file(depot_file, copy);
    SqliteRows floor(copy, kind);
    int64_t entries = 0;
    const Stopwatch watch;
    while (watch.Seconds() < options.seconds) {
      floor.Group(group, [&]() -> const std::vector<Write>& { return floor.rows.Next(); });
      entries += group;
    }
    return static_cast<double>(entries) / watch.Seconds();
  });
}

}  // namespace ferrule::bench
