#include "core/trace/recall_items.h"

#include <algorithm>
#include <map>
#include <set>
#include <string>
#include <utility>
#include <vector>

#include "absl/strings/match.h"
#include "absl/strings/str_cat.h"
#include "absl/strings/str_join.h"
#include "core/fact/subject.h"
#include "core/time/civil.h"
#include "core/trace/queries.h"
#include "core/trace/recall_scope.h"
#include "core/trace/spans.h"

namespace ferrule::trace {
namespace {

using fact::SubjectKind;
using fact::SubjectName;
using store::Value;

// Why an item is covered, and from when to when: always, or while a part was in it.
struct Match {
  std::vector<std::string> basis;
  std::vector<std::pair<int64_t, int64_t>> covered;
  bool still_in = false;

  void Add(std::string why, int64_t from_us, int64_t to_us) {
    if (std::find(basis.begin(), basis.end(), why) == basis.end()) basis.push_back(std::move(why));
    covered.emplace_back(from_us, to_us);
    still_in = still_in || to_us == fold::kLasts;
  }
};

struct Found {
  std::map<std::string, Match> units;  // by full name
  std::map<std::string, Match> parts;  // by full name
  std::map<std::string, int64_t> ids;  // rows of the units
};

class Worklist {
 public:
  Worklist(store::Connection& connection, const v1::RecallScope& scope, std::string recall)
      : connection_(connection), scope_(scope), recall_(std::move(recall)) {}

  absl::Status Find() {
    absl::Status status = ByTagAndModel();
    if (status.ok()) status = BySerial();
    for (const std::string& lot : scope_.part_lots()) {
      if (status.ok()) status = ByParts(sql::kPartsOfLot, lot, absl::StrCat("part of lot ", lot));
    }
    for (const std::string& part : scope_.parts()) {
      if (status.ok()) {
        status = ByParts(sql::kUnitsOfPart, SubjectName(SubjectKind::kPart, part),
                         absl::StrCat("part ", part));
      }
    }
    if (status.ok()) status = AddUnits();
    if (status.ok()) status = AddLooseParts();
    for (const std::string& lot : scope_.lots()) {
      if (status.ok()) status = AddLot(lot);
    }
    std::sort(items_.begin(), items_.end(),
              [](const auto& a, const auto& b) { return a.subject() < b.subject(); });
    return status;
  }

  std::vector<v1::RecallItem>& items() { return items_; }

  // What only those rows need that are shown: a look into the past of each.
  absl::Status Complete(int64_t opened_us, v1::RecallItem* item) {
    const auto unit = found_.units.find(item->subject());
    if (unit == found_.units.end()) return absl::OkStatus();
    auto spans = SpansOf(connection_, found_.ids[item->subject()], INT64_MIN, INT64_MAX);
    if (!spans.ok()) return spans.status();
    std::set<std::string> former;
    for (const fold::Span& span : *spans) {
      if (span.kind != v1::SPAN_KIND_CUSTODY) continue;
      if (span.from_us <= opened_us && opened_us < span.to_us) {
        item->set_holder_at_notice(span.holder);
      }
      if (span.to_us == fold::kLasts || !absl::StartsWith(span.holder, "orders/")) continue;
      for (const auto& [from_us, to_us] : unit->second.covered) {
        if (span.from_us < to_us && span.to_us > from_us) former.insert(span.holder.substr(7));
      }
    }
    for (const std::string& order : former) item->add_former_orders(order);
    return absl::OkStatus();
  }

 private:
  absl::Status ByTagAndModel() {
    for (const std::string& unit : scope_.units()) {
      found_.units[SubjectName(SubjectKind::kUnit, unit)].Add("named", INT64_MIN, INT64_MAX);
    }
    for (const std::string& model : scope_.models()) {
      const Value parameters[] = {Value::Text(model)};
      absl::Status status =
          connection_.Run(sql::kUnitsOfModel, parameters, [&](const store::Row& row) {
            found_.units[std::string(row.Bytes(0))].Add(absl::StrCat("model ", model), INT64_MIN,
                                                        INT64_MAX);
          });
      if (!status.ok()) return status;
    }
    return absl::OkStatus();
  }

  absl::Status BySerial() {
    if (scope_.serials().empty()) return absl::OkStatus();
    return connection_.Run(sql::kUnitSerials, {}, [&](const store::Row& row) {
      for (const v1::SerialRange& range : scope_.serials()) {
        if (!range.model().empty() && row.Bytes(2) != range.model()) continue;
        if (!InSerialRange(row.Bytes(1), range.first(), range.last())) continue;
        found_.units[std::string(row.Bytes(0))].Add(
            absl::StrCat("serial ", std::string(row.Bytes(1))), INT64_MIN, INT64_MAX);
      }
    });
  }

