// The floor of recording on SQLite: rows of the same number and about the same size, written by
// nothing but SQLite, one transaction a group, durable (write-ahead log, synchronous FULL).
#include <cstdint>
#include <filesystem>
#include <optional>
#include <string>

#include "SQLiteCpp/SQLiteCpp.h"
#include "tests/bench/benches.h"
#include "tests/bench/measure.h"

namespace ferrule::bench {
namespace {

class RawStore {
 public:
  explicit RawStore(const std::string& path)
      : database_(path, SQLite::OPEN_READWRITE | SQLite::OPEN_CREATE) {
    database_.exec("PRAGMA journal_mode=WAL");
    database_.exec("PRAGMA synchronous=FULL");
    database_.exec(
        "CREATE TABLE entries(sequence INTEGER PRIMARY KEY, entry_id TEXT NOT NULL UNIQUE,"
        " recorded INTEGER NOT NULL, bytes BLOB NOT NULL, digest BLOB NOT NULL) STRICT;"
        "CREATE TABLE fact_subjects(subject TEXT NOT NULL, happened INTEGER NOT NULL,"
        " sequence INTEGER NOT NULL, PRIMARY KEY(subject, happened, sequence))"
        " STRICT, WITHOUT ROWID;"
        "CREATE TABLE states(name TEXT PRIMARY KEY, sequence INTEGER NOT NULL,"
        " bytes BLOB NOT NULL) STRICT, WITHOUT ROWID;"
        "CREATE TABLE head(id INTEGER PRIMARY KEY, sequence INTEGER, digest BLOB) STRICT;"
        "INSERT INTO head VALUES(1, 0, NULL)");
    entry_.emplace(database_, "INSERT INTO entries VALUES($1, $2, $3, $4, $5)");
    subject_.emplace(database_, "INSERT INTO fact_subjects VALUES($1, $2, $3)");
    state_.emplace(database_,
                   "INSERT INTO states VALUES($1, $2, $3) ON CONFLICT(name) DO UPDATE SET"
                   " sequence = excluded.sequence, bytes = excluded.bytes");
    head_.emplace(database_, "UPDATE head SET sequence = $1, digest = $2");
  }

  // One entry of one fact about one unit: an entry, a subject and a state.
  void Group(int size, int units) {
    SQLite::Transaction transaction(database_, SQLite::TransactionBehavior::IMMEDIATE);
    for (int i = 0; i < size; ++i) {
      ++sequence_;
      const std::string unit = "units/B-" + std::to_string(sequence_ * 7919 % units);
      const std::string entry_id = "bench-" + std::to_string(sequence_);
      Bind(&*entry_, sequence_, entry_id, sequence_ * 1000, Blob{bytes_}, Blob{digest_});
      Bind(&*subject_, unit, sequence_ * 1000, sequence_);
      Bind(&*state_, unit, sequence_, Blob{state_bytes_});
    }
    Bind(&*head_, sequence_, Blob{digest_});
    transaction.commit();
  }

 private:
  struct Blob {
    const std::string& bytes;
  };
  static void BindOne(SQLite::Statement* statement, int at, int64_t value) {
    statement->bind(at, value);
  }
  static void BindOne(SQLite::Statement* statement, int at, const std::string& value) {
    statement->bindNoCopy(at, value);
  }
  static void BindOne(SQLite::Statement* statement, int at, Blob value) {
    statement->bindNoCopy(at, value.bytes.data(), static_cast<int>(value.bytes.size()));
  }
  template <typename... Values>
  static void Bind(SQLite::Statement* statement, const Values&... values) {
    statement->reset();
    int at = 0;
    (BindOne(statement, ++at, values), ...);
    statement->exec();
  }

  SQLite::Database database_;
  std::optional<SQLite::Statement> entry_, subject_, state_, head_;
  int64_t sequence_ = 0;
  const std::string bytes_ = std::string(120, 'b');
  const std::string state_bytes_ = std::string(400, 's');
  const std::string digest_ = std::string(32, 'd');
};

}  // namespace

void SqliteFloor(const Options& options, Report* report) {
  for (const int size : {1, 8, 64}) {
    const double rate = MedianOf(options, [&] {
      const std::string path = options.folder + "/raw.sqlite";
      for (const char* end : {"", "-wal", "-shm"}) std::filesystem::remove(path + end);
      RawStore store(path);
      int64_t entries = 0;
      const Stopwatch watch;
      while (watch.Seconds() < options.seconds) {
        store.Group(size, options.units);
        entries += size;
      }
      return static_cast<double>(entries) / watch.Seconds();
    });
    report->Put("sqlite_group_commit_entries_per_s", std::to_string(size), rate);
  }
}

}  // namespace ferrule::bench
