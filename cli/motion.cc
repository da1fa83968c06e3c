// Motion in the home: limits of the day, changes of what is set, use.
#include "absl/strings/str_cat.h"
#include "cli/catalog.h"
#include "cli/motion_flags.h"
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

constexpr std::string_view kCaution =
    "Caution: the prescriber's order and the maker's instructions rule; nothing here is a therapy "
    "setting\nof its own.";

template <typename Request>
absl::Status PutKnownTime(Session& session, Request* request) {
  const auto known = session.KnownAt();
  if (!known.ok()) return known.status();
  if (known->has_value()) time::SetMicros(**known, request->mutable_known_time());
  return absl::OkStatus();
}

absl::Status Limits(Session& session, const Line& line) {
  v1::GetMotionPlanRequest request;
  Values values(session);
  request.set_name("orders/" + line.Arg("ORDER"));
  IfGiven(values.Day("--on"), [&](const google::type::Date& v) { *request.mutable_date() = v; });
  if (!values.status().ok()) return values.status();
  if (absl::Status known = PutKnownTime(session, &request); !known.ok()) return known;
  v1::GetMotionPlanResponse response;
  const absl::Status asked = session.Ask(&Stub::GetMotionPlan, request, &response);
  if (!asked.ok()) return asked;
  const Fields fields = MotionPlanFields(response, session.zones().OfBranch(""));
  session.Show(response, fields.AsTable(),
               absl::StrCat(MotionPlanText(response, fields), std::string(kCaution), "\n"));
  return absl::OkStatus();
}

absl::Status Usage(Session& session, const Line& line) {
  v1::GetUsageRequest request;
  request.set_name("orders/" + line.Arg("ORDER"));
  if (absl::Status known = PutKnownTime(session, &request); !known.ok()) return known;
  v1::GetUsageResponse response;
  const absl::Status asked = session.Ask(&Stub::GetUsage, request, &response);
  if (!asked.ok()) return asked;
  session.Show(response, UsageTable(response), UsageText(response));
  return absl::OkStatus();
}

absl::Status ReportUse(Session& session, const Line& line) {
  absl::StatusOr<Report> report = Report::Begin(session);
  if (!report.ok()) return report.status();
  Values values(session);
  v1::UsageReported& fact = *report->Add()->mutable_usage_reported();
  fact.set_order(line.Arg("ORDER"));
  IfGiven(line.Get("--unit"), [&](const std::string& v) { fact.set_unit(v); });
  IfGiven(values.Hours("--meter"), [&](int64_t v) { fact.set_meter_s(v); });
  IfGiven(values.Hours("--used"), [&](int64_t v) { fact.set_used_s(v); });
  using google::type::Date;
  IfGiven(values.Day("--from"), [&](const Date& v) { *fact.mutable_from_date() = v; });
  IfGiven(values.Day("--through"), [&](const Date& v) { *fact.mutable_through_date() = v; });
  const v1::UsageSource usual = fact.has_meter_s() ? v1::USAGE_SOURCE_METER : v1::USAGE_SOURCE_TOLD;
  fact.set_source(values.OneOf<v1::UsageSource>("--source").value_or(usual));
  if (!values.status().ok()) return values.status();
  return report->Send();
}

absl::Status SetMotion(Session& session, const Line& line) {
  absl::StatusOr<Report> report = Report::Begin(session);
  if (!report.ok()) return report.status();
  Values values(session);
  v1::MotionChanged& fact = *report->Add()->mutable_motion_changed();
  fact.set_order(line.Arg("ORDER"));
  const bool any = ReadMotion(values, fact.mutable_motion());
  fact.set_changed_by(values.OneOf<v1::MotionChanger>("--by").value_or(v1::MOTION_CHANGER_REP));
  IfGiven(line.Get("--reason"), [&](const std::string& v) { fact.set_reason(v); });
  if (!values.status().ok()) return values.status();
  if (!any) {
    return absl::InvalidArgumentError(
        "say what is set now, for instance --flexion 70; ferrule help set-motion lists it");
  }
  return report->Send("", kCaution);
}

}  // namespace

void AddMotionCommands(Catalog* catalog) {
  std::vector<Flag> set;
  AddMotionFlags(&set);
  set.push_back(
      {"--by", "WORD", "who changed it; default rep", false, "rep therapist patient other"});
  set.push_back({"--reason", "TEXT", "why"});
  catalog->push_back({"limits",
                      Group::kLook,
                      Kind::kReads,
                      "tell an order's limits of motion for a day, and what a session comes to",
                      {kOrder},
                      {{"--on", "DAY", "the day; default today"}},
                      "ferrule limits R-2001",
                      Limits});
  catalog->push_back({"usage",
                      Group::kLook,
                      Kind::kReads,
                      "tell how much an order's device is used, against what is prescribed",
                      {kOrder},
                      {},
                      "ferrule usage R-2001",
                      Usage});
  catalog->push_back(
      {"report-use",
       Group::kField,
       Kind::kRecords,
       "record what a patient says of use, or a reading of the meter at home",
       {kOrder},
       {{"--unit", "UNIT", "whose meter; default the one on rent"},
        {"--meter", "HOURS", "meter reading"},
        {"--used", "HOURS", "hours used from --from through --through"},
        {"--from", "DAY", "first of these days"},
        {"--through", "DAY", "last of these days"},
        {"--source", "WORD", "where it comes from", false, "meter device-memory told"}},
       "ferrule report-use R-2001 --meter 61.5",
       ReportUse});
  catalog->push_back({"set-motion",
                      Group::kField,
                      Kind::kRecords,
                      "record that what is set on the device was changed in the home",
                      {kOrder},
                      set,
                      "ferrule set-motion R-2001 --flexion 70 --by therapist",
                      SetMotion});
}

}  // namespace ferrule::cli
