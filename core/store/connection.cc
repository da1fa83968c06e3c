#include "core/store/connection.h"

#include <cstring>

#include "absl/strings/cord.h"
#include "absl/strings/str_cat.h"

namespace ferrule::store {
namespace {

// Marks the time during which a callback might run.
class Running {
 public:
  explicit Running(bool* flag) : flag_(flag) { *flag_ = true; }
  ~Running() { *flag_ = false; }
  Running(const Running&) = delete;
  Running& operator=(const Running&) = delete;

 private:
  bool* flag_;
};

// The position after the quoted text or comment that starts at `at`, or `at` when none does.
size_t SkipQuoted(std::string_view text, size_t at) {
  const auto after = [&](std::string_view end, size_t from) {
    const size_t found = text.find(end, from);
    return found == std::string_view::npos ? text.size() : found + end.size();
  };
  if (text[at] == '\'') return after("'", at + 1);
  if (text[at] == '"') return after("\"", at + 1);
  if (text.substr(at, 2) == "--") return after("\n", at + 2);
  if (text.substr(at, 2) == "/*") return after("*/", at + 2);
  return at;
}

bool IsDigit(char c) { return c >= '0' && c <= '9'; }

constexpr char kOutOfMemory[] = "ferrule.store/out-of-memory";

}  // namespace

bool IsOutOfMemory(const absl::Status& status) {
  return status.GetPayload(kOutOfMemory).has_value();
}

absl::Status OutOfMemory(absl::Status status) {
  status.SetPayload(kOutOfMemory, absl::Cord("1"));
  return status;
}

absl::Status ParametersAscend(const Sql& sql) {
  const std::string_view text = sql.text;
  int highest = 0;
  for (size_t at = 0; at < text.size();) {
    const size_t next = SkipQuoted(text, at);
    if (next != at) {
      at = next;
      continue;
    }
    if (text[at++] != '$') continue;
    int number = 0;
    while (at < text.size() && IsDigit(text[at]) && number < 100'000) {
      number = number * 10 + (text[at++] - '0');
    }
    if (number < 1 || number > highest + 1) {
      return absl::InternalError(absl::StrCat("statement ", sql.name, ": $", number,
                                              " appears where $", highest + 1,
                                              " must be the next new parameter"));
    }
    if (number > highest) highest = number;
  }
  return absl::OkStatus();
}

absl::Status Connection::Begin(TransactionKind kind) {
  if (running_) return absl::FailedPreconditionError("Begin inside a callback");
  if (in_transaction_) return absl::FailedPreconditionError("transactions do not nest");
  absl::Status status = DoBegin(kind);
  if (!status.ok()) return status;
  in_transaction_ = true;
  failed_ = false;
  return status;
}

absl::Status Connection::Commit() {
  if (running_) return absl::FailedPreconditionError("Commit inside a callback");
  if (!in_transaction_) return absl::FailedPreconditionError("Commit without a transaction");
  if (failed_) {
    Rollback().IgnoreError();  // the failure that matters is the one reported before
    return absl::FailedPreconditionError(
        "a statement of the transaction failed: it was rolled back");
  }
  absl::Status status = DoCommit();
  if (!status.ok()) DoRollback().IgnoreError();
  in_transaction_ = false;
  return status;
}

absl::Status Connection::Rollback() {
  if (running_) return absl::FailedPreconditionError("Rollback inside a callback");
  if (!in_transaction_) return absl::OkStatus();
  in_transaction_ = false;
  failed_ = false;
  return DoRollback();
}

absl::Status Connection::MayRun(const Sql& sql, std::span<const Value> parameters) const {
  if (running_) {
    return absl::FailedPreconditionError(
        absl::StrCat("statement ", sql.name, " inside the callback of another"));
  }
  if (in_transaction_ && failed_) {
    return absl::FailedPreconditionError(
        absl::StrCat("statement ", sql.name, " after another one failed: roll back first"));
  }
  for (const Value& value : parameters) {
    if (value.kind() != Value::Kind::kText || value.bytes().empty()) continue;
    if (std::memchr(value.bytes().data(), 0, value.bytes().size()) != nullptr) {
      return absl::InvalidArgumentError("text with a NUL character cannot be stored: remove it");
    }
  }
  return absl::OkStatus();
}

absl::Status Connection::Done(absl::Status status) {
  if (!status.ok()) failed_ = true;
  return status;
}

absl::Status Connection::Run(const Sql& sql, std::span<const Value> parameters, RowFn on_row) {
  if (absl::Status status = MayRun(sql, parameters); !status.ok()) return Done(std::move(status));
  const Running running(&running_);
  return Done(DoRun(sql, parameters, on_row));
}

absl::Status Connection::Run(const Sql& sql, std::span<const Value> parameters) {
  return Run(sql, parameters, [](const Row&) {});
}

absl::Status Connection::MayRunMany(const Sql& sql, size_t width,
                                    std::span<const Value> parameters) const {
  if (absl::Status status = MayRun(sql, parameters); !status.ok()) return status;
  if (!in_transaction_) {
    return absl::FailedPreconditionError(
        absl::StrCat("statement ", sql.name, ": many rows outside of a transaction"));
  }
  if (width == 0 || parameters.size() % width != 0) {
    return absl::InternalError(absl::StrCat("statement ", sql.name, ": ", parameters.size(),
                                            " parameters in rows of ", width));
  }
  return absl::OkStatus();
}

absl::Status Connection::RunMany(const Sql& sql, size_t width, std::span<const Value> parameters,
                                 ManyRowFn on_row) {
  absl::Status may = MayRunMany(sql, width, parameters);
  if (!may.ok()) return Done(std::move(may));
  if (parameters.empty()) return absl::OkStatus();
  const Running running(&running_);
  return Done(DoRunMany(sql, width, parameters, on_row));
}

absl::Status Connection::Post(const Sql& sql, size_t width, std::span<const Value> parameters) {
  absl::Status may = MayRunMany(sql, width, parameters);
  if (!may.ok()) return Done(std::move(may));
  if (parameters.empty()) return absl::OkStatus();
  return Done(DoPost(sql, width, parameters));
}

absl::Status Connection::RunMany(const Sql& sql, size_t width, std::span<const Value> parameters) {
  return RunMany(sql, width, parameters, [](size_t, const Row&) {});
}

absl::Status Connection::RunScript(const Sql& script) {
  if (absl::Status status = MayRun(script, {}); !status.ok()) return Done(std::move(status));
  return Done(DoRunScript(script));
}

}  // namespace ferrule::store
