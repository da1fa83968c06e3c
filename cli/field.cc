// Field commands: hand-over, exchange, pick-up, precautions in the home.
#include "absl/strings/str_cat.h"
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

struct AsSeen {
  std::string model;
  v1::Side side = v1::SIDE_UNSPECIFIED;
};

// Model and side of a unit as typed, or else as the records have them.
absl::StatusOr<AsSeen> ReadAsSeen(Session& session, Report& report, Values& values,
                                  const std::string& unit) {
  AsSeen seen;
  seen.model = session.line().Get("--model").value_or("");
  const auto side = values.OneOf<v1::Side>("--seen-side");
  seen.side = side.value_or(v1::SIDE_UNSPECIFIED);
  if (!seen.model.empty() && side.has_value()) return seen;
  const auto state = LookUpUnit(session, unit);
  if (!state.ok()) {
    // What has happened is recorded even about a unit that the depot does not know.
    const bool unknown = state.status().code() == absl::StatusCode::kNotFound || session.away();
    if (!seen.model.empty() && unknown) return seen;
    return state.status();
  }
  if (seen.model.empty()) seen.model = state->model();
  if (!side.has_value()) seen.side = state->side();
  report.LookedUp("--model", seen.model);
  if (seen.side != v1::SIDE_UNSPECIFIED) report.LookedUp("--seen-side", Word(seen.side));
  return seen;
}

// Another unit that was promised to the order is given free in the same entry; while the server is
// away nobody knows of one, and the promise stays for somebody to end.
absl::Status ReleaseOther(Session& session, const std::string& unit, const std::string& order,
                          Report& report) {
  const auto state = LookUpOrder(session, order);
  if (!state.ok()) {
    const bool unknown = state.status().code() == absl::StatusCode::kNotFound || session.away();
    return unknown ? absl::OkStatus() : state.status();
  }
  if (!state->has_promise() || state->promise().unit() == unit) return absl::OkStatus();
  v1::OrderHoldReleased& released = *report.Add()->mutable_order_hold_released();
  released.set_unit(state->promise().unit());
  released.set_order(order);
  released.set_reason(absl::StrCat(unit, " went out instead"));
  return absl::OkStatus();
}

absl::Status HandOver(Session& session, const Line& line) {
  absl::StatusOr<Report> report = Report::Begin(session);
  if (!report.ok()) return report.status();
  Values values(session);
  const absl::Status released = ReleaseOther(session, line.Arg("UNIT"), line.Arg("ORDER"), *report);
  if (!released.ok()) return released;
  v1::HandedOver& fact = *report->Add()->mutable_handed_over();
  fact.set_unit(line.Arg("UNIT"));
  fact.set_order(line.Arg("ORDER"));
  IfGiven(values.Hours("--meter"), [&](int64_t v) { fact.set_meter_s(v); });
  ReadKit(line, values, fact.mutable_kit());
  for (const std::string& v : line.All("--accessory")) fact.add_accessories(v);
  for (const std::string& v : line.All("--paper")) fact.add_papers(v);
  if (!ReadMotion(values, fact.mutable_motion())) fact.clear_motion();
  IfGiven(line.Get("--signed-by"), [&](const std::string& v) { fact.set_signed_by(v); });
  if (!values.status().ok()) return values.status();
  const auto seen = ReadAsSeen(session, *report, values, fact.unit());
  if (!seen.ok()) return seen.status();
  fact.set_unit_model(seen->model);
  fact.set_unit_side(seen->side);
  if (!values.status().ok()) return values.status();
  return report->Send(fact.unit(), kSetUpCaution);
}

absl::Status Exchange(Session& session, const Line& line) {
  absl::StatusOr<Report> report = Report::Begin(session);
  if (!report.ok()) return report.status();
  Values values(session);
  v1::Exchanged& fact = *report->Add()->mutable_exchanged();
  fact.set_order(line.Arg("ORDER"));
  fact.set_unit_out(line.Arg("OLD-UNIT"));
  fact.set_unit_in(line.Arg("NEW-UNIT"));
  fact.set_to_place(line.Arg("PLACE"));
  IfGiven(values.Hours("--old-meter"), [&](int64_t v) { fact.set_out_meter_s(v); });
  IfGiven(values.Hours("--new-meter"), [&](int64_t v) { fact.set_in_meter_s(v); });
  IfGiven(line.Get("--reason"), [&](const std::string& v) { fact.set_reason(v); });
  ReadKit(line, values, fact.mutable_kit());
  if (!ReadMotion(values, fact.mutable_motion())) fact.clear_motion();
  if (!values.status().ok()) return values.status();
  const auto seen = ReadAsSeen(session, *report, values, fact.unit_in());
  if (!seen.ok()) return seen.status();
  fact.set_unit_in_model(seen->model);
  fact.set_unit_in_side(seen->side);
  if (!values.status().ok()) return values.status();
  return report->Send(fact.unit_in(), kSetUpCaution);
}

