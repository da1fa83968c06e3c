#include "core/store/postgres_session.h"

#include <poll.h>

#include <array>
#include <cerrno>
#include <utility>

#include "absl/strings/str_cat.h"

namespace ferrule::store {
namespace {

constexpr int kBinaryResult = 1;
constexpr int kOldestServer = 120'000;

// What a session needs whatever the server's own settings are. A server that is asked for nothing
// for five minutes inside a transaction frees what that transaction locked.
constexpr char kSettings[] =
    "SET synchronous_commit = on; SET default_transaction_isolation = 'serializable'; "
    "SET lock_timeout = '30s'; SET idle_in_transaction_session_timeout = '5min'; "
    "SET client_min_messages = warning; SET standard_conforming_strings = on";
constexpr char kReadOnly[] =
    "SET default_transaction_read_only = on; "
    "SET default_transaction_isolation = 'repeatable read'";

absl::string_view View(std::string_view s) { return {s.data(), s.size()}; }

std::string LastMessage(const PGconn* connection) {
  std::string message = libpq.PQerrorMessage(connection);
  while (!message.empty() && message.back() == '\n') message.pop_back();
  return message;
}

}  // namespace

PgSession::PgSession(Pg connection)
    : connection_(std::move(connection)), cancel_(libpq.PQgetCancel(connection_.get())) {}

PgSession::~PgSession() { libpq.PQfreeCancel(cancel_); }

absl::StatusOr<std::unique_ptr<PgSession>> PgSession::Open(const std::string& conninfo,
                                                           bool read_only) {
  // Later keywords win over earlier ones, and the whole string stands in place of "dbname".
  const std::array keywords = {"connect_timeout",
                               "keepalives_idle",
                               "tcp_user_timeout",
                               "dbname",
                               "client_encoding",
                               "fallback_application_name",
                               static_cast<const char*>(nullptr)};
  const std::array values = {
      "10", "30", "30000", conninfo.c_str(), "UTF8", "ferrule", static_cast<const char*>(nullptr)};
  Pg connection(libpq.PQconnectdbParams(keywords.data(), values.data(), /*expand_dbname=*/1));
  if (connection == nullptr) return absl::ResourceExhaustedError("libpq: out of memory");
  if (libpq.PQstatus(connection.get()) != CONNECTION_OK) {
    return absl::UnavailableError(
        absl::StrCat("cannot reach the database: ", LastMessage(connection.get()),
                     ". Check that the server runs and that the connection string is right"));
  }
  std::unique_ptr<PgSession> session(new PgSession(std::move(connection)));
  if (absl::Status status = session->Configure(read_only); !status.ok()) return status;
  return session;
}

absl::Status PgSession::Configure(bool read_only) {
  PGconn* const connection = connection_.get();
  libpq.PQsetNoticeProcessor(
      connection, [](void*, const char*) {}, nullptr);
  const char* const encoding = libpq.PQparameterStatus(connection, "server_encoding");
  if (encoding == nullptr || std::string_view(encoding) != "UTF8") {
    return absl::FailedPreconditionError(absl::StrCat("the database's encoding is ",
                                                      encoding == nullptr ? "unknown" : encoding,
                                                      ": create it with ENCODING 'UTF8'"));
  }
  if (libpq.PQserverVersion(connection) < kOldestServer) {
    return absl::FailedPreconditionError(absl::StrCat(
        "PostgreSQL ", server_version(), " is too old: version 12 or newer is needed"));
  }
  const std::string settings =
      read_only ? absl::StrCat(kSettings, "; ", kReadOnly) : std::string(kSettings);
  const PgResult result(libpq.PQexec(connection, settings.c_str()));
  if (libpq.PQresultStatus(result.get()) != PGRES_COMMAND_OK) {
    return PgStatus(result.get(), "setting up the session");
  }
  return EnterPipeline();
}

absl::Status PgSession::EnterPipeline() {
  // Non-blocking, so that a long queue and its long answer cannot wait for each other.
  if (libpq.PQenterPipelineMode(connection_.get()) != 1 ||
      libpq.PQsetnonblocking(connection_.get(), 1) != 0) {
    return Lost("entering pipeline mode");
  }
  return absl::OkStatus();
}

bool PgSession::alive() const {
  return !broken_ && libpq.PQstatus(connection_.get()) == CONNECTION_OK;
}

std::string PgSession::server_version() const {
  const int version = libpq.PQserverVersion(connection_.get());
  return absl::StrCat(version / 10'000, ".", version % 10'000);
}

absl::Status PgSession::Lost(std::string_view doing) {
  broken_ = true;
  return absl::UnavailableError(
      absl::StrCat(View(doing), ": the connection to the database is lost: try again (",
                   LastMessage(connection_.get()), ")"));
}

absl::Status PgSession::Commands(std::span<const char* const> texts, PgResultFn on_result) {
  for (const char* text : texts) {
    if (libpq.PQsendQueryParams(connection_.get(), text, 0, nullptr, nullptr, nullptr, nullptr,
                                kBinaryResult) != 1) {
      return Lost(text);
    }
  }
  return Finish(texts.front(), /*by_row=*/false, on_result);
}

absl::Status PgSession::Commands(std::span<const char* const> texts) {
  return Commands(texts, [](size_t, const PGresult*) {});
}

absl::StatusOr<const PgSession::Statement*> PgSession::Prepared(const Sql& sql,
                                                                std::span<const Value> parameters) {
  auto found = statements_.find(sql.text);
  if (found == statements_.end()) {
    Statement statement;
    absl::Status status = Prepare(sql, parameters, &statement);
    if (!status.ok()) return status;
    found = statements_.emplace(sql.text, std::move(statement)).first;
  }
  if (found->second.types.size() != parameters.size()) {
    return absl::InternalError(absl::StrCat("statement ", sql.name, ": needs ",
                                            found->second.types.size(), " parameters, got ",
                                            parameters.size()));
  }
  return &found->second;
}

absl::Status PgSession::Prepare(const Sql& sql, std::span<const Value> parameters,
                                Statement* statement) {
  // The number keeps two statements apart that were given one name.
  statement->name = absl::StrCat(sql.name, "_", statements_.size());
  std::vector<Oid> declared;
  for (const Value& value : parameters) declared.push_back(TypeOf(value.kind()));
  if (libpq.PQsendPrepare(connection_.get(), statement->name.c_str(), sql.text,
                          int(declared.size()), declared.data()) != 1 ||
      libpq.PQsendDescribePrepared(connection_.get(), statement->name.c_str()) != 1) {
    return Lost(sql.name);
  }
  absl::Status columns;
  const auto describe = [&](size_t which, const PGresult* description) {
    if (which == 0) return;
    for (int i = 0; i < libpq.PQnparams(description); ++i) {
      statement->types.push_back(libpq.PQparamtype(description, i));
    }
    columns = CheckColumns(description, sql.name);
  };
  absl::Status status = Finish(absl::StrCat("statement ", sql.name), /*by_row=*/false, describe);
  return status.ok() ? columns : status;
}

absl::Status PgSession::Send(const Statement& statement, const PgParameters& parameters) {
  if (libpq.PQsendQueryPrepared(connection_.get(), statement.name.c_str(), parameters.size(),
                                parameters.values(), parameters.lengths(), parameters.formats(),
                                kBinaryResult) != 1) {
    return Lost(statement.name);
  }
  return absl::OkStatus();
}

absl::Status PgSession::Post(const Statement& statement, const PgParameters& parameters) {
  ++posted_;
  return Send(statement, parameters);
}

// libpq itself, told to get a result, waits for room to write and for nothing else: the server,
// waiting for us to read, would never make any.
bool PgSession::FlushWhileReading() {
  PGconn* const connection = connection_.get();
  for (;;) {
    const int left = libpq.PQflush(connection);
    if (left <= 0) return left == 0;
    pollfd socket{libpq.PQsocket(connection), POLLIN | POLLOUT, 0};
    if (poll(&socket, 1, -1) < 0 && errno != EINTR) return false;
    if ((socket.revents & (POLLIN | POLLHUP | POLLERR)) != 0 &&
        libpq.PQconsumeInput(connection) != 1) {
      return false;
    }
  }
}

absl::Status PgSession::Finish(std::string_view doing, bool by_row, PgResultFn on_result) {
  PGconn* const connection = connection_.get();
  const size_t posted = std::exchange(posted_, 0);
  if (libpq.PQpipelineSync(connection) != 1) return Lost(doing);
  if (by_row) libpq.PQsetSingleRowMode(connection);
  if (!FlushWhileReading()) return Lost(doing);
  absl::Status status;
  bool ended = false;  // the last result was the end of a command's
  for (size_t which = 0;;) {
    const PgResult result(libpq.PQgetResult(connection));
    // A lost connection gives errors, or ends, without end: the mark that all was done never comes.
    if (!alive() || (result == nullptr && ended)) return Lost(doing);
    ended = result == nullptr;
    if (ended) {
      ++which;
      continue;
    }
    switch (libpq.PQresultStatus(result.get())) {
      case PGRES_PIPELINE_SYNC:
        return status;
      case PGRES_TUPLES_OK:
      case PGRES_SINGLE_TUPLE:
      case PGRES_COMMAND_OK:
        if (status.ok() && which >= posted) on_result(which - posted, result.get());
        break;
      case PGRES_PIPELINE_ABORTED:  // follows an error that was reported already
        break;
      default:
        if (status.ok()) status = PgStatus(result.get(), doing);
        break;
    }
  }
}

absl::Status PgSession::Script(const char* text, std::string_view doing) {
  PGconn* const connection = connection_.get();
  if (libpq.PQexitPipelineMode(connection) != 1 || libpq.PQsetnonblocking(connection, 0) != 0) {
    return Lost(doing);
  }
  const PgResult result(libpq.PQexec(connection, text));
  absl::Status status;
  const ExecStatusType code = libpq.PQresultStatus(result.get());
  if (code != PGRES_COMMAND_OK && code != PGRES_TUPLES_OK && code != PGRES_EMPTY_QUERY) {
    status = PgStatus(result.get(), doing);
  }
  absl::Status back = EnterPipeline();
  return status.ok() ? back : status;
}

void PgSession::Cancel() {
  const std::lock_guard<std::mutex> lock(cancel_mutex_);
  std::array<char, 256> error{};
  if (cancel_ != nullptr) libpq.PQcancel(cancel_, error.data(), int(error.size()));
}

}  // namespace ferrule::store
