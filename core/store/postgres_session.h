// One libpq connection, always in pipeline mode: commands are queued, sent together and answered in
// one round trip. Inside core/store only.
#pragma once

#include <memory>
#include <mutex>
#include <span>
#include <string>
#include <string_view>
#include <unordered_map>
#include <vector>

#include "absl/functional/function_ref.h"
#include "absl/status/status.h"
#include "absl/status/statusor.h"
#include "core/store/connection.h"
#include "core/store/libpq.h"
#include "core/store/postgres_values.h"

namespace ferrule::store {

// Gets the results of the commands in the order sent; `which` counts commands from 0.
using PgResultFn = absl::FunctionRef<void(size_t which, const PGresult*)>;

class PgSession {
 public:
  // A statement prepared on this session.
  struct Statement {
    std::string name;
    std::vector<Oid> types;
  };

  // Unavailable when it cannot connect, with libpq's words.
  static absl::StatusOr<std::unique_ptr<PgSession>> Open(const std::string& conninfo,
                                                         bool read_only);
  ~PgSession();
  PgSession(const PgSession&) = delete;
  PgSession& operator=(const PgSession&) = delete;

  // Whether it can still be used.
  bool alive() const;
  // "15.20", without the packager's words.
  std::string server_version() const;

  // Runs commands without parameters in one round trip; stops at the first error. Their results
  // go to `on_result`.
  absl::Status Commands(std::span<const char* const> texts, PgResultFn on_result);
  absl::Status Commands(std::span<const char* const> texts);

  // Finds or prepares; the kinds of the first parameters declare the types.
  absl::StatusOr<const Statement*> Prepared(const Sql& sql, std::span<const Value> parameters);

  // Queues one run of a prepared statement.
  absl::Status Send(const Statement& statement, const PgParameters& parameters);
  // The same for a command whose results nobody waits for: an error shows in the next Finish.
  absl::Status Post(const Statement& statement, const PgParameters& parameters);
  size_t posted() const { return posted_; }
  // Sends what is queued and reads all answers; those of posted commands are not counted, nor given
  // to `on_result`. `by_row` gives the rows of the only command one by
  // one, so that a long result is never in memory as a whole.
  absl::Status Finish(std::string_view doing, bool by_row, PgResultFn on_result);

  // Several statements in the simple protocol.
  absl::Status Script(const char* text, std::string_view doing);

  // Asks the server to stop what it runs; from any thread.
  void Cancel();

 private:
  struct CloseConnection {
    void operator()(PGconn* connection) const { libpq.PQfinish(connection); }
  };
  using Pg = std::unique_ptr<PGconn, CloseConnection>;

  explicit PgSession(Pg connection);
  absl::Status Configure(bool read_only);
  absl::Status EnterPipeline();
  bool FlushWhileReading();
  absl::Status Lost(std::string_view doing);
  absl::Status Prepare(const Sql& sql, std::span<const Value> parameters, Statement* statement);

  Pg connection_;
  std::mutex cancel_mutex_;
  PGcancel* cancel_ = nullptr;
  size_t posted_ = 0;    // commands queued by Post since the last Finish
  bool broken_ = false;  // a queue may be half sent or half read: of no use any more
  // By address of the text.
  std::unordered_map<const char*, Statement> statements_;
};

}  // namespace ferrule::store