  absl::Status ByParts(const store::Sql& sql, const std::string& key, const std::string& why) {
    const Value parameters[] = {Value::Text(key)};
    return connection_.Run(sql, parameters, [&](const store::Row& row) {
      const std::string position(row.Bytes(2));
      found_.units[std::string(row.Bytes(1))].Add(
          position.empty() ? why : absl::StrCat(why, " as ", position), row.Int(3), row.Int(4));
      found_.parts[std::string(row.Bytes(0))].Add(why, row.Int(3), row.Int(4));
    });
  }

  template <typename Matches, typename Visit>
  absl::Status EachState(const Matches& matches, Visit visit) {
    std::vector<const std::string*> names;
    std::vector<Value> keys;
    for (const auto& [name, match] : matches) {
      names.push_back(&name);
      keys.push_back(Value::Text(name));
    }
    if (keys.empty()) return absl::OkStatus();
    bool readable = true;
    v1::SubjectState state;
    absl::Status status =
        connection_.RunMany(sql::kStateByName, 1, keys, [&](size_t i, const store::Row& row) {
          const std::string_view bytes = row.Bytes(1);
          readable &= state.ParseFromArray(bytes.data(), static_cast<int>(bytes.size()));
          visit(*names[i], row.Int(0), state);
        });
    if (!status.ok() || readable) return status;
    return absl::DataLossError("a stored state cannot be read; run: ferruled rebuild");
  }

  void PutWord(const v1::SubjectState& state, v1::RecallItem* item) const {
    for (const v1::RecallWord& word : state.recall_words()) {
      if (word.recall() == recall_) *item->mutable_word() = word;
    }
  }

  v1::RecallItem* Add(const std::string& subject, const Match& match) {
    v1::RecallItem& item = items_.emplace_back();
    item.set_subject(subject);
    item.set_basis(absl::StrJoin(match.basis, "; "));
    item.set_still_in(match.still_in);
    return &item;
  }

  absl::Status AddUnits() {
    std::set<std::string> known;
    absl::Status status = EachState(
        found_.units, [&](const std::string& name, int64_t id, const v1::SubjectState& state) {
          known.insert(name);
          found_.ids[name] = id;
          const v1::UnitState& unit = state.unit();
          v1::RecallItem* item = Add(name, found_.units[name]);
          item->set_model(unit.model());
          item->set_serial(unit.serial());
          for (const fold::Span& span : fold::OpenSpans(state)) {
            if (span.kind != v1::SPAN_KIND_CUSTODY) continue;
            item->set_holder(span.holder);
            time::SetMicros(span.from_us, item->mutable_since_time());
          }
          for (const v1::Hold& hold : unit.holds()) {
            const bool mine = hold.reference().empty() || hold.reference() == recall_;
            if (hold.kind() == v1::HOLD_KIND_RECALL && mine) item->set_on_hold(true);
          }
          PutWord(state, item);
        });
    if (!status.ok()) return status;
    // A tag that the notice names and nobody knows, or a unit that only a part's record names: its
    // holder is unknown, and it counts.
    for (const auto& [name, match] : found_.units) {
      if (known.count(name) == 0) Add(name, match);
    }
    return absl::OkStatus();
  }

  absl::Status AddLooseParts() {
    return EachState(found_.parts,
                     [&](const std::string& name, int64_t /*id*/, const v1::SubjectState& state) {
                       if (!state.part().unit().empty()) return;
                       v1::RecallItem* item = Add(name, found_.parts[name]);
                       *item->mutable_since_time() = state.part().since().time();
                       item->set_still_in(false);
                       PutWord(state, item);
                     });
  }

  absl::Status AddLot(const std::string& lot) {
    const std::string name = SubjectName(SubjectKind::kLot, lot);
    int64_t lot_id = 0;
    std::map<std::string, Match> one;
    one[name].Add(absl::StrCat("lot ", lot), INT64_MIN, INT64_MAX);
    absl::Status status =
        EachState(one, [&](const std::string&, int64_t id, const v1::SubjectState& state) {
          lot_id = id;
          const v1::StockBook& book = state.lot().book();
          std::vector<std::string> holders;
          int64_t pieces = 0;
          for (const v1::StockAtPlace& at : book.at()) {
            holders.push_back(SubjectName(SubjectKind::kPlace, at.place()));
            pieces += at.piece_count();
          }
          for (const v1::StockOnTheWay& way : book.on_the_way()) {
            holders.push_back(SubjectName(SubjectKind::kTransfer, way.transfer()));
            pieces += way.piece_count();
          }
          if (holders.empty()) return;
          v1::RecallItem* item = Add(name, one[name]);
          item->set_holder(absl::StrJoin(holders, ", "));
          item->set_piece_count(pieces);
          PutWord(state, item);
        });
    if (!status.ok() || lot_id == 0) return status;
    return AddPatientsOf(lot, lot_id);
  }

