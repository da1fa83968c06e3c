// Warehouse commands: units come, move, are blocked, get lost and go.
#include "cli/arrival_flags.h"
#include "cli/catalog.h"
#include "cli/report.h"
#include "cli/values.h"

namespace ferrule::cli {
namespace {

const Positional kUnit{"UNIT", "the unit's tag"};

absl::Status AddUnit(Session& session, const Line& line) {
  absl::StatusOr<Report> report = Report::Begin(session);
  if (!report.ok()) return report.status();
  Values values(session);
  v1::UnitReceived& fact = *report->Add()->mutable_unit_received();
  fact.set_unit(line.Arg("UNIT"));
  fact.set_model(line.Arg("MODEL"));
  fact.set_place(line.Arg("PLACE"));
  IfGiven(line.Get("--serial"), [&](const std::string& v) { fact.set_serial(v); });
  IfGiven(line.Get("--udi"), [&](const std::string& v) { fact.set_udi(v); });
  IfGiven(line.Get("--owner"), [&](const std::string& v) { fact.set_owner(v); });
  fact.set_purpose(values.OneOf<v1::Purpose>("--purpose").value_or(v1::PURPOSE_RENTAL));
  IfGiven(values.Minor("--cost"), [&](int64_t v) { fact.set_cost_minor(v); });
  IfGiven(values.OneOf<v1::Side>("--side"), [&](v1::Side v) { fact.set_side(v); });
  IfGiven(values.Hours("--meter"), [&](int64_t v) { fact.set_meter_s(v); });
  for (const std::string& text : line.All("--part")) {
    const auto pair = ParsePair(text);
    if (!pair.ok()) {
      values.Fail("--part", pair.status());
      break;
    }
    v1::PartInPosition& part = *fact.add_parts();
    part.set_position(pair->first);
    part.set_part(pair->second);
  }
  if (!values.status().ok()) return values.status();
  return report->Send(fact.unit());
}

absl::Status Receive(Session& session, const Line& line) {
  absl::StatusOr<Report> report = Report::Begin(session);
  if (!report.ok()) return report.status();
  Values values(session);
  v1::ReceivedBack& fact = *report->Add()->mutable_received_back();
  ReadArrival(line, values, &fact);
  if (!values.status().ok()) return values.status();
  return report->Send(fact.unit());
}

absl::Status Move(Session& session, const Line& line) {
  absl::StatusOr<Report> report = Report::Begin(session);
  if (!report.ok()) return report.status();
  v1::UnitMoved& fact = *report->Add()->mutable_unit_moved();
  fact.set_unit(line.Arg("UNIT"));
  fact.set_to_place(line.Arg("PLACE"));
  IfGiven(line.Get("--from"), [&](const std::string& v) { fact.set_from_place(v); });
  return report->Send(fact.unit());
}

absl::Status Hold(Session& session, const Line& line) {
  absl::StatusOr<Report> report = Report::Begin(session);
  if (!report.ok()) return report.status();
  Values values(session);
  v1::HoldPlaced& fact = *report->Add()->mutable_hold_placed();
  fact.set_unit(line.Arg("UNIT"));
  fact.set_kind(values.OneOfIn<v1::HoldKind>("KIND"));
  fact.set_reason(line.Arg("REASON"));
  IfGiven(line.Get("--reference"), [&](const std::string& v) { fact.set_reference(v); });
  if (!values.status().ok()) return values.status();
  return report->Send(fact.unit());
}

absl::Status Lift(Session& session, const Line& line) {
  absl::StatusOr<Report> report = Report::Begin(session);
  if (!report.ok()) return report.status();
  Values values(session);
  v1::HoldLifted& fact = *report->Add()->mutable_hold_lifted();
  fact.set_unit(line.Arg("UNIT"));
  fact.set_kind(values.OneOfIn<v1::HoldKind>("KIND"));
  fact.set_outcome(line.Arg("OUTCOME"));
  IfGiven(line.Get("--reference"), [&](const std::string& v) { fact.set_reference(v); });
  IfGiven(line.Get("--inspected-by"), [&](const std::string& v) { fact.set_inspected_by(v); });
  if (!values.status().ok()) return values.status();
  return report->Send(fact.unit());
}

absl::Status Missing(Session& session, const Line& line) {
  absl::StatusOr<Report> report = Report::Begin(session);
  if (!report.ok()) return report.status();
  v1::UnitMissing& fact = *report->Add()->mutable_unit_missing();
  fact.set_unit(line.Arg("UNIT"));
  fact.set_evidence(line.Arg("EVIDENCE"));
  return report->Send(fact.unit());
}

absl::Status Found(Session& session, const Line& line) {
  absl::StatusOr<Report> report = Report::Begin(session);
  if (!report.ok()) return report.status();
  v1::UnitFound& fact = *report->Add()->mutable_unit_found();
  fact.set_unit(line.Arg("UNIT"));
  fact.set_place(line.Arg("PLACE"));
  return report->Send(fact.unit());
}

absl::Status WriteOff(Session& session, const Line& line) {
  absl::StatusOr<Report> report = Report::Begin(session);
  if (!report.ok()) return report.status();
  v1::UnitWrittenOff& fact = *report->Add()->mutable_unit_written_off();
  fact.set_unit(line.Arg("UNIT"));
  fact.set_reason(line.Arg("REASON"));
  IfGiven(line.Get("--approved-by"), [&](const std::string& v) { fact.set_approved_by(v); });
  return report->Send(fact.unit());
}

}  // namespace

void AddStorageCommands(Catalog* catalog) {
  constexpr auto kGroup = Group::kWarehouse;
  const Positional kind{"KIND",
                        "recall, incident, infestation, contamination, tester-doubt, owner, other"};
  catalog->push_back(
      {"add-unit",
       kGroup,
       Kind::kRecords,
       "take a unit into the fleet",
       {kUnit, {"MODEL", "model, from the settings"}, {"PLACE", "where it is put"}},
       {{"--serial", "SERIAL", "the maker's serial number"},
        {"--udi", "UDI", "unique device identifier as printed"},
        {"--owner", "NAME", "who owns it; default the depot"},
        {"--purpose", "WORD", "what it is for; default rental", false,
         "rental demonstration loaner cross-rented"},
        {"--cost", "AMOUNT", "purchase cost, 1234.56"},
        {"--side", "SIDE", "side it is set up for", false, "left right either"},
        {"--meter", "HOURS", "meter reading, 1234.5"},
        {"--part", "POSITION=PART", "a part in it, for instance pendant=PEN-88", true}},
       "ferrule add-unit K-0417 knee-a north-dock --serial 77123 --part pendant=PEN-88",
       AddUnit});
  catalog->push_back({"receive",
                      kGroup,
                      Kind::kRecords,
                      "take a returned unit in at the depot",
                      {kUnit, {"PLACE", "where it is put, usually a dock"}},
                      ArrivalFlags(),
                      "ferrule receive K-0417 north-dock --meter 1310.5 --accessory pendant",
                      Receive});
  catalog->push_back({"move",
                      kGroup,
                      Kind::kRecords,
                      "put a unit in another place",
                      {kUnit, {"PLACE", "where it is now"}},
                      {{"--from", "PLACE", "where it was; default where the records have it"}},
                      "ferrule move K-0417 north-shelf",
                      Move});
  catalog->push_back({"hold",
                      kGroup,
                      Kind::kRecords,
                      "block a unit from going out",
                      {kUnit, kind, {"REASON", "why, in quotes"}},
                      {{"--reference", "NUMBER", "notice or file that it stands for"}},
                      "ferrule hold K-0417 incident 'strap tore under load'",
                      Hold});
  catalog->push_back({"lift",
                      kGroup,
                      Kind::kRecords,
                      "end a block",
                      {kUnit, kind, {"OUTCOME", "what was found or done, in quotes"}},
                      {{"--reference", "NUMBER", "notice or file whose hold ends"},
                       {"--inspected-by", "NAME", "who looked at it after its treatment"}},
                      "ferrule lift K-0417 incident 'strap replaced, report closed'",
                      Lift});
  catalog->push_back({"missing",
                      kGroup,
                      Kind::kRecords,
                      "say that a unit cannot be found",
                      {kUnit, {"EVIDENCE", "where it was looked for", Arity::kOptional}},
                      {},
                      "ferrule missing K-0417 'not on the shelf at the count'",
                      Missing});
  catalog->push_back({"found",
                      kGroup,
                      Kind::kRecords,
                      "say that a missing unit has turned up",
                      {kUnit, {"PLACE", "where it is put"}},
                      {},
                      "ferrule found K-0417 north-dock",
                      Found});
  catalog->push_back({"write-off",
                      kGroup,
                      Kind::kRecords,
                      "take a unit off the books",
                      {kUnit, {"REASON", "why, in quotes"}},
                      {{"--approved-by", "NAME", "who approved it"}},
                      "ferrule write-off K-0417 'frame bent' --approved-by mgr-bo",
                      WriteOff});
}

}  // namespace ferrule::cli
