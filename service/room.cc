#include "service/room.h"

#include <optional>
#include <utility>

#include "absl/strings/str_cat.h"
#include "service/file_work.h"

namespace ferrule::service {
namespace {

constexpr store::Sql kAnswer{"engine_answers", "SELECT sequence FROM ledger_head"};

}  // namespace

Room::Room(ledger::Ledger* ledger, std::string path, int64_t floor_bytes,
           std::function<void(const std::string&)> log)
    : ledger_(*ledger), path_(std::move(path)), floor_bytes_(floor_bytes), log_(std::move(log)) {}

void Room::Look() {
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

}  // namespace ferrule::service
