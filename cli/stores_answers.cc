// Answers about the stores: goods, picking, reorder, transfers, places.
#include "absl/strings/str_cat.h"
#include "cli/answer.h"
#include "cli/catalog.h"
#include "cli/goods_flags.h"
#include "cli/pages.h"
#include "cli/render_words.h"
#include "cli/values.h"
#include "core/fact/counted.h"
#include "core/time/civil.h"
#include "ferrule/v1/stock_service.grpc.pb.h"

namespace ferrule::cli {
namespace {

using Stock = v1::StockService::StubInterface;

template <typename Rows>
Table GoodsTable(const Rows& rows) {
  Table table(
      {{"item"}, {"lot"}, {"place"}, {"branch"}, {"pieces", true}, {"expiry_date"}, {"state"}});
  for (const v1::StockRow& row : rows) {
    table.Add({row.item(), row.lot(), row.place(), row.branch(), absl::StrCat(row.piece_count()),
               Day(row.expiry_date()),
               row.piece_count() < 0 ? "below zero"
               : row.expired()       ? "expired"
                                     : ""});
  }
  return table;
}

absl::Status ShowStock(Session& session, const Line& line) {
  if (absl::Status now = OnlyFromNow(session); !now.ok()) return now;
  v1::ListStockRequest request;
  Values values(session);
  request.set_place(line.Get("--place").value_or(""));
  request.set_branch(line.Get("--branch").value_or(""));
  request.set_item(line.Get("--item").value_or(""));
  IfGiven(values.Day("--expires-by"),
          [&](const google::type::Date& v) { *request.mutable_expires_by_date() = v; });
  if (!values.status().ok()) return values.status();
  v1::ListStockResponse all;
  const absl::Status asked =
      AskPages(session, &Stock::ListStock, request, &all,
               [](v1::ListStockResponse& page) { return page.mutable_rows(); });
  if (!asked.ok()) return asked;
  return ShowAnswer(
      session, all, GoodsTable(all.rows()),
      line.Has("--place") || line.Has("--branch") || line.Has("--item") || line.Has("--expires-by")
          ? "no such goods are on the books"
          : "no goods are on the books; take some in with ferrule stock-in");
}

absl::Status Pick(Session& session, const Line& line) {
  if (absl::Status now = OnlyFromNow(session); !now.ok()) return now;
  v1::ReportPickingRequest request;
  Values values(session);
  request.set_item(line.Arg("ITEM"));
  request.set_place(line.Get("--place").value_or(""));
  request.set_branch(line.Get("--branch").value_or(""));
  request.set_piece_count(static_cast<int32_t>(values.Whole("--pieces").value_or(1)));
  IfGiven(values.Day("--on"), [&](const google::type::Date& v) { *request.mutable_on_date() = v; });
  if (!values.status().ok()) return values.status();
  v1::ReportPickingResponse response;
  const absl::Status asked = session.Ask(&Stock::ReportPicking, request, &response);
  if (!asked.ok()) return asked;
  std::string below;
  if (response.short_count() > 0) {
    absl::StrAppend(&below, fact::Counted(response.short_count(), "piece is", "pieces are"),
                    " missing.\n");
  }
  if (response.expired_count() > 0) {
    absl::StrAppend(&below,
                    fact::Counted(response.expired_count(),
                                  "piece was left out: expired by then. Throw it away.\n",
                                  "pieces were left out: expired by then. Throw them away.\n"));
  }
  return ShowAnswer(session, response, GoodsTable(response.rows()), "nothing to take", below);
}

template <typename Rows>
Table ParTable(const Rows& rows) {
  Table table({{"place"}, {"what"}, {"par", true}, {"on_hand", true}, {"missing", true}});
  for (const v1::ParRow& row : rows) {
    table.Add({row.place(), row.item().empty() ? row.device_class() : row.item(),
               absl::StrCat(row.par_count()), absl::StrCat(row.on_hand_count()),
               absl::StrCat(row.missing_count())});
  }
  return table;
}

absl::Status Reorder(Session& session, const Line& line) {
  if (absl::Status now = OnlyFromNow(session); !now.ok()) return now;
  v1::ReportReorderRequest request;
  request.set_branch(line.Get("--branch").value_or(""));
  v1::ReportReorderResponse response;
  const absl::Status asked = session.Ask(&Stock::ReportReorder, request, &response);
  if (!asked.ok()) return asked;
  Table table({{"branch"},
               {"item"},
               {"usable", true},
               {"expired", true},
               {"used", true},
               {"reorder_point", true},
               {"order_now", true},
               {"why"}});
  for (const v1::ReorderRow& row : response.rows()) {
    table.Add({row.branch(), row.item(), absl::StrCat(row.usable_count()),
               absl::StrCat(row.expired_count()), absl::StrCat(row.used_count()),
               absl::StrCat(row.reorder_point_count()), absl::StrCat(row.order_count()),
               row.words()});
  }
  std::string below;
  if (!response.pars().empty()) {
    absl::StrAppend(&below, "Below par\n", ParTable(response.pars()).Text());
  }
  absl::StrAppend(&below, response.rule(), "\n");
  return ShowAnswer(session, response, table,
                    "the settings have no items of the stores; add stock_items { id: ... } with "
                    "their lead times",
                    below);
}

absl::Status Transfers(Session& session, const Line& line) {
  if (absl::Status now = OnlyFromNow(session); !now.ok()) return now;
  v1::ListTransfersRequest request;
  request.set_branch(line.Get("--branch").value_or(""));
  request.set_include_arrived(line.Has("--all"));
  v1::ListTransfersResponse all;
  const absl::Status asked =
      AskPages(session, &Stock::ListTransfers, request, &all,
               [](v1::ListTransfersResponse& page) { return page.mutable_transfers(); });
  if (!asked.ok()) return asked;
  const absl::TimeZone zone = session.zones().OfBranch(request.branch());
  Table table({{"transfer"}, {"from"}, {"to"}, {"sent"}, {"hours", true}, {"state"}, {"open"}});
  for (const v1::TransferRow& row : all.transfers()) {
    const v1::TransferState& transfer = row.transfer();
    std::string open = Joined(transfer.open_units());
    for (const v1::StockLine& goods : transfer.open_lines()) {
      absl::StrAppend(&open, open.empty() ? "" : ", ", goods.piece_count(), " ",
                      GoodsName(goods.item(), goods.lot()));
    }
    table.Add({transfer.transfer(), transfer.from_place(), transfer.to_place(),
               StampWords(transfer.sent(), zone), absl::StrCat(row.on_the_way_hours()),
               row.late() ? "late: look for it" : (open.empty() ? "arrived" : "on the way"), open});
  }
  return ShowAnswer(session, all, table, "nothing is on the way");
}

absl::Status Place(Session& session, const Line& line) {
  if (absl::Status now = OnlyFromNow(session); !now.ok()) return now;
  v1::GetPlaceRequest request;
  request.set_place(line.Arg("PLACE"));
  v1::GetPlaceResponse response;
  const absl::Status asked = session.Ask(&Stock::GetPlace, request, &response);
  if (!asked.ok()) return asked;
  const absl::TimeZone zone = session.zones().OfPlace(request.place());
  Table table({{"unit"}, {"model"}, {"hygiene"}, {"condition"}, {"held_for"}, {"since"}, {"note"}});
  for (const v1::UnitAtPlace& unit : response.units()) {
    table.Add({unit.unit(), unit.model(), Word(unit.hygiene()), Word(unit.condition()),
               unit.order(), StampWords(unit.since(), zone),
               unit.transfer().empty() ? "" : absl::StrCat("sent with ", unit.transfer())});
  }
  std::string below;
  if (!response.goods().empty()) absl::StrAppend(&below, GoodsTable(response.goods()).Text());
  if (!response.pars().empty()) {
    absl::StrAppend(&below, "Par\n", ParTable(response.pars()).Text());
  }
  for (const v1::ClosetUse& use : response.uses()) {
    absl::StrAppend(&below, "Used, and no papers: ", use.piece_count(), " ",
                    use.item().empty() ? use.device_class() : use.item(), ", reported ",
                    StampWords(use.reported(), zone),
                    use.chase().empty() ? "" : absl::StrCat("; ask ", use.chase()), "; entry ",
                    use.reported().fact().entry_id(), "\n");
  }
  if (!response.clean_beside_soiled().empty()) {
    absl::StrAppend(&below, "Clean beside soiled, take them apart: ",
                    Joined(response.clean_beside_soiled()), "\n");
  }
  return ShowAnswer(session, response, table, "no unit stands there", below);
}

}  // namespace

void AddStoresAnswers(Catalog* catalog) {
  constexpr auto kGroup = Group::kStores;
  const Flag branch{"--branch", "BRANCH", "only this branch"};
  const Flag place{"--place", "PLACE", "only this place"};
  catalog->push_back({"stock",
                      kGroup,
                      Kind::kReads,
                      "list goods by lot, place and expiry",
                      {},
                      {branch,
                       place,
                       {"--item", "ITEM", "only this item"},
                       {"--expires-by", "DAY", "only what expires by this day"},
                       kLimitFlag},
                      "ferrule stock --branch north --expires-by 2026-12-31",
                      ShowStock});
  catalog->push_back({"pick",
                      kGroup,
                      Kind::kReads,
                      "say which lots to take, those that expire first",
                      {{"ITEM", "item of the stores"}},
                      {branch,
                       place,
                       {"--pieces", "N", "how many; default 1"},
                       {"--on", "DAY", "used on this day; default today"}},
                      "ferrule pick pad-set --branch north --pieces 3",
                      Pick});
  catalog->push_back({"reorder",
                      kGroup,
                      Kind::kReads,
                      "say what to order, from use and lead time, and what is below par",
                      {},
                      {branch},
                      "ferrule reorder --branch north",
                      Reorder});
  catalog->push_back({"transfers",
                      kGroup,
                      Kind::kReads,
                      "list what is on the way, what is late first",
                      {},
                      {branch, {"--all", "", "what has arrived as well"}, kLimitFlag},
                      "ferrule transfers",
                      Transfers});
  catalog->push_back({"place",
                      kGroup,
                      Kind::kReads,
                      "say what is at a place, on a van or in a closet",
                      {{"PLACE", "the place"}},
                      {},
                      "ferrule place north-closet",
                      Place});
}

}  // namespace ferrule::cli
