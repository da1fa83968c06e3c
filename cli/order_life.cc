// The life of an order: confirmations, authorisations, where the patient is, use, stops, bills.
#include "cli/catalog.h"
#include "cli/look_up.h"
#include "cli/motion_flags.h"
#include "cli/render_words.h"
#include "cli/report.h"
#include "cli/values.h"

namespace ferrule::cli {
namespace {

const Positional kOrder{"ORDER", "the order's number"};

constexpr std::string_view kSetUpCaution =
    "Caution: the prescriber's order and the maker's instructions rule; nothing here is a therapy "
    "setting\nof its own.";

absl::Status Reinstate(Session& session, const Line& line) {
  absl::StatusOr<Report> report = Report::Begin(session);
  if (!report.ok()) return report.status();
  Values values(session);
  v1::OrderReinstated& fact = *report->Add()->mutable_order_reinstated();
  fact.set_order(line.Arg("ORDER"));
  IfGiven(line.Get("--reason"), [&](const std::string& v) { fact.set_reason(v); });
  IfGiven(values.Whole("--sender-version"), [&](int64_t v) { fact.set_sender_version(v); });
  if (!values.status().ok()) return values.status();
  return report->Send();
}

absl::Status Confirm(Session& session, const Line& line) {
  absl::StatusOr<Report> report = Report::Begin(session);
  if (!report.ok()) return report.status();
  Values values(session);
  v1::DetailsConfirmed& fact = *report->Add()->mutable_details_confirmed();
  fact.set_order(line.Arg("ORDER"));
  fact.set_kind(values.OneOfIn<v1::DetailKind>("WHAT"));
  fact.set_confirmed_by(line.Get("--by").value_or(""));
  IfGiven(line.Get("--how"), [&](const std::string& v) { fact.set_how(v); });
  if (!values.status().ok()) return values.status();
  if (fact.confirmed_by().empty()) {
    return absl::InvalidArgumentError("say who confirmed it, for instance --by D-4");
  }
  return report->Send();
}

absl::Status Authorise(Session& session, const Line& line) {
  absl::StatusOr<Report> report = Report::Begin(session);
  if (!report.ok()) return report.status();
  Values values(session);
  v1::AuthorisationNoted& fact = *report->Add()->mutable_authorisation_noted();
  fact.set_order(line.Arg("ORDER"));
  fact.set_number(line.Arg("NUMBER"));
  *fact.mutable_from_date() = values.DayIn("FROM");
  *fact.mutable_through_date() = values.DayIn("THROUGH");
  IfGiven(values.Whole("--units"), [&](int64_t v) {
    fact.set_unit_count(static_cast<int32_t>(v < 0 || v > INT32_MAX ? -1 : v));
  });
  if (!values.status().ok()) return values.status();
  return report->Send();
}

absl::Status NoteStay(Session& session, const Line& line) {
  absl::StatusOr<Report> report = Report::Begin(session);
  if (!report.ok()) return report.status();
  Values values(session);
  v1::PatientStayNoted& fact = *report->Add()->mutable_patient_stay_noted();
  fact.set_order(line.Arg("ORDER"));
  fact.set_stay(values.OneOfIn<v1::Stay>("WHERE"));
  IfGiven(line.Get("--reason"), [&](const std::string& v) { fact.set_because(v); });
  if (!values.status().ok()) return values.status();
  return report->Send();
}

absl::Status Stop(Session& session, const Line& line) {
  absl::StatusOr<Report> report = Report::Begin(session);
  if (!report.ok()) return report.status();
  Values values(session);
  v1::OrderStopped& fact = *report->Add()->mutable_order_stopped();
  fact.set_order(line.Arg("ORDER"));
  *fact.mutable_through_date() = values.DayIn("THROUGH");
  IfGiven(values.Day("--signed"),
          [&](const google::type::Date& v) { *fact.mutable_signed_date() = v; });
  IfGiven(line.Get("--reason"), [&](const std::string& v) { fact.set_reason(v); });
  if (!values.status().ok()) return values.status();
  return report->Send();
}

absl::Status NoteUse(Session& session, const Line& line) {
  absl::StatusOr<Report> report = Report::Begin(session);
  if (!report.ok()) return report.status();
  Values values(session);
  v1::UseNoted& fact = *report->Add()->mutable_use_noted();
  fact.set_order(line.Arg("ORDER"));
  fact.set_change(values.OneOfIn<v1::UseChange>("CHANGE"));
  if (!values.status().ok()) return values.status();
  return report->Send();
}

absl::Status Bill(Session& session, const Line& line) {
  absl::StatusOr<Report> report = Report::Begin(session);
  if (!report.ok()) return report.status();
  Values values(session);
  v1::DaysBilled& fact = *report->Add()->mutable_days_billed();
  fact.set_order(line.Arg("ORDER"));
  fact.set_claim(line.Arg("CLAIM"));
  *fact.mutable_from_date() = values.DayIn("FROM");
  *fact.mutable_through_date() = values.DayIn("THROUGH");
  IfGiven(values.Whole("--units"), [&](int64_t v) {
    fact.set_unit_count(static_cast<int32_t>(v < 0 || v > INT32_MAX ? -1 : v));
  });
  IfGiven(values.Minor("--amount"), [&](int64_t v) { fact.set_amount_minor(v); });
  fact.set_correction(line.Has("--correction"));
  if (!values.status().ok()) return values.status();
  return report->Send();
}

// Patient, model and the order whose rental ends come from the records where they were not typed.
absl::Status CarryOver(Session& session, const Line& line) {
  absl::StatusOr<Report> report = Report::Begin(session);
  if (!report.ok()) return report.status();
  Values values(session);
  v1::CarriedOver& fact = *report->Add()->mutable_carried_over();
  fact.set_unit(line.Arg("UNIT"));
  fact.set_to_order(line.Arg("ORDER"));
  IfGiven(values.OneOf<v1::Side>("--side"), [&](v1::Side v) { fact.set_unit_side(v); });
  IfGiven(values.Hours("--meter"), [&](int64_t v) { fact.set_meter_s(v); });
  ReadKit(line, values, fact.mutable_kit());
  if (!ReadMotion(values, fact.mutable_motion())) fact.clear_motion();
  IfGiven(line.Get("--signed-by"), [&](const std::string& v) { fact.set_signed_by(v); });
  if (!values.status().ok()) return values.status();
  fact.set_unit_model(line.Get("--model").value_or(""));
  fact.set_from_order(line.Get("--from-order").value_or(""));
  if (fact.unit_model().empty() || fact.from_order().empty()) {
    const auto unit = LookUpUnit(session, fact.unit());
    if (!unit.ok()) return unit.status();
    if (fact.unit_model().empty()) {
      fact.set_unit_model(unit->model());
      report->LookedUp("--model", unit->model());
    }
    if (fact.from_order().empty()) {
      fact.set_from_order(unit->order());
      report->LookedUp("--from-order", unit->order());
    }
  }
  fact.set_patient(line.Get("--patient").value_or(""));
  if (fact.patient().empty()) {
    const auto order = LookUpOrder(session, fact.to_order());
    if (!order.ok()) return order.status();
    fact.set_patient(order->details().patient());
    report->LookedUp("--patient", fact.patient());
  }
  return report->Send(fact.unit(), kSetUpCaution);
}

}  // namespace

void AddOrderLifeCommands(Catalog* catalog) {
  constexpr auto kGroup = Group::kOrders;
  const Positional from{"FROM", "first day"};
  const Positional through{"THROUGH", "last day, inclusive"};
  catalog->push_back({"reinstate-order",
                      kGroup,
                      Kind::kRecords,
                      "make a cancelled order valid again",
                      {kOrder},
                      {{"--reason", "TEXT", "why"},
                       {"--sender-version", "N", "the sender's version of the order"}},
                      "ferrule reinstate-order R-2001 --reason 'operation back on'",
                      Reinstate});
  catalog->push_back({"confirm",
                      kGroup,
                      Kind::kRecords,
                      "record who confirmed what an order says where it contradicts itself",
                      {kOrder, {"WHAT", "side, procedure or joint"}},
                      {{"--by", "REF", "who confirmed it"}, {"--how", "TEXT", "how"}},
                      "ferrule confirm R-2001 side --by D-4 --how 'rang the office'",
                      Confirm});
  catalog->push_back({"authorise",
                      kGroup,
                      Kind::kRecords,
                      "note a payer's authorisation",
                      {kOrder, {"NUMBER", "its number"}, from, through},
                      {{"--units", "N", "days or months authorised"}},
                      "ferrule authorise R-2001 PA-77 2026-11-25 2026-12-15 --units 21",
                      Authorise});
  catalog->push_back(
      {"stop",
       kGroup,
       Kind::kRecords,
       "stop a prescription early",
       {kOrder, {"THROUGH", "last day of the prescription, inclusive"}},
       {{"--signed", "DAY", "day on which the stop was signed"}, {"--reason", "TEXT", "why"}},
       "ferrule stop R-2001 2026-12-10",
       Stop});
  catalog->push_back({"bill",
                      kGroup,
                      Kind::kRecords,
                      "record that days were billed; a later change of them is a correction",
                      {kOrder, {"CLAIM", "the depot's number of the claim"}, from, through},
                      {{"--units", "N", "days or months billed"},
                       {"--amount", "AMOUNT", "amount in the depot's currency"},
                       {"--correction", "", "states anew what was billed before"}},
                      "ferrule bill R-2001 C-77 2026-11-25 2026-12-15 --units 21 --amount 525.00",
                      Bill});
  constexpr auto kField = Group::kField;
  catalog->push_back({"stay",
                      kField,
                      Kind::kRecords,
                      "note where the patient is: home from the hospital, admitted again",
                      {kOrder, {"WHERE", "home, hospital, facility or died"}},
                      {{"--reason", "TEXT", "why it is another day than was planned"}},
                      "ferrule stay R-2001 home --at '2026-11-25 11:00'",
                      NoteStay});
  catalog->push_back({"use",
                      kField,
                      Kind::kRecords,
                      "note that use of the device started or stopped",
                      {kOrder, {"CHANGE", "started or stopped"}},
                      {},
                      "ferrule use R-2001 started --at '2026-11-24 16:00'",
                      NoteUse});
  std::vector<Flag> carried = {
      {"--side", "SIDE", "side the unit is set up for from now on", false, "left right either"},
      {"--meter", "HOURS", "meter reading"},
      kKitFlag,
      {"--signed-by", "WORD", "who signed, by relationship: patient, spouse"},
      {"--from-order", "ORDER", "the order whose rental ends; default the one on the records"},
      {"--patient", "REF", "the patient's opaque reference; default the one on the records"},
      {"--model", "MODEL", "the unit's model as read; default the one on the records"},
  };
  AddMotionFlags(&carried);
  catalog->push_back({"carry-over",
                      kField,
                      Kind::kRecords,
                      "let a unit go on in the same home under another order",
                      {{"UNIT", "the unit's tag"}, {"ORDER", "the order whose rental begins"}},
                      carried,
                      "ferrule carry-over K-0417 R-2002 --side right --signed-by patient",
                      CarryOver});
}

}  // namespace ferrule::cli
