#include "service/depot_methods.h"

#include <optional>
#include <string>
#include <utility>

#include "absl/strings/match.h"
#include "absl/strings/str_cat.h"
#include "core/board/board.h"
#include "core/board/due_report.h"
#include "core/board/history.h"
#include "core/board/lists.h"
#include "core/board/ready_query.h"
#include "core/fact/subject.h"
#include "core/order/due.h"
#include "core/time/civil.h"
#include "core/unit/ready.h"
#include "ferrule/v1/depot_service.pb.h"
#include "service/computed.h"
#include "service/errors.h"
#include "service/method.h"
#include "service/page_token.h"
#include "service/requests.h"
#include "service/words.h"

namespace ferrule::service {
namespace {

std::string Path(const char* method) { return absl::StrCat("/ferrule.v1.DepotService/", method); }

// Reads by key run on the lane where the states lie in this process's memory, and on a worker
// where a database must be asked or facts folded.
template <class Request>
auto ByKey(const ledger::Ledger& ledger) {
  const bool near = absl::StartsWith(ledger.engine(), "sqlite");
  return [near](const Request& request) {
    return near && !request.has_known_time() ? RunsOn::kLane : RunsOn::kPool;
  };
}

template <class Request>
const google::protobuf::Timestamp* KnownTime(const Request& request) {
  return request.has_known_time() ? &request.known_time() : nullptr;
}

// Puts a state into a response on an arena. One without findings is lent, not copied: encoding
// only reads it, and the context keeps it until then.
template <class Response>
void PutState(ledger::Ledger& ledger, CallContext& context, ledger::StatePtr state,
              Response* response) {
  if (HasFindings(*state)) {
    *response->mutable_state() = *state;
    PutIntoWords(ledger, response->mutable_state());
    return;
  }
  response->unsafe_arena_set_allocated_state(const_cast<v1::SubjectState*>(state.get()));
  context.kept = std::move(state);
}

template <class Request, class Response>
Method Get(ledger::Ledger* ledger, const char* name, std::optional<fact::SubjectKind> kind) {
  return Unary<Request, Response>(
      Path(name), ByKey<Request>(*ledger),
      [ledger, kind](CallContext& context, const Request& request, Response* response) {
        absl::StatusOr<ledger::StatePtr> state =
            FindSubject(*ledger, {request.name(), kind, KnownTime(request)});
        if (!state.ok()) return state.status();
        PutState(*ledger, context, *std::move(state), response);
        return absl::OkStatus();
      });
}

absl::Status GetOrder(ledger::Ledger& ledger, CallContext& context,
                      const v1::GetOrderRequest& request, v1::GetOrderResponse* response) {
  absl::StatusOr<ledger::StatePtr> state =
      FindSubject(ledger, {request.name(), fact::SubjectKind::kOrder, KnownTime(request)});
  if (!state.ok()) return state.status();
  const auto book = FindBook(ledger, KnownTime(request));
  if (!book.ok()) return book.status();
  const v1::OrderState& order = (*state)->order();
  const bool begun = order.has_handed_over();
  const depot::Rules& terms =
      (*book)->At(begun ? time::ToMicros(order.handed_over().time()) : context.now_us);
  for (v1::RentalEnd& end : order::Ends(order, terms)) *response->add_ends() = std::move(end);
  if (auto due = order::Due(order, **book)) *response->mutable_due() = *std::move(due);
  for (std::string& missing : order::MissingToGoOut(order, (*book)->At(context.now_us))) {
    response->add_missing_to_go_out(std::move(missing));
  }
  PutState(ledger, context, *std::move(state), response);
  return absl::OkStatus();
}

absl::Status AssessUnit(ledger::Ledger& ledger, CallContext& context,
                        const v1::AssessUnitRequest& request, v1::AssessUnitResponse* response) {
  absl::StatusOr<ledger::StatePtr> state =
      FindSubject(ledger, {request.name(), fact::SubjectKind::kUnit, KnownTime(request)});
  if (!state.ok()) return state.status();
  const auto book = FindBook(ledger, KnownTime(request));
  if (!book.ok()) return book.status();
  unit::ReadyQuery query;
  query.at_us = context.now_us;
  if (request.has_known_time()) query.at_us = time::ToMicros(request.known_time());
  if (request.has_at_time()) {
    const absl::StatusOr<int64_t> at_us = InstantOf("at_time", request.at_time());
    if (!at_us.ok()) return at_us.status();
    query.at_us = *at_us;
  }
  ledger::StatePtr order;  // the query points into it
  if (!request.order().empty()) {
    const std::string name = fact::SubjectName(fact::SubjectKind::kOrder, request.order());
    absl::StatusOr<ledger::StatePtr> found =
        FindSubject(ledger, {name, fact::SubjectKind::kOrder, KnownTime(request)});
    if (!found.ok()) return found.status();
    order = *std::move(found);
    query.order = request.order();
    board::FillFromOrder(order->order(), (*book)->At(query.at_us), &query);
  }
  std::vector<v1::Finding> findings = unit::Assess(**state, **book, query);
  for (std::string& step : unit::PathToReady(findings)) response->add_steps(std::move(step));
  for (v1::Finding& finding : findings) {
    PutIntoWords(ledger, &finding);
    *response->add_findings() = std::move(finding);
  }
  response->set_name(request.name());
  response->set_ready(response->findings().empty());
  PutState(ledger, context, *std::move(state), response);
  return absl::OkStatus();
}

void PutNames(const v1::SettingsState& state, v1::GetSettingsResponse* response) {
  for (const v1::SettingsVersion& version : state.versions()) {
    v1::SettingsVersion* name = response->add_all();
    *name->mutable_from_time() = version.from_time();
    *name->mutable_put() = version.put();
    name->mutable_settings()->set_version(version.settings().version());
  }
}

absl::Status GetSettings(ledger::Ledger& ledger, CallContext& context,
                         const v1::GetSettingsRequest& request, v1::GetSettingsResponse* response) {
  int64_t at_us = context.now_us;
  if (request.has_at_time()) {
    const absl::StatusOr<int64_t> asked = InstantOf("at_time", request.at_time());
    if (!asked.ok()) return asked.status();
    at_us = *asked;
  }
  const absl::StatusOr<ledger::StatePtr> state = ledger.Get(fact::kSettingsName);
  if (absl::IsNotFound(state.status())) return errors::NoSettings();
  if (!state.ok()) return state.status();
  const v1::SettingsState& settings = (*state)->settings();
  const v1::SettingsVersion* chosen = nullptr;
  for (const v1::SettingsVersion& version : settings.versions()) {
    const bool fits = request.version().empty() ? time::ToMicros(version.from_time()) <= at_us
                                                : version.settings().version() == request.version();
    if (fits) chosen = &version;
  }
  if (chosen == nullptr && !request.version().empty()) {
    return errors::SettingsVersionUnknown(request.version());
  }
  if (chosen != nullptr) *response->mutable_version() = *chosen;
  PutNames(settings, response);
  return absl::OkStatus();
}

}  // namespace

std::vector<Method> DepotMethods(ledger::Ledger* ledger) {
  std::vector<Method> methods;
  methods.push_back(
      Get<v1::GetSubjectRequest, v1::GetSubjectResponse>(ledger, "GetSubject", std::nullopt));
  methods.push_back(
      Get<v1::GetUnitRequest, v1::GetUnitResponse>(ledger, "GetUnit", fact::SubjectKind::kUnit));
  methods.push_back(Unary<v1::AssessUnitRequest, v1::AssessUnitResponse>(
      Path("AssessUnit"), ByKey<v1::AssessUnitRequest>(*ledger),
      [ledger](CallContext& context, const auto& request, auto* response) {
        return AssessUnit(*ledger, context, request, response);
      }));
  methods.push_back(Unary<v1::GetOrderRequest, v1::GetOrderResponse>(
      Path("GetOrder"), ByKey<v1::GetOrderRequest>(*ledger),
      [ledger](CallContext& context, const auto& request, auto* response) {
        return GetOrder(*ledger, context, request, response);
      }));
  methods.push_back(Unary<v1::GetSettingsRequest, v1::GetSettingsResponse>(
      Path("GetSettings"), RunsOn::kPool,
      [ledger](CallContext& context, const auto& request, auto* response) {
        return GetSettings(*ledger, context, request, response);
      }));
  methods.push_back(Report(ledger, Path("GetBoard"), &board::Board));
  methods.push_back(Report(ledger, Path("ReportDue"), &board::ReportDue));
  methods.push_back(List(ledger, Path("ListUnits"), kDefaultPageSize, &board::ListUnits));
  methods.push_back(List(ledger, Path("ListOrders"), kDefaultPageSize, &board::ListOrders));
  methods.push_back(List(ledger, Path("ListQuestions"), kDefaultPageSize, &board::ListQuestions));
  methods.push_back(
      List(ledger, Path("ListHistory"), kDefaultHistoryPageSize, &board::ListHistory));
  return methods;
}

}  // namespace ferrule::service
