#include "core/stores/places.h"

#include <algorithm>
#include <set>
#include <utility>

#include "absl/strings/str_cat.h"
#include "core/depot/known.h"
#include "core/fact/subject.h"
#include "core/stores/goods.h"
#include "core/stores/queries.h"
#include "core/time/civil.h"

namespace ferrule::stores {
namespace {

using fact::SubjectKind;
using fact::SubjectName;
using store::Value;

constexpr int64_t kHourUs = int64_t{3'600'000'000};
constexpr int kUsualAlarmHours = 24;

template <typename Visit>
absl::Status EachTransfer(store::Connection& connection, const std::string& after, Visit visit) {
  bool readable = true;
  v1::SubjectState state;
  const Value parameters[] = {Value::Int(static_cast<int>(SubjectKind::kTransfer)),
                              Value::Text(after)};
  absl::Status status = connection.Run(sql::kStatesOfKind, parameters, [&](const store::Row& row) {
    const std::string_view bytes = row.Bytes(1);
    readable &= state.ParseFromArray(bytes.data(), static_cast<int>(bytes.size()));
    visit(state.transfer());
  });
  if (!status.ok() || readable) return status;
  return absl::DataLossError("a stored state cannot be read; run: ferruled rebuild");
}

bool IsOpen(const v1::TransferState& transfer) {
  return !transfer.open_units().empty() || !transfer.open_lines().empty();
}

// What a place holds: units by class, goods by item.
struct Content {
  std::vector<v1::UnitAtPlace> units;
  std::vector<v1::StockRow> goods;
  v1::PlaceState place;
};

void AddUnit(const v1::UnitState& unit, Content* content) {
  v1::UnitAtPlace& out = content->units.emplace_back();
  out.set_unit(unit.unit());
  out.set_model(unit.model());
  out.set_hygiene(unit.hygiene());
  out.set_condition(unit.condition());
  if (unit.commitment() == v1::COMMITMENT_HELD) out.set_order(unit.order());
  *out.mutable_since() = unit.custody_since();
  out.set_transfer(unit.transfer());
}

absl::StatusOr<Content> Read(store::Connection& connection, const depot::Rules& rules,
                             const std::string& place, int64_t now_us) {
  Content content;
  bool readable = true;
  v1::SubjectState state;
  const Value at[] = {Value::Text(place)};
  absl::Status status = connection.Run(sql::kUnitsAtPlace, at, [&](const store::Row& row) {
    const std::string_view bytes = row.Bytes(1);
    readable &= state.ParseFromArray(bytes.data(), static_cast<int>(bytes.size()));
    AddUnit(state.unit(), &content);
  });
  if (!status.ok()) return status;
  const std::string name = SubjectName(SubjectKind::kPlace, place);
  const Value named[] = {Value::Text(name)};
  status = connection.Run(sql::kStateByName, named, [&](const store::Row& row) {
    const std::string_view bytes = row.Bytes(0);
    readable &= state.ParseFromArray(bytes.data(), static_cast<int>(bytes.size()));
    content.place = state.place();
  });
  if (!status.ok()) return status;
  if (!readable) return absl::DataLossError("a stored state cannot be read; run: ferruled rebuild");
  status = EachBook(
      connection, [&](const std::string& lot, const std::string& item, const v1::StockBook& goods) {
        for (v1::StockRow& row : RowsOf(lot, item, goods, rules, now_us)) {
          if (row.place() == place) content.goods.push_back(std::move(row));
        }
      });
  if (!status.ok()) return status;
  return content;
}

// What stands there for a par level, uses without papers taken off: it may be below 0.
int64_t OnHand(const v1::ParLevel& par, const Content& content, const depot::Rules& rules) {
  int64_t count = 0;
  for (const v1::UnitAtPlace& unit : content.units) {
    const v1::Model* model = rules.FindModel(unit.model());
    const bool counts = !par.device_class().empty() && model != nullptr &&
                        model->device_class() == par.device_class() && unit.transfer().empty();
    if (counts) ++count;
  }
  for (const v1::StockRow& row : content.goods) {
    if (!par.item().empty() && row.item() == par.item() && !row.expired()) {
      count += row.piece_count();
    }
  }
  for (const v1::ClosetUse& use : content.place.uses()) {
    const bool same =
        par.item().empty() ? use.device_class() == par.device_class() : use.item() == par.item();
    if (same) count -= use.piece_count();
  }
  return count;
}

v1::ParRow RowOf(const v1::ParLevel& par, const Content& content, const depot::Rules& rules) {
  v1::ParRow row;
  row.set_place(par.place());
  row.set_item(par.item());
  row.set_device_class(par.device_class());
  row.set_par_count(par.par_count());
  row.set_on_hand_count(OnHand(par, content, rules));
  row.set_missing_count(std::max<int64_t>(0, par.par_count() - row.on_hand_count()));
  return row;
}

// A use of something that the place has no par for still shows: its count is what stands there.
void AddUsesWithoutPar(const Content& content, const depot::Rules& rules,
                       v1::GetPlaceResponse* response) {
  std::set<std::pair<std::string, std::string>> shown;
  for (const v1::ParRow& row : response->pars()) shown.insert({row.item(), row.device_class()});
  for (const v1::ClosetUse& use : content.place.uses()) {
    if (!shown.insert({use.item(), use.device_class()}).second) continue;
    v1::ParLevel none;
    none.set_place(response->place());
    none.set_item(use.item());
    none.set_device_class(use.device_class());
    *response->add_pars() = RowOf(none, content, rules);
  }
}

// Clean units of a clean place where soiled ones stand too.
void AddEndangered(const Content& content, v1::GetPlaceResponse* response) {
  if (!depot::IsCleanPlace(response->kind())) return;
  const auto clean = [](const v1::UnitAtPlace& unit) {
    return unit.hygiene() == v1::HYGIENE_CLEANED;
  };
  if (std::all_of(content.units.begin(), content.units.end(), clean)) return;
  for (const v1::UnitAtPlace& unit : content.units) {
    if (clean(unit)) response->add_clean_beside_soiled(unit.unit());
  }
}

}  // namespace

absl::StatusOr<v1::GetPlaceResponse> GetPlace(ledger::Ledger& ledger,
                                              const v1::GetPlaceRequest& request, int64_t now_us) {
  const auto book = ledger.Book();
  const depot::Rules& rules = book->At(now_us);
  if (request.place().empty()) return absl::InvalidArgumentError("place is missing; name one");
  if (absl::Status known = depot::KnowPlace(rules, request.place()); !known.ok()) return known;
  const v1::Place* place = rules.FindPlace(request.place());
  absl::StatusOr<Content> content = absl::UnknownError("not read");
  absl::Status status = ledger.WithReader([&](store::Connection& connection) {
    content = Read(connection, rules, request.place(), now_us);
    return content.status();
  });
  if (!status.ok()) return status;
  v1::GetPlaceResponse response;
  response.set_place(request.place());
  response.set_kind(place->kind());
  if (const v1::Branch* branch = rules.BranchOfPlace(request.place())) {
    response.set_branch(branch->id());
  }
  for (const v1::ParLevel& par : rules.settings().par_levels()) {
    if (par.place() == request.place()) *response.add_pars() = RowOf(par, *content, rules);
  }
  AddUsesWithoutPar(*content, rules, &response);
  AddEndangered(*content, &response);
  *response.mutable_uses() = std::move(*content->place.mutable_uses());
  for (v1::UnitAtPlace& unit : content->units) *response.add_units() = std::move(unit);
  for (v1::StockRow& row : content->goods) *response.add_goods() = std::move(row);
  return response;
}

absl::StatusOr<v1::ListTransfersResponse> ListTransfers(ledger::Ledger& ledger,
                                                        const v1::ListTransfersRequest& request,
                                                        int64_t now_us) {
  const auto book = ledger.Book();
  const depot::Rules& rules = book->At(now_us);
  const int asked = rules.settings().transfer_alarm_hours();
  const int alarm_hours = asked == 0 ? kUsualAlarmHours : asked;
  v1::ListTransfersResponse response;
  const auto at_branch = [&](const std::string& place) {
    const v1::Branch* branch = rules.BranchOfPlace(place);
    return branch != nullptr && branch->id() == request.branch();
  };
  absl::Status status = ledger.WithReader([&](store::Connection& connection) {
    return EachTransfer(connection, request.page_token(), [&](const v1::TransferState& transfer) {
      const bool open = IsOpen(transfer);
      if (!open && !request.include_arrived()) return;
      if (!request.branch().empty() && !at_branch(transfer.from_place()) &&
          !at_branch(transfer.to_place())) {
        return;
      }
      if (response.transfers_size() == request.page_size()) {
        response.set_next_page_token(SubjectName(
            SubjectKind::kTransfer, response.transfers().rbegin()->transfer().transfer()));
        return;
      }
      v1::TransferRow* row = response.add_transfers();
      const int64_t end_us = open ? now_us : time::ToMicros(transfer.received().time());
      const int64_t sent_us = time::ToMicros(transfer.sent().time());
      if (transfer.has_sent()) row->set_on_the_way_hours((end_us - sent_us) / kHourUs);
      row->set_late(open && row->on_the_way_hours() >= alarm_hours);
      *row->mutable_transfer() = transfer;
    });
  });
  if (!status.ok()) return status;
  // Those that are late stand first on their page.
  std::stable_partition(response.mutable_transfers()->begin(), response.mutable_transfers()->end(),
                        [](const v1::TransferRow& row) { return row.late(); });
  return response;
}

absl::Status AddGoodsOnTheWay(
    store::Connection& connection, const depot::Rules& rules,
    absl::FunctionRef<void(const std::string&, const v1::StockLine&)> add) {
  return EachTransfer(connection, "", [&](const v1::TransferState& transfer) {
    const v1::Branch* branch = rules.BranchOfPlace(transfer.to_place());
    if (branch == nullptr) return;
    for (const v1::StockLine& line : transfer.open_lines()) add(branch->id(), line);
  });
}

absl::StatusOr<v1::ReportReorderResponse> AddPars(ledger::Ledger& ledger, const std::string& branch,
                                                  int64_t now_us,
                                                  v1::ReportReorderResponse response) {
  const auto book = ledger.Book();
  const depot::Rules& rules = book->At(now_us);
  absl::Status status = ledger.WithReader([&](store::Connection& connection) -> absl::Status {
    for (const v1::ParLevel& par : rules.settings().par_levels()) {
      const v1::Branch* at = rules.BranchOfPlace(par.place());
      if (!branch.empty() && (at == nullptr || at->id() != branch)) continue;
      absl::StatusOr<Content> content = Read(connection, rules, par.place(), now_us);
      if (!content.ok()) return content.status();
      v1::ParRow row = RowOf(par, *content, rules);
      if (row.missing_count() > 0) *response.add_pars() = std::move(row);
    }
    return absl::OkStatus();
  });
  if (!status.ok()) return status;
  return response;
}

}  // namespace ferrule::stores
