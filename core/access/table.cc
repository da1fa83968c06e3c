#include "core/access/table.h"

#include "absl/container/flat_hash_map.h"

namespace ferrule::access {

using enum v1::Right;

const std::vector<MethodRule>& MethodRules() {
  static const std::vector<MethodRule> rules = {
      {"/ferrule.v1.AccessService/GetCaller", RIGHT_UNSPECIFIED, Scope::kKnown},
      {"/ferrule.v1.AccessService/IssueToken", RIGHT_KEEP_TOKENS, Scope::kDepot},
      {"/ferrule.v1.AccessService/RevokeToken", RIGHT_KEEP_TOKENS, Scope::kDepot},
      {"/ferrule.v1.AccessService/ListTokens", RIGHT_READ_ACCESS, Scope::kDepot},
      {"/ferrule.v1.AccessService/PutAccessRules", RIGHT_KEEP_TOKENS, Scope::kDepot},
      {"/ferrule.v1.AccessService/GetAccessRules", RIGHT_READ_ACCESS, Scope::kDepot},
      {"/ferrule.v1.AccessService/ListReads", RIGHT_READ_ACCESS, Scope::kDepot},
      {"/ferrule.v1.PatientService/PutPatient", RIGHT_KEEP_PATIENTS, Scope::kAnyBranch},
      {"/ferrule.v1.PatientService/GetPatient", RIGHT_READ_PATIENTS, Scope::kAnyBranch},
      {"/ferrule.v1.PatientService/ErasePatient", RIGHT_KEEP_PATIENTS, Scope::kAnyBranch},
      {"/ferrule.v1.BenchService/AssessReturn", RIGHT_READ_FLEET, Scope::kAnyBranch},
      {"/ferrule.v1.BenchService/ReportStrays", RIGHT_READ_FLEET, Scope::kRequested},
      {"/ferrule.v1.BenchService/ReportMissingAccessories", RIGHT_READ_FLEET, Scope::kRequested},
      {"/ferrule.v1.BenchService/ReportCleanings", RIGHT_READ_FLEET, Scope::kRequested},
      {"/ferrule.v1.BenchService/AssessFailure", RIGHT_READ_FLEET, Scope::kRequested},
      {"/ferrule.v1.BenchService/ReportDrift", RIGHT_READ_FLEET, Scope::kRequested},
      {"/ferrule.v1.BenchService/ReportService", RIGHT_READ_FLEET, Scope::kRequested},
      {"/ferrule.v1.BenchService/GetRunHours", RIGHT_READ_FLEET, Scope::kRequested},
      {"/ferrule.v1.BenchService/ReportBench", RIGHT_READ_FLEET, Scope::kRequested},
      {"/ferrule.v1.BenchService/ReportDoubts", RIGHT_READ_FLEET, Scope::kAnyBranch},
      {"/ferrule.v1.BenchService/ReportFailingUnits", RIGHT_READ_FLEET, Scope::kAnyBranch},
      {"/ferrule.v1.BenchService/AssessRepair", RIGHT_READ_FLEET, Scope::kRequested},
      {"/ferrule.v1.BenchService/ReportSpares", RIGHT_READ_FLEET, Scope::kAnyBranch},
      {"/ferrule.v1.BenchService/ReportReliability", RIGHT_READ_FLEET, Scope::kAnyBranch},
      {"/ferrule.v1.CoverService/AssessOrder", RIGHT_READ_COVER, Scope::kRequested},
      {"/ferrule.v1.CoverService/GetRentalEnds", RIGHT_READ_COVER, Scope::kRequested},
      {"/ferrule.v1.CoverService/GetDayLedger", RIGHT_READ_COVER, Scope::kRequested},
      {"/ferrule.v1.CoverService/ReportClaims", RIGHT_READ_COVER, Scope::kRequested},
      {"/ferrule.v1.CoverService/ReportCorrections", RIGHT_READ_COVER, Scope::kRequested},
      {"/ferrule.v1.DepotService/GetSubject", RIGHT_READ_FLEET, Scope::kRequested},
      {"/ferrule.v1.DepotService/GetUnit", RIGHT_READ_FLEET, Scope::kRequested},
      {"/ferrule.v1.DepotService/AssessUnit", RIGHT_READ_FLEET, Scope::kRequested},
      {"/ferrule.v1.DepotService/ListUnits", RIGHT_READ_FLEET, Scope::kRequested},
      {"/ferrule.v1.DepotService/GetOrder", RIGHT_READ_ORDERS, Scope::kRequested},
      {"/ferrule.v1.DepotService/ListOrders", RIGHT_READ_ORDERS, Scope::kRequested},
      {"/ferrule.v1.DepotService/GetBoard", RIGHT_READ_FLEET, Scope::kRequested},
      {"/ferrule.v1.DepotService/ReportDue", RIGHT_READ_ORDERS, Scope::kRequested},
      {"/ferrule.v1.DepotService/ListQuestions", RIGHT_READ_FLEET, Scope::kRequested},
      {"/ferrule.v1.DepotService/ListHistory", RIGHT_READ_FLEET, Scope::kRequested},
      {"/ferrule.v1.DepotService/GetSettings", RIGHT_READ_FLEET, Scope::kAnyBranch},
      {"/ferrule.v1.IntakeService/SubmitMessage", RIGHT_SEND_MESSAGES, Scope::kDepot},
      {"/ferrule.v1.IntakeService/GetMessage", RIGHT_READ_MESSAGES, Scope::kDepot},
      {"/ferrule.v1.IntakeService/ListMessages", RIGHT_READ_MESSAGES, Scope::kDepot},
      {"/ferrule.v1.IntakeService/CureMessage", RIGHT_SEND_MESSAGES, Scope::kDepot},
      {"/ferrule.v1.IntakeService/ReplayMessages", RIGHT_SEND_MESSAGES, Scope::kDepot},
      {"/ferrule.v1.IntakeService/EraseMessage", RIGHT_KEEP_PATIENTS, Scope::kDepot},
      {"/ferrule.v1.IntakeService/ImportRows", RIGHT_SEND_MESSAGES, Scope::kDepot},
      {"/ferrule.v1.IntakeService/GetImport", RIGHT_SEND_MESSAGES, Scope::kDepot},
      {"/ferrule.v1.IntakeService/ExportOrder", RIGHT_READ_PATIENTS, Scope::kRequested},
      {"/ferrule.v1.LabelService/ResolveScan", RIGHT_READ_FLEET, Scope::kAnyBranch},
      {"/ferrule.v1.LedgerService/Record", RIGHT_UNSPECIFIED, Scope::kFacts},
      {"/ferrule.v1.LedgerService/RecordBatch", RIGHT_UNSPECIFIED, Scope::kFacts},
      {"/ferrule.v1.LedgerService/ListEntries", RIGHT_READ_ENTRIES, Scope::kDepot},
      {"/ferrule.v1.LedgerService/WatchEntries", RIGHT_READ_ENTRIES, Scope::kDepot},
      {"/ferrule.v1.LedgerService/GetServerInfo", RIGHT_UNSPECIFIED, Scope::kKnown},
      {"/ferrule.v1.PapersService/GetPaper", RIGHT_READ_ORDERS, Scope::kRequested},
      {"/ferrule.v1.PapersService/AssessDelivery", RIGHT_READ_ORDERS, Scope::kRequested},
      {"/ferrule.v1.PapersService/GetAgenda", RIGHT_READ_ORDERS, Scope::kRequested},
      {"/ferrule.v1.PlanService/GetForecast", RIGHT_READ_PLANS, Scope::kRequested},
      {"/ferrule.v1.PlanService/ReportFleetSize", RIGHT_READ_PLANS, Scope::kRequested},
      {"/ferrule.v1.PlanService/ReportWhatIf", RIGHT_READ_PLANS, Scope::kRequested},
      {"/ferrule.v1.PlanService/ReportTransfers", RIGHT_READ_PLANS, Scope::kRequested},
      {"/ferrule.v1.PlanService/ReportMeasures", RIGHT_READ_PLANS, Scope::kRequested},
      {"/ferrule.v1.PlanService/WatchBacktest", RIGHT_READ_PLANS, Scope::kRequested},
      {"/ferrule.v1.PlanService/ReportForecastDiary", RIGHT_READ_PLANS, Scope::kRequested},
      {"/ferrule.v1.PromiseService/AssessFit", RIGHT_READ_ORDERS, Scope::kRequested},
      {"/ferrule.v1.PromiseService/GetMotionPlan", RIGHT_READ_ORDERS, Scope::kRequested},
      {"/ferrule.v1.PromiseService/GetUsage", RIGHT_READ_ORDERS, Scope::kRequested},
      {"/ferrule.v1.PromiseService/AssessPromise", RIGHT_READ_ORDERS, Scope::kRequested},
      {"/ferrule.v1.PromiseService/AssessMove", RIGHT_READ_ORDERS, Scope::kRequested},
      {"/ferrule.v1.PromiseService/ReportPromises", RIGHT_READ_ORDERS, Scope::kRequested},
      {"/ferrule.v1.PromiseService/ListWaiting", RIGHT_READ_ORDERS, Scope::kRequested},
      {"/ferrule.v1.StockService/ListStock", RIGHT_READ_FLEET, Scope::kRequested},
      {"/ferrule.v1.StockService/ReportPicking", RIGHT_READ_FLEET, Scope::kRequested},
      {"/ferrule.v1.StockService/ReportReorder", RIGHT_READ_FLEET, Scope::kRequested},
      {"/ferrule.v1.StockService/ListTransfers", RIGHT_READ_FLEET, Scope::kRequested},
      {"/ferrule.v1.StockService/GetPlace", RIGHT_READ_FLEET, Scope::kRequested},
      {"/ferrule.v1.StockService/GetCount", RIGHT_READ_FLEET, Scope::kAnyBranch},
      {"/ferrule.v1.StockService/ListCounts", RIGHT_READ_FLEET, Scope::kAnyBranch},
      {"/ferrule.v1.TraceService/ListHolders", RIGHT_READ_TRACES, Scope::kRequested},
      {"/ferrule.v1.TraceService/ListHeld", RIGHT_READ_TRACES, Scope::kRequested},
      {"/ferrule.v1.TraceService/ReportPath", RIGHT_READ_TRACES, Scope::kRequested},
      {"/ferrule.v1.TraceService/ReportExposure", RIGHT_READ_TRACES, Scope::kRequested},
      {"/ferrule.v1.TraceService/GetProof", RIGHT_READ_TRACES, Scope::kRequested},
      {"/ferrule.v1.TraceService/ReportViolations", RIGHT_READ_TRACES, Scope::kRequested},
      {"/ferrule.v1.TraceService/ListRecallItems", RIGHT_READ_TRACES, Scope::kRequested},
      {"/ferrule.v1.TraceService/ListRecalls", RIGHT_READ_TRACES, Scope::kRequested},
      {"/ferrule.v1.TraceService/ReportAudit", RIGHT_READ_TRACES, Scope::kRequested},
      {"/ferrule.v1.TraceService/ReportSurvey", RIGHT_READ_TRACES, Scope::kRequested},
      {"/ferrule.v1.TraceService/ListComplaints", RIGHT_READ_TRACES, Scope::kRequested},
      {"/ferrule.v1.TraceService/ListRecordsDue", RIGHT_READ_TRACES, Scope::kDepot},
      {"/ferrule.v1.TraceService/ListCompetentWork", RIGHT_READ_TRACES, Scope::kDepot},
      {"/ferrule.v1.TraceService/ReportPatientTrail", RIGHT_READ_TRACES, Scope::kDepot},
      {"/grpc.health.v1.Health/Check", RIGHT_UNSPECIFIED, Scope::kOpen},
      {"/grpc.health.v1.Health/Watch", RIGHT_UNSPECIFIED, Scope::kOpen},
      {"/grpc.reflection.v1alpha.ServerReflection/ServerReflectionInfo", RIGHT_LOOK_AROUND,
       Scope::kAnyBranch},
  };
  return rules;
}

const MethodRule* RuleOf(std::string_view path) {
  static const auto& by_path = *[] {
    auto* out = new absl::flat_hash_map<std::string_view, const MethodRule*>();
    for (const MethodRule& rule : MethodRules()) out->emplace(rule.path, &rule);
    return out;
  }();
  const auto found = by_path.find(path);
  return found == by_path.end() ? nullptr : found->second;
}

// Without a default, so that the compiler asks about a new kind of fact.
v1::Right RightFor(v1::Fact::WhatCase what) {
  switch (what) {
    case v1::Fact::kUnitMoved:
    case v1::Fact::kUnitMissing:
    case v1::Fact::kUnitFound:
    case v1::Fact::kAliasNoted:
    case v1::Fact::kReceivedBack:
    case v1::Fact::kSealBroken:
      return RIGHT_RECORD_CUSTODY;
    case v1::Fact::kMeterRead:
    case v1::Fact::kMeterReplaced:
    case v1::Fact::kMeterRolledOver:
    case v1::Fact::kPartFitted:
    case v1::Fact::kPartRemoved:
    case v1::Fact::kCleaningStarted:
    case v1::Fact::kCleaningFinished:
    case v1::Fact::kMemoryErased:
    case v1::Fact::kInspectionDone:
    case v1::Fact::kRepairOpened:
    case v1::Fact::kRepairClosed:
    case v1::Fact::kServiceDone:
    case v1::Fact::kSideConfigured:
    case v1::Fact::kCleaningStepDone:
    case v1::Fact::kContactNoted:
    case v1::Fact::kTreatmentDone:
    case v1::Fact::kServiceDeferred:
    case v1::Fact::kTesterCalibrated:
      return RIGHT_RECORD_BENCH;
    case v1::Fact::kOrderTaken:
    case v1::Fact::kOrderChanged:
    case v1::Fact::kOrderCancelled:
    case v1::Fact::kUnitHeldForOrder:
    case v1::Fact::kOrderHoldReleased:
    case v1::Fact::kOrderExtended:
    case v1::Fact::kOrderReinstated:
    case v1::Fact::kDetailsConfirmed:
    case v1::Fact::kOrderStopped:
    case v1::Fact::kWaitingNoted:
    case v1::Fact::kPromiseRefused:
    case v1::Fact::kUnitPromised:
    case v1::Fact::kOrderMessageReceived:
      return RIGHT_RECORD_ORDERS;
    case v1::Fact::kHandedOver:
    case v1::Fact::kExchanged:
    case v1::Fact::kPickupAgreed:
    case v1::Fact::kPickupFailed:
    case v1::Fact::kPickedUp:
    case v1::Fact::kPatientStayNoted:
    case v1::Fact::kUseNoted:
    case v1::Fact::kCarriedOver:
    case v1::Fact::kUsageReported:
    case v1::Fact::kMotionChanged:
    case v1::Fact::kSetUpDone:
    case v1::Fact::kTicketReturned:
    case v1::Fact::kCallMade:
    case v1::Fact::kPrecautionsNoted:
    case v1::Fact::kBreakdownReported:
    case v1::Fact::kBreakdownSettled:
      return RIGHT_RECORD_HOME;
    case v1::Fact::kAuthorisationNoted:
    case v1::Fact::kDaysBilled:
      return RIGHT_RECORD_COVER;
    case v1::Fact::kStockReceived:
    case v1::Fact::kStockMoved:
    case v1::Fact::kStockIssued:
    case v1::Fact::kStockReturned:
    case v1::Fact::kStockDiscarded:
    case v1::Fact::kStockAdjusted:
    case v1::Fact::kTransferSent:
    case v1::Fact::kTransferReceived:
    case v1::Fact::kClosetUseReported:
    case v1::Fact::kClosetUseSettled:
    case v1::Fact::kCountOpened:
    case v1::Fact::kCountTallied:
    case v1::Fact::kCountClosed:
      return RIGHT_RECORD_STORES;
    case v1::Fact::kHoldPlaced:
    case v1::Fact::kHoldLifted:
    case v1::Fact::kTesterDoubted:
    case v1::Fact::kRecallOpened:
    case v1::Fact::kRecallOutcomeNoted:
    case v1::Fact::kRecallClosed:
    case v1::Fact::kComplaintReceived:
    case v1::Fact::kComplaintAnswered:
    case v1::Fact::kComplaintClosed:
    case v1::Fact::kRecordsHeld:
    case v1::Fact::kRecordsReleased:
    case v1::Fact::kRecordsDisclosed:
      return RIGHT_RECORD_SAFETY;
    case v1::Fact::kUnitReceived:
    case v1::Fact::kUnitWrittenOff:
    case v1::Fact::kForecastNoted:
    case v1::Fact::kPurposeChanged:
      return RIGHT_RECORD_FLEET;
    case v1::Fact::kReversal:
    case v1::Fact::kQuestionAnswered:
      return RIGHT_RECORD_CORRECTIONS;
    case v1::Fact::kSettingsPut:
      return RIGHT_RECORD_SETTINGS;
    case v1::Fact::WHAT_NOT_SET:
      break;
  }
  return RIGHT_UNSPECIFIED;
}

bool IsReading(v1::Right right) {
  return right >= RIGHT_READ_FLEET && right <= RIGHT_READ_MESSAGES;
}

}  // namespace ferrule::access
