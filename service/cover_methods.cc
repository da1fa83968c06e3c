#include "service/cover_methods.h"

#include <memory>
#include <optional>
#include <string>
#include <utility>

#include "absl/strings/str_cat.h"
#include "core/board/cover_reports.h"
#include "core/cover/day_ledger.h"
#include "core/fact/subject.h"
#include "core/order/due.h"
#include "core/order/missing.h"
#include "core/order/papers.h"
#include "core/time/civil.h"
#include "ferrule/v1/cover_service.pb.h"
#include "service/computed.h"
#include "service/errors.h"
#include "service/method.h"
#include "service/requests.h"

namespace ferrule::service {
namespace {

std::string Path(const char* method) { return absl::StrCat("/ferrule.v1.CoverService/", method); }

// An order with the settings that its question is asked of.
struct AskedOrder {
  ledger::StatePtr state;
  std::shared_ptr<const depot::SettingsBook> book;
  int64_t at_us = 0;  // now, or the known time

  const v1::OrderState& order() const { return state->order(); }
  // The terms are those in force when the rental began; before it, those of now.
  const depot::Rules& rules() const {
    const bool begun = order().has_handed_over();
    return book->At(begun ? time::ToMicros(order().handed_over().time()) : at_us);
  }
  absl::CivilDay Today() const {
    return time::LocalDay(at_us, rules().ZoneOf(order().details().branch()));
  }
};

template <class Request>
absl::StatusOr<AskedOrder> FindOrder(ledger::Ledger& ledger, const CallContext& context,
                                     const Request& request) {
  AskedOrder asked;
  asked.at_us = context.now_us;
  const google::protobuf::Timestamp* known = nullptr;
  if (request.has_known_time()) {
    const auto known_us = InstantOf("known_time", request.known_time());
    if (!known_us.ok()) return known_us.status();
    asked.at_us = *known_us;
    known = &request.known_time();
  }
  auto state = FindSubject(ledger, {request.name(), fact::SubjectKind::kOrder, known});
  if (!state.ok()) return state.status();
  asked.state = *std::move(state);
  auto book = FindBook(ledger, known);
  if (!book.ok()) return book.status();
  asked.book = *std::move(book);
  return asked;
}

absl::Status AssessOrder(ledger::Ledger& ledger, CallContext& context,
                         const v1::AssessOrderRequest& request, v1::AssessOrderResponse* response) {
  const auto asked = FindOrder(ledger, context, request);
  if (!asked.ok()) return asked.status();
  response->set_name(request.name());
  bool to_go_out = true;
  bool to_bill = true;
  for (v1::MissingItem& item : order::Missing(asked->order(), asked->rules())) {
    to_go_out &= !item.to_go_out();
    to_bill &= !item.to_bill();
    *response->add_missing() = std::move(item);
  }
  response->set_enough_to_go_out(to_go_out);
  response->set_enough_to_bill(to_bill);
  return absl::OkStatus();
}

void PutSpan(const order::Days& days, v1::DaySpan* span) {
  *span->mutable_from_date() = time::FromDay(days.from);
  *span->mutable_through_date() = time::FromDay(days.end - 1);
}

void PutPapers(const v1::OrderState& order, v1::GetRentalEndsResponse* response) {
  const std::vector<order::Prescribed> spans = order::PrescribedDays(order);
  for (const order::Prescribed& span : spans) {
    v1::PrescribedSpan* out = response->add_spans();
    out->set_paper(std::string(span.paper));
    *out->mutable_from_date() = time::FromDay(span.days.from);
    *out->mutable_through_date() = time::FromDay(span.days.end - 1);
    if (span.signed_on) *out->mutable_signed_date() = time::FromDay(*span.signed_on);
    out->set_cut_by_stop(span.cut_by_stop);
  }
  for (const order::Days& hole : order::Holes(spans)) PutSpan(hole, response->add_holes());
  for (const order::Days& twice : order::Overlaps(spans)) PutSpan(twice, response->add_overlaps());
}

void PutLinked(const v1::OrderState& order, v1::OrderLink link,
               v1::GetRentalEndsResponse* response) {
  v1::LinkedOrder* out = response->add_linked();
  out->set_order(order.order());
  out->set_link(link);
  out->set_side(order.details().side());
  if (time::IsValid(order.handed_over_date())) {
    *out->mutable_from_date() = order.handed_over_date();
  }
  if (!order.legs().empty() && !cover::IsOut(order)) {
    google::type::Date last;
    for (const v1::RentalLeg& leg : order.legs()) {
      const bool later = !time::IsValid(last) || time::ToDay(last) < time::ToDay(leg.to_date());
      if (time::IsValid(leg.to_date()) && later) last = leg.to_date();
    }
    if (time::IsValid(last)) *out->mutable_through_date() = last;
  }
}

// The earlier order, then those that name this one. One that nothing is recorded about is left out.
absl::Status PutAllLinked(ledger::Ledger& ledger, const v1::GetRentalEndsRequest& request,
                          const v1::OrderState& order, v1::GetRentalEndsResponse* response) {
  const google::protobuf::Timestamp* known =
      request.has_known_time() ? &request.known_time() : nullptr;
  const auto find = [&](const std::string& id) -> absl::StatusOr<ledger::StatePtr> {
    const std::string name = fact::SubjectName(fact::SubjectKind::kOrder, id);
    return FindSubject(ledger, {name, fact::SubjectKind::kOrder, known});
  };
  const std::string& earlier = order.details().linked_order();
  if (!earlier.empty()) {
    const auto state = find(earlier);
    if (!state.ok() && !absl::IsNotFound(state.status())) return state.status();
    if (state.ok()) PutLinked((*state)->order(), order.details().order_link(), response);
  }
  for (const std::string& id : order.following_orders()) {
    const auto state = find(id);
    if (!state.ok() && !absl::IsNotFound(state.status())) return state.status();
    if (!state.ok() || (*state)->order().details().linked_order() != order.order()) continue;
    PutLinked((*state)->order(), (*state)->order().details().order_link(), response);
  }
  return absl::OkStatus();
}

absl::Status GetRentalEnds(ledger::Ledger& ledger, CallContext& context,
                           const v1::GetRentalEndsRequest& request,
                           v1::GetRentalEndsResponse* response) {
  const auto asked = FindOrder(ledger, context, request);
  if (!asked.ok()) return asked.status();
  const v1::OrderState& order = asked->order();
  response->set_name(request.name());
  const absl::CivilDay today = asked->Today();
  *response->mutable_today_date() = time::FromDay(today);
  const std::optional<v1::RentalEnd> due = order::Due(order, *asked->book);
  for (const v1::RentalEnd& end : order::Ends(order, asked->rules())) {
    v1::RentalEndRow* row = response->add_ends();
    row->set_basis(end.basis());
    *row->mutable_date() = end.date();
    row->set_rules(due && due->basis() == end.basis());
    if (cover::IsOut(order)) {
      row->set_overdue_days(static_cast<int32_t>(today - time::ToDay(end.date())));
    }
  }
  PutPapers(order, response);
  return PutAllLinked(ledger, request, order, response);
}

absl::Status GetDayLedger(ledger::Ledger& ledger, CallContext& context,
                          const v1::GetDayLedgerRequest& request,
                          v1::GetDayLedgerResponse* response) {
  const auto asked = FindOrder(ledger, context, request);
  if (!asked.ok()) return asked.status();
  const depot::Rules& rules = asked->rules();
  cover::Until until{asked->Today(), asked->at_us};
  if (request.has_through_date()) {
    if (!time::IsValid(request.through_date())) {
      return errors::FieldInvalid("through_date", "is no day of the calendar");
    }
    until.day = time::ToDay(request.through_date());
    until.us =
        time::StartOfDayMicros(until.day + 1, rules.ZoneOf(asked->order().details().branch()));
  }
  *response = cover::CountByEveryReading(asked->order(), rules, until);
  return absl::OkStatus();
}

template <class Request, class Response>
Method ByName(ledger::Ledger* ledger, const char* name,
              absl::Status (*answer)(ledger::Ledger&, CallContext&, const Request&, Response*)) {
  return Unary<Request, Response>(
      Path(name), RunsOn::kPool,
      [ledger, answer](CallContext& context, const Request& request, Response* response) {
        return answer(*ledger, context, request, response);
      });
}

}  // namespace

std::vector<Method> CoverMethods(ledger::Ledger* ledger) {
  std::vector<Method> methods;
  methods.push_back(ByName(ledger, "AssessOrder", &AssessOrder));
  methods.push_back(ByName(ledger, "GetRentalEnds", &GetRentalEnds));
  methods.push_back(ByName(ledger, "GetDayLedger", &GetDayLedger));
  methods.push_back(Report(ledger, Path("ReportClaims"), &board::ReportClaims));
  methods.push_back(Report(ledger, Path("ReportCorrections"), &board::ReportCorrections));
  return methods;
}

}  // namespace ferrule::service
