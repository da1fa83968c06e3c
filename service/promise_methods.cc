#include "service/promise_methods.h"

#include <memory>
#include <string>
#include <utility>

#include "absl/strings/str_cat.h"
#include "core/board/fit_report.h"
#include "core/board/move_preview.h"
#include "core/board/promise_answer.h"
#include "core/board/promise_pool.h"
#include "core/board/promise_report.h"
#include "core/fact/subject.h"
#include "core/order/motion_plan.h"
#include "core/order/usage.h"
#include "core/time/civil.h"
#include "ferrule/v1/promise_service.pb.h"
#include "service/errors.h"
#include "service/method.h"
#include "service/page_token.h"
#include "service/requests.h"
#include "service/words.h"

namespace ferrule::service {
namespace {

using Desk = std::shared_ptr<board::PromiseDesk>;

std::string Path(const char* method) { return absl::StrCat("/ferrule.v1.PromiseService/", method); }

template <class Request>
const google::protobuf::Timestamp* KnownTime(const Request& request) {
  return request.has_known_time() ? &request.known_time() : nullptr;
}

// The order that a request names, in the words of every other method when it is not there.
absl::Status CheckOrder(ledger::Ledger& ledger, const std::string& name) {
  return FindSubject(ledger, {name, fact::SubjectKind::kOrder, nullptr}).status();
}

void PutAllIntoWords(ledger::Ledger& ledger,
                     google::protobuf::RepeatedPtrField<v1::Finding>* findings) {
  for (v1::Finding& finding : *findings) PutIntoWords(ledger, &finding);
}

absl::Status GetMotionPlan(ledger::Ledger& ledger, CallContext& context,
                           const v1::GetMotionPlanRequest& request,
                           v1::GetMotionPlanResponse* response) {
  absl::StatusOr<ledger::StatePtr> state =
      FindSubject(ledger, {request.name(), fact::SubjectKind::kOrder, KnownTime(request)});
  if (!state.ok()) return state.status();
  const auto book = FindBook(ledger, KnownTime(request));
  if (!book.ok()) return book.status();
  if (request.has_date() && !time::IsValid(request.date())) {
    return absl::InvalidArgumentError(
        "date is no day of the calendar; give one, for instance 2026-11-25");
  }
  const v1::OrderState& order = (*state)->order();
  const int64_t at_us =
      request.has_known_time() ? time::ToMicros(request.known_time()) : context.now_us;
  const depot::Rules& rules = (*book)->At(at_us);
  const absl::CivilDay day = request.has_date()
                                 ? time::ToDay(request.date())
                                 : time::LocalDay(at_us, rules.ZoneOf(order.details().branch()));
  *response = order::MotionPlan(order, day, rules);
  for (v1::Finding& finding : *response->mutable_beyond()) finding.set_subject(request.name());
  PutAllIntoWords(ledger, response->mutable_beyond());
  return absl::OkStatus();
}

absl::Status GetUsage(ledger::Ledger& ledger, CallContext& context,
                      const v1::GetUsageRequest& request, v1::GetUsageResponse* response) {
  absl::StatusOr<ledger::StatePtr> state =
      FindSubject(ledger, {request.name(), fact::SubjectKind::kOrder, KnownTime(request)});
  if (!state.ok()) return state.status();
  const auto book = FindBook(ledger, KnownTime(request));
  if (!book.ok()) return book.status();
  *response = order::UsageOf((*state)->order(), (*book)->At(context.now_us));
  return absl::OkStatus();
}

absl::Status AssessFit(ledger::Ledger& ledger, board::PromiseDesk& desk, CallContext& context,
                       const v1::AssessFitRequest& request, v1::AssessFitResponse* response) {
  if (absl::Status known = CheckOrder(ledger, request.name()); !known.ok()) return known;
  if (request.has_at_time()) {
    const auto at_us = InstantOf("at_time", request.at_time());
    if (!at_us.ok()) return at_us.status();
  }
  absl::StatusOr<v1::AssessFitResponse> fit =
      board::AssessFit(ledger, desk, request, context.now_us);
  if (!fit.ok()) return fit.status();
  *response = *std::move(fit);
  for (auto* rows : {response->mutable_fits(), response->mutable_others()}) {
    for (v1::FitRow& row : *rows) {
      PutAllIntoWords(ledger, row.mutable_unfit());
      PutAllIntoWords(ledger, row.mutable_not_ready());
    }
  }
  PutAllIntoWords(ledger, response->mutable_questions());
  return absl::OkStatus();
}

absl::Status AssessPromise(ledger::Ledger& ledger, board::PromiseDesk& desk, CallContext& context,
                           const v1::AssessPromiseRequest& request,
                           v1::AssessPromiseResponse* response) {
  if (!request.name().empty()) {
    if (absl::Status known = CheckOrder(ledger, request.name()); !known.ok()) return known;
  }
  absl::StatusOr<v1::AssessPromiseResponse> answer =
      board::AssessPromise(ledger, desk, request, context.now_us);
  if (!answer.ok()) return answer.status();
  *response = *std::move(answer);
  return absl::OkStatus();
}

absl::Status AssessMove(ledger::Ledger& ledger, board::PromiseDesk& desk, CallContext& context,
                        const v1::AssessMoveRequest& request, v1::AssessMoveResponse* response) {
  if (absl::Status known = CheckOrder(ledger, request.name()); !known.ok()) return known;
  absl::StatusOr<v1::AssessMoveResponse> answer =
      board::AssessMove(ledger, desk, request, context.now_us);
  if (!answer.ok()) return answer.status();
  *response = *std::move(answer);
  return absl::OkStatus();
}

absl::Status ListWaiting(ledger::Ledger& ledger, board::PromiseDesk& desk, CallContext& context,
                         const v1::ListWaitingRequest& request, v1::ListWaitingResponse* response) {
  v1::ListWaitingRequest arguments = request;
  arguments.clear_page_token();
  arguments.clear_page_size();
  absl::StatusOr<std::string> key = ReadPageToken(request.page_token(), arguments);
  if (!key.ok()) return key.status();
  v1::ListWaitingRequest page = arguments;
  page.set_page_token(*std::move(key));
  page.set_page_size(request.page_size());
  absl::StatusOr<v1::ListWaitingResponse> listed =
      board::ListWaiting(ledger, desk, page, context.now_us);
  if (!listed.ok()) return listed.status();
  *response = *std::move(listed);
  response->set_next_page_token(MakePageToken(response->next_page_token(), arguments));
  return absl::OkStatus();
}

absl::Status ReportPromises(ledger::Ledger& ledger, board::PromiseDesk& desk, CallContext& context,
                            const v1::ReportPromisesRequest& request,
                            v1::ReportPromisesResponse* response) {
  absl::StatusOr<v1::ReportPromisesResponse> report =
      board::ReportPromises(ledger, desk, request, context.now_us);
  if (!report.ok()) return report.status();
  *response = *std::move(report);
  return absl::OkStatus();
}

// Pools are read and odds worked out on a worker.
template <class Request, class Response>
Method WithDesk(ledger::Ledger* ledger, Desk desk, const char* name,
                absl::Status (*answer)(ledger::Ledger&, board::PromiseDesk&, CallContext&,
                                       const Request&, Response*)) {
  return Unary<Request, Response>(
      Path(name), RunsOn::kPool,
      [ledger, desk = std::move(desk), answer](CallContext& context, const Request& request,
                                               Response* response) {
        return answer(*ledger, *desk, context, request, response);
      });
}

}  // namespace

std::vector<Method> PromiseMethods(ledger::Ledger* ledger) {
  const Desk desk = std::make_shared<board::PromiseDesk>();
  std::vector<Method> methods;
  methods.push_back(Unary<v1::GetMotionPlanRequest, v1::GetMotionPlanResponse>(
      Path("GetMotionPlan"), RunsOn::kPool,
      [ledger](CallContext& context, const auto& request, auto* response) {
        return GetMotionPlan(*ledger, context, request, response);
      }));
  methods.push_back(Unary<v1::GetUsageRequest, v1::GetUsageResponse>(
      Path("GetUsage"), RunsOn::kPool,
      [ledger](CallContext& context, const auto& request, auto* response) {
        return GetUsage(*ledger, context, request, response);
      }));
  methods.push_back(WithDesk(ledger, desk, "AssessFit", &AssessFit));
  methods.push_back(WithDesk(ledger, desk, "AssessPromise", &AssessPromise));
  methods.push_back(WithDesk(ledger, desk, "AssessMove", &AssessMove));
  methods.push_back(WithDesk(ledger, desk, "ReportPromises", &ReportPromises));
  methods.push_back(WithDesk(ledger, desk, "ListWaiting", &ListWaiting));
  return methods;
}

}  // namespace ferrule::service
