#include "service/papers_methods.h"

#include <string>
#include <utility>

#include "absl/strings/str_cat.h"
#include "core/access/mask.h"
#include "core/board/agenda_report.h"
#include "core/fact/subject.h"
#include "core/papers/delivery.h"
#include "ferrule/v1/papers_service.pb.h"
#include "service/method.h"
#include "service/requests.h"

namespace ferrule::service {
namespace {

std::string Path(const char* method) { return absl::StrCat("/ferrule.v1.PapersService/", method); }

template <class Request>
const google::protobuf::Timestamp* KnownTime(const Request& request) {
  return request.has_known_time() ? &request.known_time() : nullptr;
}

absl::Status GetPaper(ledger::Ledger& ledger, CallContext& context,
                      const v1::GetPaperRequest& request, v1::GetPaperResponse* response) {
  const bool about_order = request.kind() == v1::PAPER_KIND_DELIVERY_TICKET ||
                           request.kind() == v1::PAPER_KIND_SET_UP_SHEET ||
                           request.kind() == v1::PAPER_KIND_PICKUP_TICKET;
  if (about_order) {
    const auto order = FindSubject(ledger, {request.name(), fact::SubjectKind::kOrder, nullptr});
    if (!order.ok()) return order.status();
  }
  if (about_order && !request.unit().empty()) {
    const auto unit =
        FindSubject(ledger, {fact::SubjectName(fact::SubjectKind::kUnit, request.unit()),
                             fact::SubjectKind::kUnit, nullptr});
    if (!unit.ok()) return unit.status();
  }
  // What is printed is text, where nobody finds a reference any more: it is hidden before.
  const std::string hidden(ShowsPatients(context, Path("GetPaper"), request) ? ""
                                                                             : access::kMasked);
  auto paper = board::Paper(ledger, request, context.now_us, hidden);
  if (!paper.ok()) return paper.status();
  *response = *std::move(paper);
  return absl::OkStatus();
}

absl::Status AssessDelivery(ledger::Ledger& ledger, CallContext&,
                            const v1::AssessDeliveryRequest& request,
                            v1::AssessDeliveryResponse* response) {
  const auto order =
      FindSubject(ledger, {request.name(), fact::SubjectKind::kOrder, KnownTime(request)});
  if (!order.ok()) return order.status();
  *response = papers::AssessDelivery((*order)->order());
  response->set_name(request.name());
  return absl::OkStatus();
}

absl::Status GetAgenda(ledger::Ledger& ledger, CallContext& context,
                       const v1::GetAgendaRequest& request, v1::GetAgendaResponse* response) {
  if (request.has_known_time()) {
    const auto known_us = InstantOf("known_time", request.known_time());
    if (!known_us.ok()) return known_us.status();
  }
  auto agenda = board::Agenda(ledger, request, context.now_us);
  if (!agenda.ok()) return agenda.status();
  *response = *std::move(agenda);
  return absl::OkStatus();
}

template <class Request, class Response>
Method OnPool(ledger::Ledger* ledger, const char* name,
              absl::Status (*answer)(ledger::Ledger&, CallContext&, const Request&, Response*)) {
  return Unary<Request, Response>(
      Path(name), RunsOn::kPool,
      [ledger, answer](CallContext& context, const Request& request, Response* response) {
        return answer(*ledger, context, request, response);
      });
}

}  // namespace

std::vector<Method> PapersMethods(ledger::Ledger* ledger) {
  std::vector<Method> methods;
  methods.push_back(OnPool(ledger, "GetPaper", &GetPaper));
  methods.push_back(OnPool(ledger, "AssessDelivery", &AssessDelivery));
  methods.push_back(OnPool(ledger, "GetAgenda", &GetAgenda));
  return methods;
}

}  // namespace ferrule::service
