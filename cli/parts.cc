// Bench commands about parts, sides, aliases and run-hour meters.
#include "absl/strings/str_cat.h"
#include "cli/catalog.h"
#include "cli/look_up.h"
#include "cli/report.h"
#include "cli/values.h"

namespace ferrule::cli {
namespace {

const Positional kUnit{"UNIT", "the unit's tag"};

absl::Status Fit(Session& session, const Line& line) {
  absl::StatusOr<Report> report = Report::Begin(session);
  if (!report.ok()) return report.status();
  v1::PartFitted& fact = *report->Add()->mutable_part_fitted();
  fact.set_unit(line.Arg("UNIT"));
  fact.set_position(line.Arg("POSITION"));
  fact.set_part(line.Arg("PART"));
  IfGiven(line.Get("--lot"), [&](const std::string& v) { fact.set_lot(v); });
  return report->Send(fact.unit());
}

absl::Status Unfit(Session& session, const Line& line) {
  absl::StatusOr<Report> report = Report::Begin(session);
  if (!report.ok()) return report.status();
  v1::PartRemoved& fact = *report->Add()->mutable_part_removed();
  fact.set_unit(line.Arg("UNIT"));
  fact.set_position(line.Arg("POSITION"));
  fact.set_part(line.Get("--part").value_or(""));
  if (fact.part().empty()) {
    const auto unit = LookUpUnit(session, fact.unit());
    if (!unit.ok()) return unit.status();
    for (const v1::PartIn& part : unit->parts()) {
      if (part.position() == fact.position()) fact.set_part(part.part());
    }
    if (fact.part().empty()) {
      return absl::InvalidArgumentError(absl::StrCat("the records have no part at ",
                                                     fact.position(), " in ", fact.unit(),
                                                     "; say which came out with --part PART"));
    }
    report->LookedUp("--part", fact.part());
  }
  return report->Send(fact.unit());
}

absl::Status SetSide(Session& session, const Line& line) {
  absl::StatusOr<Report> report = Report::Begin(session);
  if (!report.ok()) return report.status();
  Values values(session);
  v1::SideConfigured& fact = *report->Add()->mutable_side_configured();
  fact.set_unit(line.Arg("UNIT"));
  fact.set_side(values.OneOfIn<v1::Side>("SIDE"));
  if (!values.status().ok()) return values.status();
  return report->Send(fact.unit());
}

absl::Status NoteAlias(Session& session, const Line& line) {
  absl::StatusOr<Report> report = Report::Begin(session);
  if (!report.ok()) return report.status();
  Values values(session);
  v1::AliasNoted& fact = *report->Add()->mutable_alias_noted();
  fact.set_unit(line.Arg("UNIT"));
  fact.set_alias(line.Arg("ALIAS"));
  IfGiven(values.OneOf<v1::AliasKind>("--kind"), [&](v1::AliasKind v) { fact.set_kind(v); });
  if (!values.status().ok()) return values.status();
  return report->Send(fact.unit());
}

absl::Status ReadMeter(Session& session, const Line& line) {
  absl::StatusOr<Report> report = Report::Begin(session);
  if (!report.ok()) return report.status();
  Values values(session);
  v1::MeterRead& fact = *report->Add()->mutable_meter_read();
  fact.set_unit(line.Arg("UNIT"));
  fact.set_reading_s(values.HoursIn("HOURS"));
  if (!values.status().ok()) return values.status();
  return report->Send(fact.unit());
}

absl::Status ReplaceMeter(Session& session, const Line& line) {
  absl::StatusOr<Report> report = Report::Begin(session);
  if (!report.ok()) return report.status();
  Values values(session);
  v1::MeterReplaced& fact = *report->Add()->mutable_meter_replaced();
  fact.set_unit(line.Arg("UNIT"));
  fact.set_new_first_s(values.HoursIn("HOURS"));
  IfGiven(values.Hours("--old-last"), [&](int64_t v) { fact.set_old_last_s(v); });
  if (!values.status().ok()) return values.status();
  return report->Send(fact.unit());
}

absl::Status RollMeter(Session& session, const Line& line) {
  absl::StatusOr<Report> report = Report::Begin(session);
  if (!report.ok()) return report.status();
  Values values(session);
  v1::MeterRolledOver& fact = *report->Add()->mutable_meter_rolled_over();
  fact.set_unit(line.Arg("UNIT"));
  fact.set_reading_s(values.HoursIn("HOURS"));
  fact.set_width_s(values.HoursIn("WIDTH"));
  if (!values.status().ok()) return values.status();
  return report->Send(fact.unit());
}

}  // namespace

void AddPartCommands(Catalog* catalog) {
  constexpr auto kGroup = Group::kBench;
  const Positional position{"POSITION", "position in the model's parts list"};
  catalog->push_back({"fit",
                      kGroup,
                      Kind::kRecords,
                      "build a part into a unit",
                      {kUnit, position, {"PART", "the part's own id"}},
                      {{"--lot", "LOT", "the part's lot; recalls find it by this"}},
                      "ferrule fit K-0417 pendant PEN-91",
                      Fit});
  catalog->push_back({"unfit",
                      kGroup,
                      Kind::kRecords,
                      "take a part out of a unit",
                      {kUnit, position},
                      {{"--part", "PART", "the part; default the one on the records"}},
                      "ferrule unfit K-0417 pendant",
                      Unfit});
  catalog->push_back({"set-side",
                      kGroup,
                      Kind::kRecords,
                      "set a unit up for a side",
                      {kUnit, {"SIDE", "left, right or either"}},
                      {},
                      "ferrule set-side S-0007 left",
                      SetSide});
  catalog->push_back({"note-alias",
                      kGroup,
                      Kind::kRecords,
                      "note another name by which a unit is known",
                      {kUnit, {"ALIAS", "the other name, as people write it"}},
                      {{"--kind", "KIND", "what it is, required", false, "old-tag board-number"}},
                      "ferrule note-alias K-0417 CPM-12 --kind old-tag",
                      NoteAlias});
  catalog->push_back({"read-meter",
                      kGroup,
                      Kind::kRecords,
                      "report a run-hour meter reading",
                      {kUnit, {"HOURS", "reading, 1234.5"}},
                      {},
                      "ferrule read-meter K-0417 1234.5",
                      ReadMeter});
  catalog->push_back(
      {"replace-meter",
       kGroup,
       Kind::kRecords,
       "report a replaced or reset meter",
       {kUnit, {"HOURS", "first reading of the new meter"}},
       {{"--old-last", "HOURS", "last reading of the old one, when it could be read"}},
       "ferrule replace-meter K-0417 0 --old-last 1234.5",
       ReplaceMeter});
  catalog->push_back({"roll-meter",
                      kGroup,
                      Kind::kRecords,
                      "report that a meter passed its highest figure",
                      {kUnit,
                       {"HOURS", "reading after it began again at nought"},
                       {"WIDTH", "hours at which this meter begins again, 10000"}},
                      {},
                      "ferrule roll-meter K-0417 3.2 10000",
                      RollMeter});
}

}  // namespace ferrule::cli
