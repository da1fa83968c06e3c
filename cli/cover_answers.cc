// Answers about days: what is missing, the ends, the day ledger, claims and corrections.
#include "absl/strings/str_cat.h"
#include "cli/catalog.h"
#include "cli/render_cover.h"
#include "cli/render_words.h"
#include "cli/values.h"
#include "core/fact/counted.h"
#include "core/time/civil.h"
#include "ferrule/v1/cover_service.grpc.pb.h"

namespace ferrule::cli {
namespace {

const Positional kOrder{"ORDER", "the order's number"};

std::string OrderName(const std::string& typed) {
  return typed.find('/') == std::string::npos ? absl::StrCat("orders/", typed) : typed;
}

// Asks and shows; `table` and `text` make the answer's two other forms.
template <typename Method, typename Request, typename Response, typename MakeTable,
          typename MakeText>
absl::Status Answer(Session& session, Method method, Request request, Response* response,
                    MakeTable make_table, MakeText make_text) {
  const auto known = session.KnownAt();
  if (!known.ok()) return known.status();
  if (known->has_value()) time::SetMicros(**known, request.mutable_known_time());
  const absl::Status asked = session.Ask(method, request, response);
  if (!asked.ok()) return asked;
  const auto why = session.Explanation();
  if (!why.ok()) return why.status();
  const Table table = make_table(*response);
  session.Show(*response, table, make_text(*response, table) + *why);
  return absl::OkStatus();
}

absl::Status Missing(Session& session, const Line& line) {
  v1::AssessOrderRequest request;
  request.set_name(OrderName(line.Arg("ORDER")));
  v1::AssessOrderResponse response;
  return Answer(session, &v1::CoverService::StubInterface::AssessOrder, request, &response,
                MissingTable, MissingText);
}

absl::Status Ends(Session& session, const Line& line) {
  v1::GetRentalEndsRequest request;
  request.set_name(OrderName(line.Arg("ORDER")));
  v1::GetRentalEndsResponse response;
  return Answer(session, &v1::CoverService::StubInterface::GetRentalEnds, request, &response,
                EndsTable, EndsText);
}

absl::Status Days(Session& session, const Line& line) {
  v1::GetDayLedgerRequest request;
  request.set_name(OrderName(line.Arg("ORDER")));
  Values values(session);
  IfGiven(values.Day("--through"),
          [&](const google::type::Date& v) { *request.mutable_through_date() = v; });
  if (!values.status().ok()) return values.status();
  v1::GetDayLedgerResponse response;
  return Answer(session, &v1::CoverService::StubInterface::GetDayLedger, request, &response,
                DaysTable, DaysText);
}

absl::Status Claims(Session& session, const Line& line) {
  v1::ReportClaimsRequest request;
  request.set_branch(line.Get("--branch").value_or(""));
  Values values(session);
  IfGiven(values.Day("--from"),
          [&](const google::type::Date& v) { *request.mutable_from_date() = v; });
  IfGiven(values.Day("--through"),
          [&](const google::type::Date& v) { *request.mutable_through_date() = v; });
  request.set_open_rentals(line.Has("--open"));
  if (!values.status().ok()) return values.status();
  const bool refused = line.Has("--refused");
  v1::ReportClaimsResponse response;
  const absl::Status answered =
      Answer(session, &v1::CoverService::StubInterface::ReportClaims, request, &response,
             refused ? RefusedTable : ClaimsTable, ClaimsText);
  // A file of claims holds claims alone, so what it leaves out is said beside it.
  if (answered.ok() && session.format() == Format::kCsv && !refused &&
      !response.refused().empty()) {
    session.Remark(absl::StrCat(fact::Counted(response.refused_size(), "rental", "rentals"),
                                " cannot be claimed; claims --refused lists what is missing"));
  }
  return answered;
}

absl::Status Corrections(Session& session, const Line& line) {
  v1::ReportCorrectionsRequest request;
  request.set_branch(line.Get("--branch").value_or(""));
  const std::string order = line.Arg("ORDER");
  if (!order.empty()) request.set_name(OrderName(order));
  v1::ReportCorrectionsResponse response;
  return Answer(session, &v1::CoverService::StubInterface::ReportCorrections, request, &response,
                CorrectionsTable, CorrectionsText);
}

}  // namespace

void AddCoverAnswers(Catalog* catalog) {
  constexpr auto kGroup = Group::kLook;
  const Flag branch{"--branch", "BRANCH", "only this branch"};
  catalog->push_back({"lacks",
                      kGroup,
                      Kind::kReads,
                      "say what an order lacks to go out and to be billed, and who supplies it",
                      {kOrder},
                      {},
                      "ferrule lacks R-2001",
                      Missing});
  catalog->push_back({"ends",
                      kGroup,
                      Kind::kReads,
                      "show the four ends of a rental, the papers behind them, holes and overlaps",
                      {kOrder},
                      {},
                      "ferrule ends R-2001",
                      Ends});
  catalog->push_back({"days",
                      kGroup,
                      Kind::kReads,
                      "show every day of a rental with its state and reason",
                      {kOrder},
                      {{"--through", "DAY", "up to this day; default today"}},
                      "ferrule days R-2001",
                      Days});
  catalog->push_back({"claims",
                      kGroup,
                      Kind::kReads,
                      "list the rentals that can be claimed, and those that cannot",
                      {},
                      {branch,
                       {"--from", "DAY", "only days from this one on"},
                       {"--through", "DAY", "only days up to this one; default today"},
                       {"--open", "", "rentals that are still out, too"},
                       {"--refused", "", "table of those that cannot be claimed"}},
                      "ferrule claims --from 2026-11-01 --through 2026-11-30 --format csv",
                      Claims});
  catalog->push_back({"corrections",
                      kGroup,
                      Kind::kReads,
                      "list what changed about days that were billed, with the cause",
                      {{"ORDER", "only this order", Arity::kOptional}},
                      {branch},
                      "ferrule corrections R-2001",
                      Corrections});
}

}  // namespace ferrule::cli
