// Bench commands: cleaning, erasing, inspection, repair, planned service.
#include <cmath>

#include "absl/strings/str_cat.h"
#include "cli/catalog.h"
#include "cli/look_up.h"
#include "cli/report.h"
#include "cli/values.h"
#include "core/time/civil.h"

namespace ferrule::cli {
namespace {

const Positional kUnit{"UNIT", "the unit's tag"};

constexpr std::string_view kCleaningCaution =
    "Caution: the product's label and the maker's instructions rule over what is recorded here.";
constexpr std::string_view kBenchCaution =
    "Caution: limits are the depot's settings; the maker's instructions, the standard in force, "
    "local codes\nand licensed practice rule.";

absl::Status StartClean(Session& session, const Line& line) {
  absl::StatusOr<Report> report = Report::Begin(session);
  if (!report.ok()) return report.status();
  report->Add()->mutable_cleaning_started()->set_unit(line.Arg("UNIT"));
  return report->Send(line.Arg("UNIT"), kCleaningCaution);
}

struct WetTime {
  int64_t from_us = 0;
  int64_t to_us = 0;
};

// The time the surfaces stayed wet: two instants, or minutes up to the end.
absl::StatusOr<WetTime> ReadWetTime(Session& session, Report& report) {
  Values values(session);
  WetTime wet;
  wet.to_us = values.Instant("--wet-to").value_or(report.at_us());
  const auto from = values.Instant("--wet-from");
  const auto minutes = values.Number("--wet-min");
  if (!values.status().ok()) return values.status();
  if (from.has_value() == minutes.has_value()) {
    return absl::InvalidArgumentError(
        "say how long the surfaces stayed wet: either --wet-min MINUTES or --wet-from TIME");
  }
  constexpr double kDayMinutes = 1440;
  if (minutes.has_value() && !(*minutes >= 0 && *minutes <= kDayMinutes)) {
    return absl::InvalidArgumentError("--wet-min: write minutes from 0 to 1440");
  }
  wet.from_us = from.has_value() ? *from : wet.to_us - std::llround(*minutes * 60e6);
  return wet;
}

absl::Status Clean(Session& session, const Line& line) {
  absl::StatusOr<Report> report = Report::Begin(session);
  if (!report.ok()) return report.status();
  const auto wet = ReadWetTime(session, *report);
  if (!wet.ok()) return wet.status();
  Values values(session);
  const std::string unit = line.Arg("UNIT");
  report->AddAt(wet->from_us)->mutable_cleaning_started()->set_unit(unit);
  v1::CleaningFinished& fact = *report->Add()->mutable_cleaning_finished();
  fact.set_unit(unit);
  fact.set_product(line.Arg("PRODUCT"));
  time::SetMicros(wet->from_us, fact.mutable_wet_from_time());
  time::SetMicros(wet->to_us, fact.mutable_wet_to_time());
  IfGiven(line.Get("--lot"), [&](const std::string& v) { fact.set_product_lot(v); });
  IfGiven(values.Day("--expires"),
          [&](const google::type::Date& v) { *fact.mutable_product_expiry_date() = v; });
  IfGiven(line.Get("--seal"), [&](const std::string& v) { fact.set_seal(v); });
  IfGiven(line.Get("--dilution"), [&](const std::string& v) { fact.set_dilution(v); });
  for (const std::string& item : line.All("--discard")) fact.add_discarded(item);
  for (const std::string& code : line.All("--extra")) fact.add_extra(code);
  if (!values.status().ok()) return values.status();
  return report->Send(unit, kCleaningCaution);
}

absl::Status Erase(Session& session, const Line& line) {
  absl::StatusOr<Report> report = Report::Begin(session);
  if (!report.ok()) return report.status();
  v1::MemoryErased& fact = *report->Add()->mutable_memory_erased();
  fact.set_unit(line.Arg("UNIT"));
  IfGiven(line.Get("--method"), [&](const std::string& v) { fact.set_method(v); });
  return report->Send(fact.unit());
}

// Fills the checklist and its version that were not typed: those of the unit's model in the
// settings in force at the report's time.
absl::Status FillChecklist(Session& session, Report& report, v1::InspectionDone& fact) {
  const Line& line = session.line();
  fact.set_checklist(line.Get("--checklist").value_or(""));
  fact.set_checklist_version(line.Get("--version").value_or(""));
  if (!fact.checklist().empty() && !fact.checklist_version().empty()) return absl::OkStatus();
  v1::GetSettingsRequest request;
  time::SetMicros(report.at_us(), request.mutable_at_time());
  v1::GetSettingsResponse response;
  const absl::Status asked =
      session.Ask(&v1::DepotService::StubInterface::GetSettings, request, &response);
  if (!asked.ok()) return asked;
  const v1::Settings& settings = response.version().settings();
  if (fact.checklist().empty()) {
    const auto unit = LookUpUnit(session, fact.unit());
    if (!unit.ok()) return unit.status();
    for (const v1::Model& model : settings.models()) {
      if (model.id() == unit->model()) fact.set_checklist(model.checklist());
    }
  }
  if (fact.checklist_version().empty()) {
    for (const v1::Checklist& checklist : settings.checklists()) {
      if (checklist.id() == fact.checklist()) fact.set_checklist_version(checklist.version());
    }
  }
  if (fact.checklist().empty() || fact.checklist_version().empty()) {
    return absl::InvalidArgumentError(
        "the settings in force name no checklist for this unit; say which was followed with "
        "--checklist ID --version VERSION");
  }
  report.LookedUp("--checklist", fact.checklist());
  report.LookedUp("--version", fact.checklist_version());
  return absl::OkStatus();
}

absl::Status Inspect(Session& session, const Line& line) {
  absl::StatusOr<Report> report = Report::Begin(session);
  if (!report.ok()) return report.status();
  v1::InspectionDone& fact = *report->Add()->mutable_inspection_done();
  fact.set_unit(line.Arg("UNIT"));
  IfGiven(line.Get("--tester"), [&](const std::string& v) { fact.set_tester(v); });
  Values values(session);
  const auto method = values.OneOf<v1::MeasuringMethod>("--measured");
  IfGiven(values.OneOf<v1::ElectricalClass>("--class"),
          [&](v1::ElectricalClass v) { fact.set_electrical_class(v); });
  IfGiven(values.OneOf<v1::AppliedPart>("--applied-part"),
          [&](v1::AppliedPart v) { fact.set_applied_part(v); });
  IfGiven(values.Day("--tester-due"),
          [&](const google::type::Date& v) { *fact.mutable_tester_due_date() = v; });
  if (!values.status().ok()) return values.status();
  for (const std::string& text : line.Args("ITEM=VALUE")) {
    const auto pair = ParsePair(text);
    if (!pair.ok()) return pair.status();
    const auto value = ParseReading(pair->second);
    if (!value.ok()) {
      return absl::InvalidArgumentError(
          absl::StrCat(pair->first, ": ", std::string(value.status().message()), ", yes or no"));
    }
    v1::Reading& reading = *fact.add_readings();
    reading.set_item(pair->first);
    reading.set_value(*value);
    // The method matters to the electrical items alone, and says nothing of the others.
    IfGiven(method, [&](v1::MeasuringMethod v) { reading.set_method(v); });
  }
  const absl::Status filled = FillChecklist(session, *report, fact);
  if (!filled.ok()) return filled;
  return report->Send(fact.unit(), kBenchCaution);
}

absl::Status RepairOpen(Session& session, const Line& line) {
  absl::StatusOr<Report> report = Report::Begin(session);
  if (!report.ok()) return report.status();
  v1::RepairOpened& fact = *report->Add()->mutable_repair_opened();
  fact.set_unit(line.Arg("UNIT"));
  fact.set_complaint(line.Arg("COMPLAINT"));
  Values values(session);
  IfGiven(values.Hours("--meter"), [&](int64_t v) {
    v1::MeterRead& meter = *report->Add()->mutable_meter_read();
    meter.set_unit(line.Arg("UNIT"));
    meter.set_reading_s(v);
  });
  if (!values.status().ok()) return values.status();
  return report->Send(line.Arg("UNIT"));
}

// Parts and meter, as facts of their own before the repair's end.
void AddPartsAndMeter(const Line& line, Values& values, Report* report) {
  const std::string unit = line.Arg("UNIT");
  const auto reading = values.Hours("--meter");
  if (line.Has("--new-meter")) {
    v1::MeterReplaced& meter = *report->Add()->mutable_meter_replaced();
    meter.set_unit(unit);
    IfGiven(values.Hours("--old-last"), [&](int64_t v) { meter.set_old_last_s(v); });
    meter.set_new_first_s(reading.value_or(0));
  } else if (reading.has_value()) {
    v1::MeterRead& meter = *report->Add()->mutable_meter_read();
    meter.set_unit(unit);
    meter.set_reading_s(*reading);
  }
  for (const std::string& text : line.All("--remove")) {
    const auto pair = ParsePair(text);
    if (!pair.ok()) return values.Fail("--remove", pair.status());
    v1::PartRemoved& part = *report->Add()->mutable_part_removed();
    part.set_unit(unit);
    part.set_position(pair->first);
    part.set_part(pair->second);
  }
  for (const std::string& text : line.All("--fit")) {
    const auto pair = ParsePair(text);
    if (!pair.ok()) return values.Fail("--fit", pair.status());
    v1::PartFitted& part = *report->Add()->mutable_part_fitted();
    part.set_unit(unit);
    part.set_position(pair->first);
    part.set_part(pair->second);
  }
}

absl::Status RepairClose(Session& session, const Line& line) {
  absl::StatusOr<Report> report = Report::Begin(session);
  if (!report.ok()) return report.status();
  Values values(session);
  AddPartsAndMeter(line, values, &*report);
  v1::RepairClosed& fact = *report->Add()->mutable_repair_closed();
  fact.set_unit(line.Arg("UNIT"));
  IfGiven(line.Get("--cause"), [&](const std::string& v) { fact.set_cause(v); });
  IfGiven(line.Get("--work"), [&](const std::string& v) { fact.set_work(v); });
  fact.set_no_fault_found(line.Has("--no-fault"));
  IfGiven(values.Hours("--labour"), [&](int64_t v) { fact.set_labour_s(v); });
  IfGiven(values.Minor("--cost"), [&](int64_t v) { fact.set_cost_minor(v); });
  if (!values.status().ok()) return values.status();
  return report->Send(fact.unit());
}

absl::Status Service(Session& session, const Line& line) {
  absl::StatusOr<Report> report = Report::Begin(session);
  if (!report.ok()) return report.status();
  v1::ServiceDone& fact = *report->Add()->mutable_service_done();
  fact.set_unit(line.Arg("UNIT"));
  fact.set_plan(line.Get("--plan").value_or(""));
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
          "the settings in force name no service plan for this unit; say which was done with "
          "--plan ID");
    }
    report->LookedUp("--plan", fact.plan());
  }
  return report->Send(fact.unit(), kBenchCaution);
}

}  // namespace

