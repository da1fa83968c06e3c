// Answers about single subjects and lists of units: show, why, units, checklist.
#include "absl/strings/str_cat.h"
#include "cli/catalog.h"
#include "cli/look_up.h"
#include "cli/pages.h"
#include "cli/render_findings.h"
#include "cli/render_order.h"
#include "cli/render_stores.h"
#include "cli/render_unit.h"
#include "cli/render_words.h"
#include "cli/values.h"
#include "core/time/civil.h"

namespace ferrule::cli {
namespace {

// Sets the request's known_time when --known-at was given.
template <typename Request>
absl::Status SetKnownTime(Session& session, Request* request) {
  const auto known = session.KnownAt();
  if (!known.ok()) return known.status();
  if (known->has_value()) time::SetMicros(**known, request->mutable_known_time());
  return absl::OkStatus();
}

std::string OpenQuestions(const v1::SubjectState& state, absl::TimeZone zone) {
  std::string text;
  if (state.questions_size() > 0) {
    text += "Open questions\n" + FindingLines(state.questions());
  }
  if (state.overrides_size() > 0) text += "Rules set aside\n";
  for (const v1::OverrideUsed& used : state.overrides()) {
    absl::StrAppend(&text, "  ", RuleWord(used.finding().reason()), " ",
                    Local(used.finding().time(), zone), " by ", Printable(used.authority()), ": ",
                    Printable(used.because()), "\n");
  }
  return text;
}

std::string ZoneWords(absl::TimeZone zone) { return "Times are local (" + zone.name() + ").\n"; }

struct Shown {
  Fields fields;
  absl::TimeZone zone;
};

Shown ShowPart(Session& session, const v1::PartState& part) {
  Shown shown{{}, session.zones().OfBranch("")};
  shown.fields.Add("in unit", part.unit().empty() ? "none" : part.unit());
  shown.fields.Add("position", part.position());
  shown.fields.Add("lot", part.lot());
  shown.fields.Add("since", StampWords(part.since(), shown.zone));
  return shown;
}

Shown ShowLot(Session& session, const v1::LotState& lot) {
  Shown shown{{}, session.zones().OfBranch("")};
  shown.fields.Add("item", lot.item());
  AddBookFields(lot.book(), shown.zone, &shown.fields);
  shown.fields.Add("pieces used", absl::StrCat(lot.used_count()));
  for (const v1::LotUse& use : lot.uses()) {
    shown.fields.Add("used", absl::StrCat(use.piece_count(), " for order ", use.order(), ", ",
                                          StampWords(use.used(), shown.zone)));
  }
  return shown;
}

Shown ShowSettings(Session& session, const v1::SettingsState& settings) {
  Shown shown{{}, session.zones().OfBranch("")};
  for (const v1::SettingsVersion& version : settings.versions()) {
    shown.fields.Add(version.settings().version(),
                     absl::StrCat("from ", Local(version.from_time(), shown.zone)));
  }
  return shown;
}

Shown ShowForecasts(Session& session, const v1::ForecastsState& forecasts) {
  Shown shown{{}, session.zones().OfBranch(forecasts.branch())};
  shown.fields.Add("kept", absl::StrCat(forecasts.noted_count()));
  shown.fields.Add("last as of", Day(forecasts.last_as_of_date()));
  shown.fields.Add("noted", StampWords(forecasts.noted(), shown.zone));
  return shown;
}

Shown ShowTester(Session& session, const v1::TesterState& tester) {
  Shown shown{{}, session.zones().OfBranch("")};
  for (const v1::Calibration& calibration : tester.calibrations()) {
    shown.fields.Add(
        "calibrated",
        absl::StrCat(
            StampWords(calibration.done(), shown.zone), ", through ",
            time::FormatDay(time::ToDay(calibration.due_date())),
            calibration.found_out_of_tolerance() ? ", found out of tolerance before" : ""));
  }
  for (const v1::TesterDoubt& doubt : tester.doubts()) {
    shown.fields.Add("in doubt", absl::StrCat(Local(doubt.from_time(), shown.zone), " to ",
                                              Local(doubt.to_time(), shown.zone), ": ",
                                              Printable(doubt.because())));
  }
  return shown;
}

Shown ShowUnit(Session& session, const v1::UnitState& unit) {
  const absl::TimeZone zone = session.zones().OfPlace(unit.place());
  return {UnitFields(unit, zone), zone};
}

absl::Status ShowOrder(Session& session, const std::string& name) {
  v1::GetOrderRequest request;
  request.set_name(name);
  const absl::Status known = SetKnownTime(session, &request);
  if (!known.ok()) return known;
  v1::GetOrderResponse response;
  const absl::Status asked =
      session.Ask(&v1::DepotService::StubInterface::GetOrder, request, &response);
  if (!asked.ok()) return asked;
  const absl::TimeZone zone = session.zones().OfBranch(response.state().order().details().branch());
  const Fields fields = OrderFields(response, zone);
  const auto why = session.Explanation();
  if (!why.ok()) return why.status();
  session.Show(response, fields.AsTable(),
               absl::StrCat("Order ", BareId(name), "\n", fields.Text(),
                            OpenQuestions(response.state(), zone), ZoneWords(zone), *why));
  return absl::OkStatus();
}

absl::Status Show(Session& session, const Line& line) {
  const auto name = FullName(session, line.Arg("NAME"));
  if (!name.ok()) return name.status();
  if (name->rfind("orders/", 0) == 0) return ShowOrder(session, *name);
  v1::GetSubjectRequest request;
  request.set_name(*name);
  const absl::Status known = SetKnownTime(session, &request);
  if (!known.ok()) return known;
  v1::GetSubjectResponse response;
  const absl::Status asked =
      session.Ask(&v1::DepotService::StubInterface::GetSubject, request, &response);
  if (!asked.ok()) return asked;
  const v1::SubjectState& state = response.state();
  std::string heading = *name;
  Shown shown;
  switch (state.state_case()) {
    case v1::SubjectState::kUnit:
      heading = absl::StrCat("Unit ", BareId(*name), ": ", AxesWords(state.unit()));
      shown = ShowUnit(session, state.unit());
      break;
    case v1::SubjectState::kPart:
      heading = "Part " + BareId(*name);
      shown = ShowPart(session, state.part());
      break;
    case v1::SubjectState::kLot:
      heading = "Lot " + BareId(*name);
      shown = ShowLot(session, state.lot());
      break;
    case v1::SubjectState::kTester:
      heading = "Tester " + BareId(*name);
      shown = ShowTester(session, state.tester());
      break;
    case v1::SubjectState::kForecasts:
      heading = "Kept forecasts of " + BareId(*name);
      shown = ShowForecasts(session, state.forecasts());
      break;
    case v1::SubjectState::kSettings:
      heading = "Versions of the settings";
      shown = ShowSettings(session, state.settings());
      break;
    default:
      shown.zone = session.zones().OfBranch("");
      AddStoresFields(state, shown.zone, &shown.fields);
      break;
  }
  const auto why = session.Explanation();
  if (!why.ok()) return why.status();
  session.Show(response, shown.fields.AsTable(),
               absl::StrCat(heading, "\n", shown.fields.Text(), OpenQuestions(state, shown.zone),
                            ZoneWords(shown.zone), *why));
  return absl::OkStatus();
}

std::string EvidenceLines(const Findings& findings, absl::TimeZone zone) {
  std::string text;
  int number = 0;
  for (const v1::Finding& finding : findings) {
    ++number;
    for (const v1::Stamp& stamp : finding.evidence()) {
      absl::StrAppend(&text, "  ", number, ". ", Printable(StampWords(stamp, zone)), ", entry ",
                      stamp.fact().entry_id(), " fact ", stamp.fact().index(), "\n");
    }
  }
  return text.empty() ? text : "Records behind the reasons\n" + text;
}

std::string AssessmentText(const v1::AssessUnitResponse& answer, const std::string& order,
                           absl::TimeZone zone) {
  const std::string unit = BareId(answer.name());
  const std::string purpose = order.empty() ? std::string() : " for order " + order;
  std::string text = answer.ready() ? absl::StrCat(unit, " is ready to go", purpose, "\n")
                                    : absl::StrCat(unit, " cannot go out", purpose, ":\n",
                                                   FindingLines(answer.findings()),
                                                   EvidenceLines(answer.findings(), zone));
  if (answer.steps_size() > 0) text += "The way to ready\n";
  int number = 0;
  for (const std::string& step : answer.steps()) {
    absl::StrAppend(&text, "  ", ++number, ". ", Printable(step), "\n");
  }
  absl::StrAppend(&text, "It is ", AxesWords(answer.state().unit()), ".\n", ZoneWords(zone));
  return text;
}

absl::Status Why(Session& session, const Line& line) {
  v1::AssessUnitRequest request;
  const std::string unit = line.Arg("UNIT");
  request.set_name(unit.find('/') == std::string::npos ? "units/" + unit : unit);
  request.set_order(line.Get("--for").value_or(""));
  const absl::Status known = SetKnownTime(session, &request);
  if (!known.ok()) return known;
  Values values(session);
  IfGiven(values.Instant("--at"),
          [&](int64_t v) { time::SetMicros(v, request.mutable_at_time()); });
  if (!values.status().ok()) return values.status();
  v1::AssessUnitResponse response;
  const absl::Status asked =
      session.Ask(&v1::DepotService::StubInterface::AssessUnit, request, &response);
  if (!asked.ok()) return asked;
  const auto why = session.Explanation();
  if (!why.ok()) return why.status();
  const absl::TimeZone zone = session.zones().OfPlace(response.state().unit().place());
  session.Show(response, FindingTable(response.findings(), zone),
               AssessmentText(response, request.order(), zone) + *why);
  return absl::OkStatus();
}

absl::Status Units(Session& session, const Line& line) {
  v1::ListUnitsRequest request;
  Values values(session);
  request.set_branch(line.Get("--branch").value_or(""));
  request.set_model(line.Get("--model").value_or(""));
  request.set_place(line.Get("--place").value_or(""));
  request.set_serial(line.Get("--serial").value_or(""));
  IfGiven(values.OneOf<v1::Custody>("--custody"), [&](v1::Custody v) { request.set_custody(v); });
  IfGiven(values.OneOf<v1::Commitment>("--commitment"),
          [&](v1::Commitment v) { request.set_commitment(v); });
  if (!values.status().ok()) return values.status();
  v1::ListUnitsResponse all;
  const absl::Status asked =
      AskPages(session, &v1::DepotService::StubInterface::ListUnits, request, &all,
               [](v1::ListUnitsResponse& page) { return page.mutable_units(); });
  if (!asked.ok()) return asked;
  const Table table = UnitTable(all.units());
  session.Show(all, table, table.empty() ? "no unit answers that\n" : table.Text());
  return absl::OkStatus();
}

std::string LimitWords(const v1::ChecklistItem& item) {
  if (item.unit().empty() && !item.has_min() && !item.has_max()) return "yes or no";
  std::string words;
  if (item.has_min()) absl::StrAppend(&words, "at least ", Number(item.min()));
  if (item.has_max()) {
    absl::StrAppend(&words, words.empty() ? "" : ", ", "at most ", Number(item.max()));
  }
  return absl::StrCat(words.empty() ? "a reading" : words, item.unit().empty() ? "" : " ",
                      item.unit());
}

absl::Status ShowChecklist(Session& session, const Line& line) {
  const auto settings = session.Settings();
  if (!settings.ok()) return settings.status();
  std::string wanted = line.Arg("UNIT");
  const auto unit = LookUpUnit(session, wanted);
  if (!unit.ok() && unit.status().code() != absl::StatusCode::kNotFound) return unit.status();
  for (const v1::Model& model : (*settings)->settings().models()) {
    if (unit.ok() && model.id() == unit->model()) wanted = model.checklist();
  }
  for (const v1::Checklist& checklist : (*settings)->settings().checklists()) {
    if (checklist.id() != wanted) continue;
    Table table({{"item"}, {"limit"}, {"text"}});
    for (const v1::ChecklistItem& item : checklist.items()) {
      table.Add({item.id(), LimitWords(item), item.text()});
    }
    session.Show(
        checklist, table,
        absl::StrCat("Checklist ", checklist.id(), ", version ", checklist.version(), "\n",
                     table.Text(), "Source of the limits: ",
                     checklist.source().empty() ? "not stated" : Printable(checklist.source()),
                     "\nThe maker's instructions, the standard in force, local codes and "
                     "licensed practice rule.\n"));
    return absl::OkStatus();
  }
  return absl::NotFoundError(absl::StrCat(
      "'", line.Arg("UNIT"), "' is neither a unit nor a checklist of the settings in force; ",
      "ferrule settings show prints them"));
}

}  // namespace

void AddUnitAnswers(Catalog* catalog) {
  constexpr auto kGroup = Group::kLook;
  catalog->push_back({"why",
                      kGroup,
                      Kind::kReads,
                      "say whether a unit may go out, and if not, every reason and the way there",
                      {{"UNIT", "the unit's tag"}},
                      {{"--for", "ORDER", "the order it would go out for"},
                       {"--at", "TIME", "at this time instead of now"}},
                      "ferrule why K-0417 --for R-2001",
                      Why});
  catalog->push_back({"show",
                      kGroup,
                      Kind::kReads,
                      "show a unit, order, part or lot",
                      {{"NAME", "its id, or its full name such as parts/PEN-88"}},
                      {},
                      "ferrule show K-0417",
                      Show});
  catalog->push_back(
      {"units",
       kGroup,
       Kind::kReads,
       "list units",
       {},
       {{"--branch", "BRANCH", "only this branch"},
        {"--model", "MODEL", "only this model"},
        {"--place", "PLACE", "only this place"},
        {"--serial", "SERIAL", "only this serial number"},
        {"--custody", "WORD", "only this custody", false, "place home unaccounted left-fleet"},
        {"--commitment", "WORD", "only this commitment", false, "free held on-rent written-off"},
        kLimitFlag},
       "ferrule units --branch north --commitment free",
       Units});
  catalog->push_back({"checklist",
                      kGroup,
                      Kind::kReads,
                      "show the checklist that a unit must pass, with its limits",
                      {{"UNIT", "the unit's tag, or a checklist's id"}},
                      {},
                      "ferrule checklist K-0417",
                      ShowChecklist});
}

}  // namespace ferrule::cli
