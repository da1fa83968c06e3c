#include "service/trace_methods.h"

#include <optional>

#include "absl/strings/str_cat.h"
#include "core/access/competence.h"
#include "core/access/mask.h"
#include "core/fact/subject.h"
#include "core/time/civil.h"
#include "core/trace/audit.h"
#include "core/trace/competent_work.h"
#include "core/trace/complaints.h"
#include "core/trace/exposure.h"
#include "core/trace/patient_trail.h"
#include "core/trace/proof.h"
#include "core/trace/recall_items.h"
#include "core/trace/records_due.h"
#include "core/trace/spans.h"
#include "core/trace/survey.h"
#include "service/computed.h"
#include "service/errors.h"
#include "service/gate.h"
#include "service/requests.h"

namespace ferrule::service {
namespace {

using fact::SubjectKind;

std::string Path(const char* method) { return absl::StrCat("/ferrule.v1.TraceService/", method); }

// The same with the subject found first: its errors say what is wrong with the name.
template <class Request, class Response, Compute<Request, Response> compute>
absl::StatusOr<Response> OfSubject(ledger::Ledger& ledger, const Request& request, int64_t now_us,
                                   std::optional<SubjectKind> kind) {
  const auto subject = FindSubject(ledger, {request.name(), kind, nullptr});
  if (!subject.ok()) return subject.status();
  return compute(ledger, request, now_us);
}

absl::StatusOr<v1::ListHoldersResponse> Holders(ledger::Ledger& ledger,
                                                const v1::ListHoldersRequest& request,
                                                int64_t now_us) {
  return OfSubject<v1::ListHoldersRequest, v1::ListHoldersResponse, &trace::ListHolders>(
      ledger, request, now_us, std::nullopt);
}
absl::StatusOr<v1::ReportExposureResponse> Exposure(ledger::Ledger& ledger,
                                                    const v1::ReportExposureRequest& request,
                                                    int64_t now_us) {
  return OfSubject<v1::ReportExposureRequest, v1::ReportExposureResponse, &trace::ReportExposure>(
      ledger, request, now_us, SubjectKind::kUnit);
}
absl::StatusOr<v1::GetProofResponse> Proof(ledger::Ledger& ledger,
                                           const v1::GetProofRequest& request, int64_t now_us) {
  return OfSubject<v1::GetProofRequest, v1::GetProofResponse, &trace::GetProof>(
      ledger, request, now_us, SubjectKind::kOrder);
}
absl::StatusOr<v1::ListRecallItemsResponse> RecallItems(ledger::Ledger& ledger,
                                                        const v1::ListRecallItemsRequest& request,
                                                        int64_t now_us) {
  if (request.name().empty()) return trace::ListRecallItems(ledger, request, now_us);
  return OfSubject<v1::ListRecallItemsRequest, v1::ListRecallItemsResponse,
                   &trace::ListRecallItems>(ledger, request, now_us, SubjectKind::kRecall);
}

// A holder is any subject, or "nobody", or "gone"; it need not be recorded.
absl::StatusOr<v1::ListHeldResponse> Held(ledger::Ledger& ledger,
                                          const v1::ListHeldRequest& request, int64_t now_us) {
  const bool nameless = request.holder() == "nobody" || request.holder() == "gone";
  const auto holder = fact::ParseSubjectName(request.holder());
  if (!nameless && !holder.ok()) {
    return errors::FieldInvalid("holder", std::string(holder.status().message()));
  }
  return trace::ListHeld(ledger, request, now_us);
}

// What stands where a caller may not see who patients are; names of records are text, where nobody
// finds a reference any more.
template <class Request>
std::string Hidden(const CallContext& context, const char* method, const Request& request) {
  return std::string(ShowsPatients(context, Path(method), request) ? "" : access::kMasked);
}

Method ListRecordsDue(ledger::Ledger* ledger) {
  static constexpr char kName[] = "ListRecordsDue";
  return ListFor<v1::ListRecordsDueRequest, v1::ListRecordsDueResponse>(
      Path(kName), kDefaultPageSize,
      [ledger](const CallContext& context, const v1::ListRecordsDueRequest& request)
          -> absl::StatusOr<v1::ListRecordsDueResponse> {
        if (request.has_on_date() && !time::IsValid(request.on_date())) {
          return errors::FieldInvalid("on_date",
                                      "is no day of the calendar: give year, month and day");
        }
        return trace::ListRecordsDue(*ledger, request, context.now_us,
                                     Hidden(context, kName, request));
      });
}

absl::StatusOr<v1::ListCompetentWorkResponse> CompetentWork(
    ledger::Ledger& ledger, const v1::ListCompetentWorkRequest& request, int64_t now_us) {
  if (!request.work().empty() && !access::IsKind(request.work())) {
    return errors::FieldInvalid("work", absl::StrCat("\"", request.work(),
                                                     "\" is no kind of fact: write it as in "
                                                     "facts.proto, for instance repair_closed"));
  }
  return trace::ListCompetentWork(ledger, request, now_us);
}

// Whoever may not see who patients are brings the reference along. That they asked is kept all the
// same, so that a hunt for references shows.
Method ReportPatientTrail(ledger::Ledger* ledger) {
  static constexpr char kName[] = "ReportPatientTrail";
  return ReportFor<v1::ReportPatientTrailRequest, v1::ReportPatientTrailResponse>(
      Path(kName),
      [ledger](const CallContext& context, const v1::ReportPatientTrailRequest& request)
          -> absl::StatusOr<v1::ReportPatientTrailResponse> {
        if (request.patient().empty()) {
          return errors::FieldInvalid("patient",
                                      "is missing: give the reference that orders carry");
        }
        const std::string hidden = Hidden(context, kName, request);
        if (!hidden.empty()) context.gate->KeepRead(*context.caller, Path(kName), request);
        return trace::ReportPatientTrail(*ledger, request, context.now_us, hidden);
      });
}

}  // namespace

std::vector<Method> TraceMethods(ledger::Ledger* ledger) {
  std::vector<Method> methods;
  methods.push_back(List(ledger, Path("ListHolders"), kDefaultHistoryPageSize, &Holders));
  methods.push_back(List(ledger, Path("ListHeld"), kDefaultHistoryPageSize, &Held));
  methods.push_back(Report(ledger, Path("ReportPath"), &trace::ReportPath));
  methods.push_back(Report(ledger, Path("ReportExposure"), &Exposure));
  methods.push_back(Report(ledger, Path("GetProof"), &Proof));
  methods.push_back(Report(ledger, Path("ReportViolations"), &trace::ReportViolations));
  methods.push_back(List(ledger, Path("ListRecallItems"), kDefaultHistoryPageSize, &RecallItems));
  methods.push_back(List(ledger, Path("ListRecalls"), kDefaultPageSize, &trace::ListRecalls));
  methods.push_back(Report(ledger, Path("ReportAudit"), &trace::ReportAudit));
  methods.push_back(Report(ledger, Path("ReportSurvey"), &trace::ReportSurvey));
  methods.push_back(List(ledger, Path("ListComplaints"), kDefaultPageSize, &trace::ListComplaints));
  methods.push_back(ListRecordsDue(ledger));
  methods.push_back(List(ledger, Path("ListCompetentWork"), kDefaultPageSize, &CompetentWork));
  methods.push_back(ReportPatientTrail(ledger));
  return methods;
}

}  // namespace ferrule::service
