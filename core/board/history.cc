#include "core/board/history.h"

#include <algorithm>

#include "absl/strings/numbers.h"
#include "absl/strings/str_cat.h"
#include "absl/strings/str_split.h"
#include "core/board/lists.h"
#include "core/board/queries.h"
#include "core/fact/words.h"
#include "core/ledger/history.h"
#include "core/time/civil.h"

namespace ferrule::board {
namespace {

using store::Value;

struct Position {
  int64_t through = 0;  // position in the ledger
  int shown = 0;
};

absl::StatusOr<Position> ParseToken(const std::string& token) {
  Position position;
  const std::vector<std::string> parts = absl::StrSplit(token, ':');
  if (parts.size() != 2 || !absl::SimpleAtoi(parts[0], &position.through) ||
      !absl::SimpleAtoi(parts[1], &position.shown) || position.shown < 0) {
    return absl::InvalidArgumentError("page_token is not one that an earlier answer gave");
  }
  return position;
}

bool IsReversed(const fact::FactView& view, const std::vector<fact::FactView>& all) {
  return std::any_of(all.begin(), all.end(), [&](const fact::FactView& other) {
    if (!other.fact().has_reversal()) return false;
    const v1::FactRef& target = other.fact().reversal().fact();
    return target.index() == view.index && target.entry_id() == view.entry->entry_id() &&
           !view.fact().has_reversal();
  });
}

}  // namespace

absl::StatusOr<v1::ListHistoryResponse> ListHistory(ledger::Ledger& ledger,
                                                    const v1::ListHistoryRequest& request,
                                                    int64_t /*now_us*/) {
  absl::StatusOr<int> size = PageSize(request.page_size(), 100);
  if (!size.ok()) return size.status();
  Position position{ledger.head().sequence, 0};
  if (!request.page_token().empty()) {
    absl::StatusOr<Position> parsed = ParseToken(request.page_token());
    if (!parsed.ok()) return parsed.status();
    position = *parsed;
  }
  v1::ListHistoryResponse response;
  absl::Status status = ledger.WithReader([&](store::Connection& connection) -> absl::Status {
    int64_t id = 0;
    const Value parameters[] = {Value::Text(request.name())};
    absl::Status found = connection.Run(sql::kSubjectId, parameters,
                                        [&](const store::Row& row) { id = row.Int(0); });
    if (!found.ok()) return found;
    if (id == 0) {
      return absl::NotFoundError(absl::StrCat("nothing is recorded about ", request.name(),
                                              "; check the number, or list what there is"));
    }
    if (request.has_known_time()) {
      auto known = ledger::SequenceKnownAt(connection, time::ToMicros(request.known_time()),
                                           position.through);
      if (!known.ok()) return known.status();
      position.through = *known;
    }
    ledger::History history;
    absl::Status loaded = history.Load(connection, id, position.through);
    if (!loaded.ok()) return loaded;
    std::vector<fact::FactView> views = history.views();
    std::sort(views.begin(), views.end(), fact::Before);
    for (size_t i = static_cast<size_t>(position.shown); i < views.size(); ++i) {
      if (response.rows_size() == *size) {
        response.set_next_page_token(absl::StrCat(position.through, ":", i));
        break;
      }
      const fact::FactView& view = views[i];
      v1::HistoryRow* row = response.add_rows();
      *row->mutable_fact() = view.fact();
      row->mutable_ref()->set_entry_id(view.entry->entry_id());
      row->mutable_ref()->set_index(view.index);
      row->set_actor(view.entry->actor());
      time::SetMicros(view.recorded_us, row->mutable_recorded_time());
      row->set_sequence(view.sequence);
      row->set_reversed(IsReversed(view, views));
      row->set_text(fact::Describe(view.fact()));
    }
    return absl::OkStatus();
  });
  if (!status.ok()) return status;
  return response;
}

}  // namespace ferrule::board