  absl::Status AddPatientsOf(const std::string& lot, int64_t lot_id) {
    auto spans = SpansOf(connection_, lot_id, INT64_MIN, INT64_MAX);
    if (!spans.ok()) return spans.status();
    std::map<std::string, Match> orders;
    std::map<std::string, std::pair<int64_t, int64_t>> got;  // pieces, since when
    for (const fold::Span& span : *spans) {
      if (span.kind != v1::SPAN_KIND_USE) continue;
      orders[span.holder].Add(absl::StrCat("got lot ", lot), span.from_us, span.to_us);
      got[span.holder].first += span.piece_count;
      got[span.holder].second = span.from_us;
    }
    return EachState(orders,
                     [&](const std::string& name, int64_t /*id*/, const v1::SubjectState& state) {
                       v1::RecallItem* item = Add(name, orders[name]);
                       item->set_holder(name);
                       item->set_piece_count(got[name].first);
                       time::SetMicros(got[name].second, item->mutable_since_time());
                       PutWord(state, item);
                     });
  }

  store::Connection& connection_;
  const v1::RecallScope& scope_;
  const std::string recall_;
  Found found_;
  std::vector<v1::RecallItem> items_;
};

bool IsEmpty(const v1::RecallScope& scope) { return scope.ByteSizeLong() == 0; }

}  // namespace

absl::StatusOr<v1::ListRecallItemsResponse> ListRecallItems(
    ledger::Ledger& ledger, const v1::ListRecallItemsRequest& request, int64_t now_us) {
  v1::ListRecallItemsResponse response;
  int64_t opened_us = now_us;
  v1::RecallScope scope = request.scope();
  if (!request.name().empty()) {
    absl::StatusOr<ledger::StatePtr> state = ledger.Get(request.name());
    if (!state.ok()) return state.status();
    if (!(*state)->has_recall()) {
      return absl::InvalidArgumentError(
          absl::StrCat(request.name(), " is no recall; give one, for instance recalls/N-7"));
    }
    *response.mutable_recall() = (*state)->recall();
    scope = response.recall().scope();
    opened_us = time::ToMicros(response.recall().opened().time());
  } else if (IsEmpty(scope)) {
    return absl::InvalidArgumentError(
        "name a recall, for instance recalls/N-7, or say what to look for");
  }
  absl::Status status = ledger.WithReader([&](store::Connection& connection) -> absl::Status {
    Worklist worklist(connection, scope, response.recall().recall());
    if (absl::Status found = worklist.Find(); !found.ok()) return found;
    *response.mutable_totals() = TotalsOf(worklist.items(), opened_us);
    for (v1::RecallItem& item : worklist.items()) {
      if (item.subject() <= request.page_token()) continue;
      if (request.open_only() && IsDone(item.word().outcome())) continue;
      if (response.items_size() == request.page_size()) {
        response.set_next_page_token(response.items().rbegin()->subject());
        break;
      }
      if (absl::Status done = worklist.Complete(opened_us, &item); !done.ok()) return done;
      *response.add_items() = std::move(item);
    }
    return absl::OkStatus();
  });
  if (!status.ok()) return status;
  return response;
}

absl::StatusOr<v1::ListRecallsResponse> ListRecalls(ledger::Ledger& ledger,
                                                    const v1::ListRecallsRequest& request,
                                                    int64_t /*now_us*/) {
  v1::ListRecallsResponse response;
  bool readable = true;
  const Value parameters[] = {Value::Int(static_cast<int>(SubjectKind::kRecall)),
                              Value::Text(request.page_token())};
  absl::Status status = ledger.WithReader([&](store::Connection& connection) {
    return connection.Run(sql::kStatesOfKind, parameters, [&](const store::Row& row) {
      v1::SubjectState state;
      const std::string_view bytes = row.Bytes(1);
      readable &= state.ParseFromArray(bytes.data(), static_cast<int>(bytes.size()));
      if (state.recall().has_closed() && !request.include_closed()) return;
      if (response.recalls_size() == request.page_size()) {
        const std::string& last = response.recalls().rbegin()->recall();
        response.set_next_page_token(SubjectName(SubjectKind::kRecall, last));
        return;
      }
      *response.add_recalls() = std::move(*state.mutable_recall());
    });
  });
  if (!status.ok()) return status;
  if (!readable) return absl::DataLossError("a stored state cannot be read; run: ferruled rebuild");
  return response;
}

}  // namespace ferrule::trace
