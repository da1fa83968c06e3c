// Answers about orders and rentals: board, due, orders.
#include "absl/strings/str_cat.h"
#include "cli/catalog.h"
#include "cli/pages.h"
#include "cli/plan_ask.h"
#include "cli/render_order.h"
#include "cli/render_words.h"
#include "cli/values.h"
#include "core/fact/counted.h"
#include "core/time/civil.h"

namespace ferrule::cli {
namespace {

// The board as pictures: one row of bars for each branch and class.
Page BoardPage(const v1::GetBoardResponse& response, const Table& table, absl::TimeZone zone) {
  Page page("The board",
            absl::StrCat("As of ", Local(response.at_time(), zone), " (", zone.name(), ")."));
  for (const v1::BoardRow& row : response.rows()) {
    const std::pair<const char*, int> columns[] = {{"ready and free", row.ready_count()},
                                                   {"held for orders", row.held_count()},
                                                   {"with patients", row.on_rent_count()},
                                                   {"to be cleaned", row.soiled_count()},
                                                   {"to be inspected", row.to_inspect_count()},
                                                   {"failed or in repair", row.in_repair_count()},
                                                   {"blocked", row.blocked_count()},
                                                   {"unaccounted for", row.unaccounted_count()}};
    std::vector<Bar> bars;
    for (const auto& [words, count] : columns) {
      bars.push_back({words, static_cast<double>(count), absl::StrCat(count)});
    }
    page.AddBars(absl::StrCat(row.branch(), ", ", row.device_class(), ": ",
                              fact::Counted(row.unit_count(), "unit", "units"), ", ",
                              row.overdue_count(), " overdue, ",
                              fact::Counted(row.waiting_count(), "order", "orders"), " waiting"),
                 "Units by where they are; they add up to the units on the books.", bars);
  }
  page.Heading("The numbers");
  page.Add("The board", table);
  return page;
}

absl::Status Board(Session& session, const Line& line) {
  v1::GetBoardRequest request;
  request.set_branch(line.Get("--branch").value_or(""));
  const auto known = session.KnownAt();
  if (!known.ok()) return known.status();
  if (known->has_value()) time::SetMicros(**known, request.mutable_known_time());
  v1::GetBoardResponse response;
  const absl::Status asked =
      session.Ask(&v1::DepotService::StubInterface::GetBoard, request, &response);
  if (!asked.ok()) return asked;
  const auto why = session.Explanation();
  if (!why.ok()) return why.status();
  const Table table = BoardTable(response.rows());
  std::string text = table.empty() ? "no units and no orders yet\n" : table.Text();
  if (session.format() == Format::kText) {
    const absl::TimeZone zone = session.zones().OfBranch(request.branch());
    absl::StrAppend(&text, "As of ", Local(response.at_time(), zone), " (", zone.name(), ").\n",
                    *why);
  }
  session.Show(response, table, text);
  return WritePage(session, BoardPage(response, table, session.zones().OfBranch(request.branch())));
}

absl::Status Due(Session& session, const Line& line) {
  v1::ReportDueRequest request;
  request.set_branch(line.Get("--branch").value_or(""));
  Values values(session);
  IfGiven(values.Day("--through"),
          [&](const google::type::Date& v) { *request.mutable_through_date() = v; });
  if (!values.status().ok()) return values.status();
  const auto known = session.KnownAt();
  if (!known.ok()) return known.status();
  if (known->has_value()) time::SetMicros(**known, request.mutable_known_time());
  v1::ReportDueResponse response;
  const absl::Status asked =
      session.Ask(&v1::DepotService::StubInterface::ReportDue, request, &response);
  if (!asked.ok()) return asked;
  const auto why = session.Explanation();
  if (!why.ok()) return why.status();
  const Table table = DueTable(response.rows());
  session.Show(response, table, (table.empty() ? "nothing is due\n" : table.Text()) + *why);
  return absl::OkStatus();
}

absl::Status Orders(Session& session, const Line& line) {
  v1::ListOrdersRequest request;
  Values values(session);
  request.set_branch(line.Get("--branch").value_or(""));
  IfGiven(values.OneOf<v1::OrderStatus>("--status"),
          [&](v1::OrderStatus v) { request.set_status(v); });
  if (!values.status().ok()) return values.status();
  v1::ListOrdersResponse all;
  const absl::Status asked =
      AskPages(session, &v1::DepotService::StubInterface::ListOrders, request, &all,
               [](v1::ListOrdersResponse& page) { return page.mutable_orders(); });
  if (!asked.ok()) return asked;
  const Table table = OrderTable(all.orders());
  session.Show(all, table, table.empty() ? "no order answers that\n" : table.Text());
  return absl::OkStatus();
}

}  // namespace

void AddOrderAnswers(Catalog* catalog) {
  constexpr auto kGroup = Group::kLook;
  const Flag branch{"--branch", "BRANCH", "only this branch"};
  catalog->push_back({"board",
                      kGroup,
                      Kind::kReads,
                      "count units by branch and class",
                      {},
                      {branch, kPlanHtml},
                      "ferrule board --branch north",
                      Board});
  catalog->push_back({"due",
                      kGroup,
                      Kind::kReads,
                      "list the rentals that are due, with the date "
                      "that makes them so",
                      {},
                      {branch, {"--through", "DAY", "due by this day; default today"}},
                      "ferrule due --through tomorrow",
                      Due});
  catalog->push_back(
      {"orders",
       kGroup,
       Kind::kReads,
       "list orders",
       {},
       {branch,
        {"--status", "WORD", "only this status", false, "open held on-rent closed cancelled"},
        kLimitFlag},
       "ferrule orders --status open",
       Orders});
}

}  // namespace ferrule::cli
