#include "service/room.h"

#include <optional>
#include <utility>

#include "absl/strings/str_cat.h"
#include "service/file_work.h"

namespace ferrule::service {
namespace {

constexpr store::Sql kAnswer{"engine_answers", "SELECT sequence FROM ledger_head"};

}  // namespace

Room::Room(ledger::Ledger* ledger, std::string path, int64_t floor_bytes, int64_t long_log_bytes,
           std::function<void(const std::string&)> log)
    : ledger_(*ledger),
      path_(std::move(path)),
      floor_bytes_(floor_bytes),
      long_log_bytes_(long_log_bytes),
      log_(std::move(log)) {}

void Room::Look() {
  LookAtLog();
  std::string trouble;
  if (path_.empty()) {
    const absl::Status answers = ledger_.WithReader([](store::Connection& connection) {
      return connection.Run(kAnswer, {}, [](const store::Row&) {});
    });
    if (!answers.ok()) trouble = "the database does not answer";
  } else {
    const std::optional<int64_t> room = FreeBytesAt(path_);
    if (room.has_value() && *room < floor_bytes_) {
      trouble = absl::StrCat("only ", *room >> 20, " MiB are left on the depot's disk, fewer than ",
                             floor_bytes_ >> 20, "; make room");
    }
  }
  const bool good = trouble.empty();
  if (can_write_.exchange(good) == good || !log_) return;
  log_(good ? std::string("the depot can write again") : absl::StrCat("ALARM: ", trouble));
}

// The file keeps its length until the log is begun anew, so this ends when a commit has done that.
void Room::LookAtLog() {
  if (path_.empty() || !log_) return;
  const int64_t bytes = SizeOf(path_ + "-wal");
  const bool is_long = bytes > long_log_bytes_;
  if (is_long == log_is_long_) return;
  log_is_long_ = is_long;
  log_(is_long ? absl::StrCat("the depot's log has grown to ", bytes >> 20,
                              " MiB, as a reading that goes on keeps it from being taken in: end "
                              "long reports and whatever else has the depot file open")
               : std::string("the depot's log was taken in and is short again"));
}

}  // namespace ferrule::service