absl::Status PickUp(Session& session, const Line& line) {
  absl::StatusOr<Report> report = Report::Begin(session);
  if (!report.ok()) return report.status();
  Values values(session);
  v1::PickedUp& fact = *report->Add()->mutable_picked_up();
  fact.set_unit(line.Arg("UNIT"));
  fact.set_to_place(line.Arg("PLACE"));
  fact.set_order(line.Get("--order").value_or(""));
  IfGiven(values.Hours("--meter"), [&](int64_t v) { fact.set_meter_s(v); });
  IfGiven(line.Get("--condition"), [&](const std::string& v) { fact.set_condition(v); });
  for (const std::string& v : line.All("--accessory")) fact.add_accessories(v);
  for (const std::string& v : line.All("--missing")) fact.add_missing(v);
  if (!values.status().ok()) return values.status();
  if (fact.order().empty()) {
    const auto unit = LookUpUnit(session, fact.unit());
    if (!unit.ok()) return unit.status();
    if (unit->order().empty()) {
      return absl::FailedPreconditionError(
          absl::StrCat("the records have ", fact.unit(),
                       " with no order; say whose home it left with --order ORDER"));
    }
    fact.set_order(unit->order());
    report->LookedUp("--order", fact.order());
  }
  return report->Send(fact.unit());
}

absl::Status FailedPickup(Session& session, const Line& line) {
  absl::StatusOr<Report> report = Report::Begin(session);
  if (!report.ok()) return report.status();
  v1::PickupFailed& fact = *report->Add()->mutable_pickup_failed();
  fact.set_order(line.Arg("ORDER"));
  fact.set_outcome(line.Arg("OUTCOME"));
  return report->Send();
}

absl::Status Precautions(Session& session, const Line& line) {
  absl::StatusOr<Report> report = Report::Begin(session);
  if (!report.ok()) return report.status();
  Values values(session);
  v1::PrecautionsNoted& fact = *report->Add()->mutable_precautions_noted();
  fact.set_order(line.Arg("ORDER"));
  for (const v1::Precaution one : values.AllIn<v1::Precaution>("WHAT")) fact.add_precautions(one);
  if (!values.status().ok()) return values.status();
  if (!line.Has("--because")) {
    return absl::InvalidArgumentError(
        "say what was seen, or why nothing is asked any more: --because TEXT; it stays in the "
        "ledger and stands on no paper and no agenda");
  }
  fact.set_because(*line.Get("--because"));
  return report->Send();
}

std::vector<Flag> HandOverFlags() {
  std::vector<Flag> flags = {
      kKitFlag,
      {"--accessory", "POSITION", "accessory handed over", true},
      {"--meter", "HOURS", "meter reading, 1234.5"},
      {"--paper", "WORD", "paper given, for instance instructions", true},
      {"--signed-by", "RELATION", "patient, spouse, ...; never the name"},
      {"--model", "MODEL", "model as read on the unit; default as recorded"},
      {"--seen-side", "SIDE", "side the unit was set up for; default as recorded", false,
       "left right either"},
  };
  AddMotionFlags(&flags);
  return flags;
}

std::vector<Flag> ExchangeFlags() {
  std::vector<Flag> flags = {
      {"--old-meter", "HOURS", "meter of the unit that comes away"},
      {"--new-meter", "HOURS", "meter of the unit that stays"},
      {"--reason", "TEXT", "what was wrong"},
      kKitFlag,
      {"--model", "MODEL", "model as read on the unit that stays; default as recorded"},
      {"--seen-side", "SIDE", "side it was set up for; default as recorded", false,
       "left right either"},
  };
  AddMotionFlags(&flags);
  return flags;
}

}  // namespace

void AddFieldCommands(Catalog* catalog) {
  constexpr auto kGroup = Group::kField;
  const Positional unit{"UNIT", "the unit's tag, as scanned"};
  catalog->push_back({"hand-over",
                      kGroup,
                      Kind::kRecords,
                      "hand a unit over to the patient",
                      {unit, kOrder},
                      HandOverFlags(),
                      "ferrule hand-over K-0417 R-2001 --kit pad-set=L5 --meter 1310.5 "
                      "--signed-by patient",
                      HandOver});
  catalog->push_back({"exchange",
                      kGroup,
                      Kind::kRecords,
                      "swap one unit for another in the home",
                      {kOrder,
                       {"OLD-UNIT", "the unit that comes away"},
                       {"NEW-UNIT", "the unit that stays"},
                       {"PLACE", "where the old unit is put, usually a van's soiled side"}},
                      ExchangeFlags(),
                      "ferrule exchange R-2001 K-0417 K-0502 van1-dirty --reason 'pendant dead'",
                      Exchange});
  catalog->push_back({"pick-up",
                      kGroup,
                      Kind::kRecords,
                      "fetch a unit from the home",
                      {unit, {"PLACE", "where it is put, usually a van's soiled side"}},
                      {{"--order", "ORDER", "whose home; default the order on the records"},
                       {"--meter", "HOURS", "meter reading, 1234.5"},
                       {"--accessory", "POSITION", "accessory counted at the door", true},
                       {"--missing", "POSITION", "accessory expected and not there", true},
                       {"--condition", "TEXT", "visible condition"}},
                      "ferrule pick-up K-0417 van1-dirty --meter 1355.0 --accessory pendant",
                      PickUp});
  catalog->push_back({"failed-pickup",
                      kGroup,
                      Kind::kRecords,
                      "report that a pick-up failed",
                      {kOrder, {"OUTCOME", "what happened, in quotes", Arity::kOptional}},
                      {},
                      "ferrule failed-pickup R-2001 'nobody home'",
                      FailedPickup});
  catalog->push_back(
      {"precautions",
       kGroup,
       Kind::kRecords,
       "say what whoever goes to a home does for safety there; --because stays in the ledger",
       {kOrder,
        {"WHAT",
         "all of it from now on: ring-first, two-together, gloves, bag-at-door, no-outlet, "
         "stay-outside; left out, nothing is asked any more",
         Arity::kMany}},
       {},
       "ferrule precautions R-2001 gloves bag-at-door --because 'insects in the room'",
       Precautions});
}

}  // namespace ferrule::cli
