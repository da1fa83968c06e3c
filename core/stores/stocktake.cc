#include "core/stores/stocktake.h"

#include <algorithm>
#include <map>
#include <optional>
#include <set>
#include <string>
#include <utility>
#include <vector>

#include "absl/strings/match.h"
#include "absl/strings/str_cat.h"
#include "core/fact/counted.h"
#include "core/fact/subject.h"
#include "core/fold/fold.h"
#include "core/ledger/history.h"
#include "core/stock/book.h"
#include "core/stores/queries.h"
#include "core/time/civil.h"

namespace ferrule::stores {
namespace {

using fact::BareId;
using fact::SubjectKind;
using fact::SubjectName;
using store::Value;

// What was seen at one place in its last round, by everybody who counted there.
struct Seen {
  int round = 0;
  int64_t tallied_us = INT64_MIN;
  std::set<std::string> units;           // full names
  std::map<std::string, int64_t> goods;  // by full name of lot or item
};

std::map<std::string, Seen> SeenBy(const v1::CountState& count) {
  std::map<std::string, Seen> seen;
  for (const v1::CountTally& tally : count.tallies()) {
    Seen& here = seen[tally.place()];
    if (tally.round() < here.round) continue;
    if (tally.round() > here.round) here = Seen();
    here.round = tally.round();
    here.tallied_us = std::max(here.tallied_us, time::ToMicros(tally.tallied().time()));
    for (const std::string& unit : tally.units()) {
      here.units.insert(SubjectName(SubjectKind::kUnit, unit));
    }
    for (const v1::StockLine& line : tally.lines()) {
      const std::string name = line.lot().empty() ? SubjectName(SubjectKind::kItem, line.item())
                                                  : SubjectName(SubjectKind::kLot, line.lot());
      here.goods[name] += line.piece_count();
    }
  }
  return seen;
}

// Compares place by place.
class Comparison {
 public:
  Comparison(store::Connection& connection, const depot::SettingsBook& book, int64_t through,
             v1::GetCountResponse* response)
      : connection_(connection),
        book_(book),
        through_(through),
        seen_(SeenBy(response->count())),
        cut_off_us_(time::ToMicros(response->count().cut_off_time())),
        response_(response) {}

