// Bench commands beyond the everyday ones: steps of cleaning, contact, treatment, service put off,
// test instruments.
#include <algorithm>
#include <cmath>

#include "absl/strings/str_cat.h"
#include "cli/catalog.h"
#include "cli/look_up.h"
#include "cli/report.h"
#include "cli/values.h"
#include "core/fact/counted.h"
#include "core/time/civil.h"
#include "ferrule/v1/bench_service.grpc.pb.h"

namespace ferrule::cli {
namespace {

const Positional kUnit{"UNIT", "the unit's tag"};
const Positional kTester{"TESTER", "the test instrument's id"};

absl::Status CleanStep(Session& session, const Line& line) {
  absl::StatusOr<Report> report = Report::Begin(session);
  if (!report.ok()) return report.status();
  Values values(session);
  v1::CleaningStepDone& fact = *report->Add()->mutable_cleaning_step_done();
  fact.set_unit(line.Arg("UNIT"));
  fact.set_step(values.OneOfIn<v1::CleaningStep>("STEP"));
  if (!values.status().ok()) return values.status();
  return report->Send(fact.unit());
}

absl::Status Contact(Session& session, const Line& line) {
  absl::StatusOr<Report> report = Report::Begin(session);
  if (!report.ok()) return report.status();
  v1::ContactNoted& fact = *report->Add()->mutable_contact_noted();
  fact.set_unit(line.Arg("UNIT"));
  IfGiven(line.Get("--beside"), [&](const std::string& v) { fact.set_beside_unit(v); });
  IfGiven(line.Get("--evidence"), [&](const std::string& v) { fact.set_evidence(v); });
  if (fact.beside_unit().empty() && fact.evidence().empty()) {
    return absl::InvalidArgumentError(
        "say what soiled it: --beside UNIT, --evidence TEXT such as 'seal broken', or both");
  }
  return report->Send(fact.unit());
}

absl::Status Treat(Session& session, const Line& line) {
  absl::StatusOr<Report> report = Report::Begin(session);
  if (!report.ok()) return report.status();
  Values values(session);
  v1::TreatmentDone& fact = *report->Add()->mutable_treatment_done();
  fact.set_unit(line.Arg("UNIT"));
  fact.set_treatment(line.Arg("TREATMENT"));
  IfGiven(values.Number("--celsius"), [&](double v) { fact.set_temperature_c(v); });
  const auto minutes = values.Number("--minutes");
  if (!values.status().ok()) return values.status();
  constexpr double kMonthMinutes = 43'200;
  if (!minutes.has_value() || !(*minutes > 0 && *minutes <= kMonthMinutes)) {
    return absl::InvalidArgumentError(
        "say how long it was kept, up to the time of the report: --minutes 1 to 43200");
  }
  time::SetMicros(report->at_us() - std::llround(*minutes * 60e6), fact.mutable_from_time());
  time::SetMicros(report->at_us(), fact.mutable_to_time());
  return report->Send(fact.unit(),
                      "Caution: the depot's settings give the figures; the maker's instructions "
                      "and local rules rule.");
}

absl::Status DeferService(Session& session, const Line& line) {
  absl::StatusOr<Report> report = Report::Begin(session);
  if (!report.ok()) return report.status();
  Values values(session);
  v1::ServiceDeferred& fact = *report->Add()->mutable_service_deferred();
  fact.set_unit(line.Arg("UNIT"));
  *fact.mutable_until_date() = values.DayIn("DAY");
  fact.set_because(line.Arg("BECAUSE"));
  IfGiven(line.Get("--by"), [&](const std::string& v) { fact.set_authority(v); });
  fact.set_plan(line.Get("--plan").value_or(""));
  if (!values.status().ok()) return values.status();
  if (fact.plan().empty()) {
    const auto unit = LookUpUnit(session, fact.unit());
    if (!unit.ok()) return unit.status();
    const auto settings = session.Settings();
    if (!settings.ok()) return settings.status();
    for (const v1::Model& model : (*settings)->settings().models()) {
      if (model.id() == unit->model()) fact.set_plan(model.service_plan());
    }
    if (fact.plan().empty()) {
      return absl::InvalidArgumentError(
          "the settings in force name no service plan for this unit; say which is put off with "
          "--plan ID");
    }
    report->LookedUp("--plan", fact.plan());
  }
  return report->Send(fact.unit(), "Caution: the maker's instructions rule over a deferral.");
}

absl::Status Calibrated(Session& session, const Line& line) {
  absl::StatusOr<Report> report = Report::Begin(session);
  if (!report.ok()) return report.status();
  Values values(session);
  v1::TesterCalibrated& fact = *report->Add()->mutable_tester_calibrated();
  fact.set_tester(line.Arg("TESTER"));
  *fact.mutable_due_date() = values.DayIn("DUE");
  IfGiven(line.Get("--certificate"), [&](const std::string& v) { fact.set_certificate(v); });
  fact.set_found_out_of_tolerance(line.Has("--was-out"));
  if (!values.status().ok()) return values.status();
  return report->Send("", line.Has("--was-out")
                              ? "It was found out of tolerance: ferrule doubt-tester takes back "
                                "what it passed meanwhile."
                              : "");
}

// Units whose standing pass lies in the window: those that the fact takes back.
absl::Status FillUnits(Session& session, Report& report, v1::TesterDoubted& fact) {
  v1::ReportDoubtsRequest request;
  request.set_tester(fact.tester());
  *request.mutable_from_time() = fact.from_time();
  *request.mutable_to_time() = fact.to_time();
  v1::ReportDoubtsResponse response;
  const absl::Status asked =
      session.Ask(&v1::BenchService::StubInterface::ReportDoubts, request, &response);
  if (!asked.ok()) return asked;
  constexpr int kMost = 200;
  for (const v1::DoubtRow& row : response.rows()) {
    if (row.has_settled() || row.kind() != v1::DOUBT_KIND_TESTER_DOUBTED) continue;
    const auto& units = fact.units();
    if (std::find(units.begin(), units.end(), row.unit()) != units.end()) continue;
    if (fact.units_size() == kMost) {
      return absl::InvalidArgumentError(
          "more than 200 units are concerned; record the time in two parts, one after the other");
    }
    fact.add_units(row.unit());
    report.LookedUp("--unit", row.unit());
  }
  return absl::OkStatus();
}

absl::Status DoubtTester(Session& session, const Line& line) {
  absl::StatusOr<Report> report = Report::Begin(session);
  if (!report.ok()) return report.status();
  Values values(session);
  v1::TesterDoubted& fact = *report->Add()->mutable_tester_doubted();
  fact.set_tester(line.Arg("TESTER"));
  fact.set_because(line.Arg("BECAUSE"));
  const auto from = values.Instant("--from");
  const auto to = values.Instant("--to");
  if (!values.status().ok()) return values.status();
  if (!from.has_value()) {
    return absl::InvalidArgumentError("say since when it is in doubt: --from TIME");
  }
  time::SetMicros(*from, fact.mutable_from_time());
  time::SetMicros(to.value_or(report->at_us()), fact.mutable_to_time());
  for (const std::string& unit : line.All("--unit")) fact.add_units(unit);
  if (fact.units().empty()) {
    const absl::Status filled = FillUnits(session, *report, fact);
    if (!filled.ok()) return filled;
  }
  return report->Send(
      "", absl::StrCat("Taken back: ", fact::Counted(fact.units_size(), "pass", "passes"),
                       "; ferrule doubts --tester ", fact.tester(),
                       " says where those units are now."));
}

}  // namespace

void AddMoreBenchCommands(Catalog* catalog) {
  constexpr auto kGroup = Group::kBench;
  catalog->push_back({"clean-step",
                      kGroup,
                      Kind::kRecords,
                      "report one step of cleaning, where the steps are kept one by one",
                      {kUnit, {"STEP", "preparation, washing, disinfection or drying"}},
                      {},
                      "ferrule clean-step K-0417 washing",
                      CleanStep});
  catalog->push_back({"contact",
                      kGroup,
                      Kind::kRecords,
                      "say that a clean unit was soiled by contact or a broken seal",
                      {kUnit},
                      {{"--beside", "UNIT", "the soiled unit beside it"},
                       {"--evidence", "TEXT", "what was seen, for instance 'seal broken'"}},
                      "ferrule contact K-0417 --beside K-0502 --evidence 'cover open'",
                      Contact});
  catalog->push_back({"treat",
                      kGroup,
                      Kind::kRecords,
                      "report the treatment of a unit with insects or body fluid",
                      {kUnit, {"TREATMENT", "treatment, from the settings"}},
                      {{"--minutes", "MINUTES", "how long it was kept, up to the time reported"},
                       {"--celsius", "DEGREES", "least temperature that was kept"}},
                      "ferrule treat K-0417 heat --minutes 95 --celsius 51",
                      Treat});
  catalog->push_back({"defer-service",
                      kGroup,
                      Kind::kRecords,
                      "put planned service off, in somebody's name",
                      {kUnit, {"DAY", "last day to which it is put off"}, {"BECAUSE", "why"}},
                      {{"--by", "NAME", "who takes the responsibility, required"},
                       {"--plan", "ID", "plan put off; default the model's"}},
                      "ferrule defer-service K-0417 2026-05-01 'with the patient until then' "
                      "--by lead-eve",
                      DeferService});
  catalog->push_back({"calibrated",
                      kGroup,
                      Kind::kRecords,
                      "report that a test instrument was calibrated",
                      {kTester, {"DUE", "last day for which it holds"}},
                      {{"--certificate", "NUMBER", "number of the certificate"},
                       {"--was-out", "", "it was out of tolerance before it was adjusted"}},
                      "ferrule calibrated T-3 2027-03-01 --certificate C-88",
                      Calibrated});
  catalog->push_back(
      {"doubt-tester",
       kGroup,
       Kind::kRecords,
       "take back what a test instrument passed while it was not to be trusted",
       {kTester, {"BECAUSE", "why, in quotes"}},
       {{"--from", "TIME", "since when, required"},
        {"--to", "TIME", "until when; default the time of the report"},
        {"--unit", "UNIT", "a unit whose pass is taken back; default all of them", true}},
       "ferrule doubt-tester T-3 'found 8 % low' --from 2026-03-02 --to 2026-03-23",
       DoubtTester});
}

}  // namespace ferrule::cli