void AddBenchCommands(Catalog* catalog) {
  constexpr auto kGroup = Group::kBench;
  catalog->push_back({"start-clean",
                      kGroup,
                      Kind::kRecords,
                      "begin to clean a unit",
                      {kUnit},
                      {},
                      "ferrule start-clean K-0417",
                      StartClean});
  catalog->push_back(
      {"clean",
       kGroup,
       Kind::kRecords,
       "report a cleaning from beginning to end",
       {kUnit, {"PRODUCT", "cleaning product, from the settings"}},
       {{"--wet-min", "MINUTES", "minutes the surfaces stayed wet, up to the end"},
        {"--wet-from", "TIME", "when they became wet, instead of --wet-min"},
        {"--wet-to", "TIME", "until when they stayed wet; default the time of the report"},
        {"--lot", "LOT", "lot of the product"},
        {"--expires", "DAY", "last day on which the product may be used"},
        {"--discard", "ITEM", "single-patient part thrown away", true},
        {"--seal", "NUMBER", "number of the bag seal"},
        {"--extra", "CODE", "extra work that it took, for instance smoke", true},
        {"--dilution", "RATIO", "dilution used, for instance 1:64; default ready to use"}},
       "ferrule clean K-0417 wipe-q --wet-min 12 --seal 8812",
       Clean});
  catalog->push_back({"erase",
                      kGroup,
                      Kind::kRecords,
                      "report that patient data was erased",
                      {kUnit},
                      {{"--method", "TEXT", "how"}},
                      "ferrule erase K-0417 --method 'menu, all patients'",
                      Erase});
  catalog->push_back(
      {"inspect",
       kGroup,
       Kind::kRecords,
       "report a function check with its readings",
       {kUnit, {"ITEM=VALUE", "a reading; yes or no where the checklist asks so", Arity::kMany}},
       {{"--checklist", "ID", "checklist followed; default the model's"},
        {"--version", "VERSION", "its version; default the one in force"},
        {"--tester", "ID", "test instrument"},
        {"--tester-due", "DAY", "last day of its calibration, as read on it"},
        {"--measured", "HOW", "how leakage currents were measured", false,
         "direct differential alternative"},
        {"--class", "CLASS", "class of protection as read on the unit; default the model's", false,
         "i ii battery"},
        {"--applied-part", "TYPE", "type of applied part; default the model's", false,
         "b bf cf none"}},
       "ferrule inspect K-0417 visual=yes earth-ohm=0.12 leakage-ua=85 --tester T-3",
       Inspect});
  catalog->push_back({"repair-open",
                      kGroup,
                      Kind::kRecords,
                      "begin a repair; the last pass is void",
                      {kUnit, {"COMPLAINT", "the complaint, in quotes"}},
                      {{"--meter", "HOURS", "meter reading before it, 1234.5"}},
                      "ferrule repair-open K-0417 'pendant dead'",
                      RepairOpen});
  catalog->push_back({"repair-close",
                      kGroup,
                      Kind::kRecords,
                      "end a repair; the unit must be inspected again",
                      {kUnit},
                      {{"--cause", "CODE", "cause, in the depot's own code"},
                       {"--work", "TEXT", "work done"},
                       {"--no-fault", "", "nothing was found wrong"},
                       {"--labour", "HOURS", "labour, 0.5"},
                       {"--cost", "AMOUNT", "cost, 1234.56"},
                       {"--remove", "POSITION=PART", "part taken out", true},
                       {"--fit", "POSITION=PART", "part built in", true},
                       {"--meter", "HOURS", "meter reading after it, 1234.5"},
                       {"--new-meter", "", "the meter was replaced or reset"},
                       {"--old-last", "HOURS", "with --new-meter: last reading of the old one"}},
                      "ferrule repair-close K-0417 --cause cable --work 'cable replaced'",
                      RepairClose});
  catalog->push_back({"service",
                      kGroup,
                      Kind::kRecords,
                      "report planned service",
                      {kUnit},
                      {{"--plan", "ID", "service plan; default the model's"}},
                      "ferrule service K-0417",
                      Service});
}

}  // namespace ferrule::cli