  absl::Status Run() {
    absl::Status status = absl::OkStatus();
    for (const std::string& place : response_->count().places()) {
      if (status.ok()) status = Units(place);
      if (status.ok()) status = Goods(place);
    }
    if (!status.ok()) return status;
    ProposeSwaps();
    const int64_t all = response_->agreeing_count() + response_->differences_size();
    if (all > 0) {
      response_->set_accuracy_basis_points(
          static_cast<int32_t>(response_->agreeing_count() * 10'000 / all));
    }
    return status;
  }

 private:
  struct Stay {
    int64_t from_us;
    int64_t to_us;
  };

  void Moved(const std::string& name, const char* how, const std::string& place, int64_t us) {
    response_->add_moves(absl::StrCat(BareId(name), " ", how, " ", place, " at ",
                                      time::FormatUtc(us), ", after the cut-off"));
  }

  absl::Status Units(const std::string& place) {
    const Seen& seen = seen_[place];
    std::map<std::string, Stay> stays;  // the last one of each that touches the time of counting
    const std::string at = SubjectName(SubjectKind::kPlace, place);  // outlives the query
    const Value parameters[] = {Value::Text(at), Value::Int(cut_off_us_),
                                Value::Int(seen.tallied_us)};
    absl::Status status =
        connection_.Run(sql::kCustodyAtPlace, parameters, [&](const store::Row& row) {
          const std::string name(row.Bytes(0));
          const Stay stay{row.Int(1), row.Int(2)};
          if (stay.from_us <= cut_off_us_) Expect(1);
          if (stay.from_us > cut_off_us_) Moved(name, "came to", place, stay.from_us);
          if (stay.to_us <= seen.tallied_us) Moved(name, "left", place, stay.to_us);
          stays.insert_or_assign(name, stay);
        });
    if (!status.ok()) return status;
    for (const auto& [name, stay] : stays) {
      if (stay.to_us <= seen.tallied_us) continue;  // gone before it could be seen
      if (seen.units.count(name) != 0) {
        response_->set_agreeing_count(response_->agreeing_count() + 1);
        continue;
      }
      status = Missing(place, name, seen);
      if (!status.ok()) return status;
    }
    for (const std::string& name : seen.units) {
      const auto stay = stays.find(name);
      if (stay != stays.end() && stay->second.to_us > seen.tallied_us) continue;
      status = Extra(place, name, seen);
      if (!status.ok()) return status;
    }
    return absl::OkStatus();
  }

  v1::CountDifference* Add(const std::string& place, const std::string& name, int64_t expected,
                           int64_t counted) {
    v1::CountLine* line = response_->add_differences();
    line->set_recounted(seen_[place].round >= 2);
    v1::CountDifference* difference = line->mutable_difference();
    difference->set_subject(name);
    difference->set_place(place);
    difference->set_expected_count(expected);
    difference->set_counted_count(counted);
    difference->set_explanation(v1::COUNT_EXPLANATION_NONE);
    if (counted > expected) {
      response_->set_plus_count(response_->plus_count() + counted - expected);
    } else {
      response_->set_minus_count(response_->minus_count() + expected - counted);
    }
    return difference;
  }

  static void Explain(v1::CountExplanation explanation, std::string words,
                      v1::CountDifference* difference) {
    difference->set_explanation(explanation);
    difference->set_words(std::move(words));
  }

  // Where else the same stocktake saw it.
  std::optional<std::string> SeenElsewhere(const std::string& place,
                                           const std::string& name) const {
    for (const auto& [other, seen] : seen_) {
      if (other != place && seen.units.count(name) != 0) return other;
    }
    return std::nullopt;
  }

  // The records have it here, and nobody saw it.
  absl::Status Missing(const std::string& place, const std::string& name, const Seen& seen) {
    v1::CountDifference* difference = Add(place, name, 1, 0);
    if (const auto other = SeenElsewhere(place, name)) {
      Explain(v1::COUNT_EXPLANATION_OTHER_PLACE, absl::StrCat("it was seen at ", *other),
              difference);
      return absl::OkStatus();
    }
    const Value parameters[] = {Value::Text(name), Value::Int(seen.tallied_us)};
    return connection_.Run(sql::kCustodyAfter, parameters, [&](const store::Row& row) {
      if (row.Int(1) <= seen.tallied_us) return;
      if (difference->explanation() != v1::COUNT_EXPLANATION_NONE) return;
      Explain(v1::COUNT_EXPLANATION_LATER_SCAN,
              absl::StrCat("later with ", std::string(row.Bytes(0)), ", from ",
                           time::FormatUtc(row.Int(1))),
              difference);
    });
  }

  // Somebody saw it, and the records have it elsewhere.
  absl::Status Extra(const std::string& place, const std::string& name, const Seen& seen) {
    v1::CountDifference* difference = Add(place, name, 0, 1);
    const Value parameters[] = {Value::Text(name), Value::Int(seen.tallied_us)};
    std::string where;
    absl::Status status =
        connection_.Run(sql::kCustodyAfter, parameters, [&](const store::Row& row) {
          const std::string holder(row.Bytes(0));
          if (row.Int(1) <= seen.tallied_us) {
            where = holder;
          } else if (holder == SubjectName(SubjectKind::kPlace, place) &&
                     difference->explanation() == v1::COUNT_EXPLANATION_NONE) {
            Explain(v1::COUNT_EXPLANATION_LATER_SCAN,
                    absl::StrCat("scanned here from ", time::FormatUtc(row.Int(1))), difference);
          }
        });
    if (!status.ok() || difference->explanation() != v1::COUNT_EXPLANATION_NONE) return status;
    extra_at_[name] = where;
    if (absl::StartsWith(where, "orders/")) {
      Explain(v1::COUNT_EXPLANATION_LATE_PAPER,
              absl::StrCat("the records have it with ", where, ": its pick-up is not recorded"),
              difference);
    } else if (absl::StartsWith(where, "places/") || absl::StartsWith(where, "transfers/")) {
      Explain(v1::COUNT_EXPLANATION_OTHER_PLACE,
              absl::StrCat("the records have it at ", BareId(where)), difference);
    } else {
      difference->set_words(where.empty() ? "no unit of this tag is recorded"
                                          : "the records have it unaccounted for or gone");
    }
    return status;
  }

  // One unit that is missing and one that is there instead cancel each other: if the other one's
  // recorded place is not counted here, the missing one may stand there.
  void ProposeSwaps() {
    for (v1::CountLine& line : *response_->mutable_differences()) {
      v1::CountDifference& missing = *line.mutable_difference();
      const bool unexplained = missing.explanation() == v1::COUNT_EXPLANATION_NONE &&
                               missing.expected_count() == 1 && missing.counted_count() == 0;
      if (!unexplained || !absl::StartsWith(missing.subject(), "units/")) continue;
      for (const v1::CountLine& other : response_->differences()) {
        const v1::CountDifference& extra = other.difference();
        const auto at = extra_at_.find(extra.subject());
        if (extra.place() != missing.place() || at == extra_at_.end() || at->second.empty()) {
          continue;
        }
        Explain(v1::COUNT_EXPLANATION_SWAP,
                absl::StrCat(BareId(extra.subject()), " stands here instead: look for ",
                             BareId(missing.subject()), " with ", at->second),
                &missing);
        break;
      }
    }
  }

  absl::Status Goods(const std::string& place) {
    const Seen& seen = seen_[place];
    std::set<std::string> names;
    for (const auto& [name, pieces] : seen.goods) names.insert(name);
    const std::string at = SubjectName(SubjectKind::kPlace, place);  // outlives the query
    const Value parameters[] = {Value::Text(at), Value::Int(cut_off_us_),
                                Value::Int(seen.tallied_us)};
    absl::Status status =
        connection_.Run(sql::kGoodsAtPlace, parameters,
                        [&](const store::Row& row) { names.insert(std::string(row.Bytes(0))); });
    if (!status.ok()) return status;
    for (const std::string& name : names) {
      const auto at_cut_off = PiecesAt(name, place, cut_off_us_);
      if (!at_cut_off.ok()) return at_cut_off.status();
      const auto at_tally = PiecesAt(name, place, seen.tallied_us);
      if (!at_tally.ok()) return at_tally.status();
      Expect(*at_cut_off);
      if (*at_tally != *at_cut_off) {
        response_->add_moves(absl::StrCat(BareId(name), ": ",
                                          fact::Counted(*at_tally - *at_cut_off, "piece", "pieces"),
                                          " at ", place, " after the cut-off"));
      }
      const auto found = seen.goods.find(name);
      const int64_t counted = found == seen.goods.end() ? 0 : found->second;
      if (counted == *at_tally) {
        if (counted != 0) response_->set_agreeing_count(response_->agreeing_count() + 1);
        continue;
      }
      Add(place, name, *at_tally, counted);
    }
    return absl::OkStatus();
  }

  // What the books had there at an instant of true time, by all that is known now.
  absl::StatusOr<int64_t> PiecesAt(const std::string& name, const std::string& place,
                                   int64_t at_us) {
    int64_t id = 0;
    const Value parameters[] = {Value::Text(name)};
    absl::Status status = connection_.Run(sql::kSubjectId, parameters,
                                          [&](const store::Row& row) { id = row.Int(0); });
    if (!status.ok()) return status;
    if (id == 0) return 0;
    ledger::History history;
    status = history.Load(connection_, id, through_);
    if (!status.ok()) return status;
    std::vector<fact::FactView> views;
    for (const fact::FactView& view : history.views()) {
      if (view.happened_us <= at_us || view.fact().has_reversal()) views.push_back(view);
    }
    const v1::SubjectState state = fold::Fold(name, std::move(views), book_);
    return stock::PiecesAt(state.has_lot() ? state.lot().book() : state.item().book(), place);
  }

  void Expect(int64_t count) { response_->set_expected_count(response_->expected_count() + count); }

  store::Connection& connection_;
  const depot::SettingsBook& book_;
  const int64_t through_;
  std::map<std::string, Seen> seen_;
  const int64_t cut_off_us_;
  v1::GetCountResponse* response_;
  std::map<std::string, std::string> extra_at_;  // where the records have what was seen here
};

}  // namespace

absl::StatusOr<v1::GetCountResponse> GetCount(ledger::Ledger& ledger,
                                              const v1::GetCountRequest& request,
                                              int64_t /*now_us*/) {
  absl::StatusOr<ledger::StatePtr> state = ledger.Get(request.name());
  if (!state.ok()) return state.status();
  if (!(*state)->has_count()) {
    return absl::InvalidArgumentError(
        absl::StrCat(request.name(), " is no stocktake; give one, for instance counts/C-7"));
  }
  v1::GetCountResponse response;
  *response.mutable_count() = (*state)->count();
  const std::map<std::string, Seen> seen = SeenBy(response.count());
  for (const std::string& place : response.count().places()) {
    if (seen.count(place) == 0) response.add_untallied_places(place);
  }
  if (!response.untallied_places().empty()) return response;
  const auto book = ledger.Book();
  absl::Status status = ledger.WithReader([&](store::Connection& connection) {
    return Comparison(connection, *book, ledger.head().sequence, &response).Run();
  });
  if (!status.ok()) return status;
  return response;
}

absl::StatusOr<v1::ListCountsResponse> ListCounts(ledger::Ledger& ledger,
                                                  const v1::ListCountsRequest& request,
                                                  int64_t /*now_us*/) {
  v1::ListCountsResponse response;
  bool readable = true;
  const Value parameters[] = {Value::Int(static_cast<int>(SubjectKind::kCount)),
                              Value::Text(request.page_token())};
  absl::Status status = ledger.WithReader([&](store::Connection& connection) {
    return connection.Run(sql::kStatesOfKind, parameters, [&](const store::Row& row) {
      v1::SubjectState state;
      const std::string_view bytes = row.Bytes(1);
      readable &= state.ParseFromArray(bytes.data(), static_cast<int>(bytes.size()));
      if (state.count().has_closed() && !request.include_closed()) return;
      if (response.counts_size() == request.page_size()) {
        response.set_next_page_token(
            SubjectName(SubjectKind::kCount, response.counts().rbegin()->count()));
        return;
      }
      v1::CountState* out = response.add_counts();
      *out = std::move(*state.mutable_count());
      out->clear_tallies();  // one line each
    });
  });
  if (!status.ok()) return status;
  if (!readable) return absl::DataLossError("a stored state cannot be read; run: ferruled rebuild");
  return response;
}

}  // namespace ferrule::stores
