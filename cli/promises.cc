// Promises: ask, make, move, wait, refuse; and which unit fits.
#include <algorithm>
#include <utility>

#include "absl/strings/str_cat.h"
#include "cli/catalog.h"
#include "cli/look_up.h"
#include "cli/pages.h"
#include "cli/render_findings.h"
#include "cli/render_promise.h"
#include "cli/render_words.h"
#include "cli/report.h"
#include "cli/values.h"
#include "core/time/civil.h"
#include "ferrule/v1/promise_service.grpc.pb.h"

namespace ferrule::cli {
namespace {

using Stub = v1::PromiseService::StubInterface;

const Positional kOrder{"ORDER", "the order's number"};
const Flag kBranch{"--branch", "BRANCH", "only this branch"};

constexpr std::string_view kFitCaution =
    "Caution: the maker's instructions and the prescriber's order rule; measure on the patient.\n";

std::string OrderName(const Line& line) { return "orders/" + line.Arg("ORDER"); }

// Puts facts that the service proposed into the report, at the report's time.
void AddProposal(const google::protobuf::RepeatedPtrField<v1::Fact>& proposal, Report* report) {
  for (const v1::Fact& proposed : proposal) {
    v1::Fact* fact = report->Add();
    const google::protobuf::Timestamp at = fact->happened_time();
    fact->MergeFrom(proposed);
    *fact->mutable_happened_time() = at;
  }
}

// "ferrule promise knee left 2026-12-14", or of an order with --order.
absl::Status AskPromise(Session& session, const Line& line) {
  v1::AssessPromiseRequest request;
  Values values(session);
  request.set_device_class(line.Arg("CLASS"));
  if (!line.Arg("SIDE").empty()) request.set_side(values.OneOfIn<v1::Side>("SIDE"));
  if (!line.Arg("DAY").empty()) *request.mutable_date() = values.DayIn("DAY");
  IfGiven(line.Get("--order"), [&](const std::string& v) { request.set_name("orders/" + v); });
  if (const auto branch = request.name().empty() ? line.GetOrEnv("--branch", "FERRULE_BRANCH")
                                                 : line.Get("--branch")) {
    request.set_branch(*branch);
  }
  IfGiven(values.Whole("--days"), [&](int64_t v) {
    request.set_days(static_cast<int32_t>(std::clamp<int64_t>(v, -1, INT32_MAX)));
  });
  IfGiven(values.Whole("--units"), [&](int64_t v) {
    request.set_unit_count(static_cast<int32_t>(std::clamp<int64_t>(v, -1, INT32_MAX)));
  });
  if (!values.status().ok()) return values.status();
  v1::AssessPromiseResponse response;
  const absl::Status asked = session.Ask(&Stub::AssessPromise, request, &response);
  if (!asked.ok()) return asked;
  session.Show(response, SourceTable(response.sources()), PromiseText(response));
  return absl::OkStatus();
}

absl::Status MakePromise(Session& session, const Line& line) {
  absl::StatusOr<Report> report = Report::Begin(session);
  if (!report.ok()) return report.status();
  v1::AssessPromiseRequest request;
  Values values(session);
  request.set_name(OrderName(line));
  request.set_firm(line.Has("--firm"));
  IfGiven(values.Day("--on"), [&](const google::type::Date& v) { *request.mutable_date() = v; });
  if (!values.status().ok()) return values.status();
  v1::AssessPromiseResponse answer;
  const absl::Status asked = session.Ask(&Stub::AssessPromise, request, &answer);
  if (!asked.ok()) return asked;
  if (answer.proposal().empty()) {
    return absl::FailedPreconditionError(
        absl::StrCat("nothing can be promised: ", VerdictText(answer),
                     "; note that the order waits, or refuse it"));
  }
  AddProposal(answer.proposal(), &*report);
  session.Remark(VerdictText(answer));
  return report->Send(answer.proposal().rbegin()->unit_promised().unit());
}

absl::Status Wait(Session& session, const Line& line) {
  absl::StatusOr<Report> report = Report::Begin(session);
  if (!report.ok()) return report.status();
  Values values(session);
  v1::WaitingNoted& fact = *report->Add()->mutable_waiting_noted();
  fact.set_order(line.Arg("ORDER"));
  IfGiven(values.Day("--asked"),
          [&](const google::type::Date& v) { *fact.mutable_asked_date() = v; });
  IfGiven(line.Get("--reason"), [&](const std::string& v) { fact.set_reason(v); });
  if (!values.status().ok()) return values.status();
  return report->Send();
}

absl::Status Refuse(Session& session, const Line& line) {
  absl::StatusOr<Report> report = Report::Begin(session);
  if (!report.ok()) return report.status();
  Values values(session);
  v1::PromiseRefused& fact = *report->Add()->mutable_promise_refused();
  fact.set_order(line.Arg("ORDER"));
  *fact.mutable_asked_date() = values.DayIn("DAY");
  fact.set_kind(values.OneOf<v1::RefusalKind>("--why").value_or(v1::REFUSAL_KIND_NO_UNIT));
  IfGiven(values.Day("--offered"),
          [&](const google::type::Date& v) { *fact.mutable_offered_date() = v; });
  IfGiven(line.Get("--reason"), [&](const std::string& v) { fact.set_reason(v); });
  if (!values.status().ok()) return values.status();
  return report->Send();
}

absl::StatusOr<v1::AssessMoveResponse> AskMove(Session& session, const Line& line) {
  v1::AssessMoveRequest request;
  Values values(session);
  request.set_name(OrderName(line));
  *request.mutable_surgery_date() = values.DayIn("DAY");
  IfGiven(values.Day("--needed"),
          [&](const google::type::Date& v) { *request.mutable_needed_date() = v; });
  IfGiven(values.Day("--discharge"),
          [&](const google::type::Date& v) { *request.mutable_discharge_date() = v; });
  if (!values.status().ok()) return values.status();
  v1::AssessMoveResponse response;
  const absl::Status asked = session.Ask(&Stub::AssessMove, request, &response);
  if (!asked.ok()) return asked;
  return response;
}

absl::Status PreviewMove(Session& session, const Line& line) {
  const auto response = AskMove(session, line);
  if (!response.ok()) return response.status();
  session.Show(*response, MovedPromiseTable(response->promises()), MoveText(*response));
  return absl::OkStatus();
}

absl::Status MoveSurgery(Session& session, const Line& line) {
  absl::StatusOr<Report> report = Report::Begin(session);
  if (!report.ok()) return report.status();
  const auto response = AskMove(session, line);
  if (!response.ok()) return response.status();
  if (response->broken_count() > 0 && !line.Has("--even-so")) {
    return absl::FailedPreconditionError(
        absl::StrCat(response->broken_count(),
                     " later promises would break; look at them with ferrule preview-move, and "
                     "give --even-so to move it all the same"));
  }
  AddProposal(response->proposal(), &*report);
  return report->Send();
}

absl::Status Fits(Session& session, const Line& line) {
  v1::AssessFitRequest request;
  request.set_name(OrderName(line));
  request.set_branch(line.Get("--branch").value_or(""));
  request.set_all_branches(line.Has("--all-branches"));
  v1::AssessFitResponse response;
  const absl::Status asked = session.Ask(&Stub::AssessFit, request, &response);
  if (!asked.ok()) return asked;
  session.Show(response, FitTable(response),
               absl::StrCat(FitText(response), std::string(kFitCaution)));
  return absl::OkStatus();
}

absl::Status Waiting(Session& session, const Line& line) {
  v1::ListWaitingRequest request;
  request.set_branch(line.Get("--branch").value_or(""));
  request.set_device_class(line.Get("--class").value_or(""));
  v1::ListWaitingResponse all;
  const absl::Status asked =
      AskPages(session, &Stub::ListWaiting, request, &all,
               [](v1::ListWaitingResponse& page) { return page.mutable_rows(); });
  if (!asked.ok()) return asked;
  const Table table = WaitingTable(all.rows(), session.zones());
  session.Show(all, table, table.empty() ? "nobody waits\n" : table.Text());
  return absl::OkStatus();
}

absl::Status Promises(Session& session, const Line& line) {
  v1::ReportPromisesRequest request;
  request.set_branch(line.Get("--branch").value_or(""));
  request.set_in_danger(line.Has("--in-danger"));
  v1::ReportPromisesResponse response;
  const absl::Status asked = session.Ask(&Stub::ReportPromises, request, &response);
  if (!asked.ok()) return asked;
  const Table table = PromiseTable(response.rows());
  session.Show(response, table, table.empty() ? "no promise answers that\n" : table.Text());
  return absl::OkStatus();
}

}  // namespace

void AddPromiseCommands(Catalog* catalog) {
  constexpr auto kOrders = Group::kOrders;
  constexpr auto kLook = Group::kLook;
  constexpr auto kReads = Kind::kReads;
  constexpr auto kRecords = Kind::kRecords;
  const std::vector<Flag> dates = {
      {"--needed", "DAY", "new day needed; default moved by as many days"},
      {"--discharge", "DAY", "new day of discharge; default moved by as many days"}};
  std::vector<Flag> even_so = dates;
  even_so.push_back({"--even-so", "", "also when later promises break"});
  catalog->push_back({"promise",
                      kLook,
                      kReads,
                      "say whether a unit can be promised for a day, with the odds",
                      {{"CLASS", "class of device, for instance knee", Arity::kOptional},
                       {"SIDE", "left, right or either", Arity::kOptional},
                       {"DAY", "day on which it must be ready", Arity::kOptional}},
                      {{"--branch", "BRANCH", "for this branch (or FERRULE_BRANCH)"},
                       {"--order", "ORDER", "for this order; class, side and day are its own"},
                       {"--days", "N", "days of use; default the order's, or 21"},
                       {"--units", "N", "so many at once, 2 for both sides"}},
                      "ferrule promise knee left 2026-12-14 --branch north",
                      AskPromise});
  catalog->push_back({"make-promise",
                      kOrders,
                      kRecords,
                      "promise a unit to an order for the days that it needs one",
                      {kOrder},
                      {{"--on", "DAY", "ready on this day; default the day needed"},
                       {"--firm", "", "a firm promise; without it it may be taken back"}},
                      "ferrule make-promise R-2001 --firm",
                      MakePromise});
  catalog->push_back({"wait",
                      kOrders,
                      kRecords,
                      "note that an order waits for a unit",
                      {kOrder},
                      {{"--asked", "DAY", "day for which a unit was asked"},
                       {"--reason", "TEXT", "why none could be given"}},
                      "ferrule wait R-2001 --asked 2026-12-14",
                      Wait});
  catalog->push_back(
      {"refuse",
       kOrders,
       kRecords,
       "note that a unit could not be promised: the record of demand",
       {kOrder, {"DAY", "day that was asked for"}},
       {{"--why", "WORD", "why not; default no-unit", false, "no-unit none-fits no-delivery other"},
        {"--offered", "DAY", "day that was offered instead"},
        {"--reason", "TEXT", "in words"}},
       "ferrule refuse R-2001 2026-12-14 --offered 2026-12-18",
       Refuse});
  catalog->push_back({"preview-move",
                      kLook,
                      kReads,
                      "say what moves and which promises break if an operation moves",
                      {kOrder, {"DAY", "new day of the operation"}},
                      dates,
                      "ferrule preview-move R-2001 2026-12-17",
                      PreviewMove});
  catalog->push_back({"move-surgery",
                      kOrders,
                      kRecords,
                      "move an operation, and the order's promise with it",
                      {kOrder, {"DAY", "new day of the operation"}},
                      even_so,
                      "ferrule move-surgery R-2001 2026-12-17",
                      MoveSurgery});
  catalog->push_back({"fits",
                      kLook,
                      kReads,
                      "list the units that fit an order, and why others do not",
                      {kOrder},
                      {{"--branch", "BRANCH", "units of this branch; default the order's"},
                       {"--all-branches", "", "units of every branch"}},
                      "ferrule fits R-2001",
                      Fits});
  catalog->push_back({"waiting",
                      kLook,
                      kReads,
                      "list the orders that wait, in the order in which they are served",
                      {},
                      {kBranch, {"--class", "CLASS", "only this class of device"}, kLimitFlag},
                      "ferrule waiting --branch north",
                      Waiting});
  catalog->push_back({"promises",
                      kLook,
                      kReads,
                      "list the promises that stand, with the odds that they have now",
                      {},
                      {kBranch, {"--in-danger", "", "only those that are no sure yes any more"}},
                      "ferrule promises --in-danger",
                      Promises});
}

}  // namespace ferrule::cli
