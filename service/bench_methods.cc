#include "service/bench_methods.h"

#include <string>
#include <utility>

#include "absl/strings/str_cat.h"
#include "core/board/bench_arrivals.h"
#include "core/board/bench_fleet.h"
#include "core/board/bench_lists.h"
#include "core/board/bench_unit.h"
#include "core/fact/subject.h"
#include "ferrule/v1/bench_service.pb.h"
#include "service/computed.h"
#include "service/method.h"
#include "service/requests.h"
#include "service/words.h"

namespace ferrule::service {
namespace {

std::string Path(const char* method) { return absl::StrCat("/ferrule.v1.BenchService/", method); }

// An answer of core about one unit that must be there.
template <class Request, class Response>
Method OfUnit(ledger::Ledger* ledger, const char* name, Compute<Request, Response> compute) {
  return Unary<Request, Response>(
      Path(name), RunsOn::kPool,
      [ledger, compute](CallContext& context, const Request& request, Response* response) {
        const auto unit = FindSubject(*ledger, {request.name(), fact::SubjectKind::kUnit, nullptr});
        if (!unit.ok()) return unit.status();
        absl::StatusOr<Response> computed = compute(*ledger, request, context.now_us);
        if (!computed.ok()) return computed.status();
        *response = *std::move(computed);
        return absl::OkStatus();
      });
}

absl::Status AssessReturn(ledger::Ledger& ledger, CallContext& context,
                          const v1::AssessReturnRequest& request,
                          v1::AssessReturnResponse* response) {
  const std::string name = fact::SubjectName(fact::SubjectKind::kUnit, request.seen().unit());
  const auto unit = FindSubject(ledger, {name, fact::SubjectKind::kUnit, nullptr});
  if (!unit.ok()) return unit.status();
  auto computed = board::AssessReturn(ledger, request, context.now_us);
  if (!computed.ok()) return computed.status();
  *response = *std::move(computed);
  for (v1::Finding& finding : *response->mutable_findings()) PutIntoWords(ledger, &finding);
  return absl::OkStatus();
}

absl::Status ReportStrays(ledger::Ledger& ledger, CallContext& context,
                          const v1::ReportStraysRequest& request,
                          v1::ReportStraysResponse* response) {
  auto computed = board::ReportStrays(ledger, request, context.now_us);
  if (!computed.ok()) return computed.status();
  *response = *std::move(computed);
  for (v1::Stray& stray : *response->mutable_strays()) {
    PutIntoWords(ledger, stray.mutable_question());
  }
  return absl::OkStatus();
}

}  // namespace

std::vector<Method> BenchMethods(ledger::Ledger* ledger) {
  std::vector<Method> methods;
  methods.push_back(Unary<v1::AssessReturnRequest, v1::AssessReturnResponse>(
      Path("AssessReturn"), RunsOn::kPool,
      [ledger](CallContext& context, const auto& request, auto* response) {
        return AssessReturn(*ledger, context, request, response);
      }));
  methods.push_back(Unary<v1::ReportStraysRequest, v1::ReportStraysResponse>(
      Path("ReportStrays"), RunsOn::kPool,
      [ledger](CallContext& context, const auto& request, auto* response) {
        return ReportStrays(*ledger, context, request, response);
      }));
  methods.push_back(
      Report(ledger, Path("ReportMissingAccessories"), &board::ReportMissingAccessories));
  methods.push_back(Report(ledger, Path("ReportCleanings"), &board::ReportCleanings));
  methods.push_back(OfUnit(ledger, "AssessFailure", &board::AssessFailure));
  methods.push_back(Report(ledger, Path("ReportDrift"), &board::ReportDrift));
  methods.push_back(Report(ledger, Path("ReportService"), &board::ReportService));
  methods.push_back(OfUnit(ledger, "GetRunHours", &board::GetRunHours));
  methods.push_back(Report(ledger, Path("ReportBench"), &board::ReportBench));
  methods.push_back(Report(ledger, Path("ReportDoubts"), &board::ReportDoubts));
  methods.push_back(Report(ledger, Path("ReportFailingUnits"), &board::ReportFailingUnits));
  methods.push_back(OfUnit(ledger, "AssessRepair", &board::AssessRepair));
  methods.push_back(Report(ledger, Path("ReportSpares"), &board::ReportSpares));
  methods.push_back(Report(ledger, Path("ReportReliability"), &board::ReportReliability));
  return methods;
}

}  // namespace ferrule::service
