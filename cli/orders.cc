// Intake and dispatch: orders are taken, changed and cancelled; units are reserved for them.
#include <algorithm>

#include "absl/strings/str_cat.h"
#include "cli/catalog.h"
#include "cli/fit_flags.h"
#include "cli/look_up.h"
#include "cli/motion_flags.h"
#include "cli/report.h"
#include "cli/values.h"
#include "core/time/civil.h"

namespace ferrule::cli {
namespace {

const Positional kOrder{"ORDER", "the order's number"};
const Positional kUnit{"UNIT", "the unit's tag"};

constexpr const char* kServicing = "servicing branch; its time zone is used";

std::vector<Flag> DetailFlags() {
  std::vector<Flag> flags = {
      {"--patient", "REF", "the patient's opaque reference; never the name"},
      {"--prescriber", "REF", "the prescriber's reference"},
      {"--facility", "REF", "facility of the operation"},
      {"--branch", "BRANCH", kServicing},
      {"--class", "CLASS", "class of device, for instance knee"},
      {"--side", "SIDE", "side of the body", false, "left right either"},
      {"--procedure", "TEXT", "procedure, in the sender's words or code"},
      {"--surgery", "DAY", "day of the operation"},
      {"--discharge", "DAY", "planned day of discharge"},
      {"--needed", "DAY", "day by which the unit must be in the home"},
      {"--days", "N", "days of use prescribed; also P21D or P3W"},
      {"--signed", "DAY", "day on which the written order was signed"},
      {"--authorised-through", "DAY", "last day of the payer's authorisation"},
      {"--covered-through", "DAY", "last day of cover, where it is known"},
      {"--payer", "PAYER", "payer, from the settings"},
      {"--payer-from", "DAY", "first day for which that payer answers"},
      {"--surgery-time", "TIME", "when the operation takes place, where a payer counts hours"},
      {"--procedure-code", "CODE", "procedure as a code, from the settings"},
      {"--joint", "WORD", "joint that the prescriber names"},
      {"--patient-side", "SIDE", "side that the patient names", false, "left right"},
      {"--belongs-to", "ORDER", "earlier order that this one belongs to"},
      {"--as-link", "WORD", "what it is to the earlier one", false, "second-side rebooked further"},
      {"--notice", "DAY", "day on which the patient was told in writing what is not paid"},
      {"--sender-version", "N", "the sender's version of the order"},
  };
  AddMotionFlags(&flags);
  AddFitFlags(&flags);
  return flags;
}

void ReadDetails(const Line& line, Values& values, v1::OrderDetails* details) {
  IfGiven(line.Get("--patient"), [&](const std::string& v) { details->set_patient(v); });
  IfGiven(line.Get("--prescriber"), [&](const std::string& v) { details->set_prescriber(v); });
  IfGiven(line.Get("--facility"), [&](const std::string& v) { details->set_facility(v); });
  IfGiven(line.Get("--branch"), [&](const std::string& v) { details->set_branch(v); });
  IfGiven(line.Get("--class"), [&](const std::string& v) { details->set_device_class(v); });
  IfGiven(values.OneOf<v1::Side>("--side"), [&](v1::Side v) { details->set_side(v); });
  IfGiven(line.Get("--procedure"), [&](const std::string& v) { details->set_procedure(v); });
  using google::type::Date;
  IfGiven(values.Day("--surgery"), [&](const Date& v) { *details->mutable_surgery_date() = v; });
  IfGiven(values.Day("--discharge"),
          [&](const Date& v) { *details->mutable_discharge_date() = v; });
  IfGiven(values.Day("--needed"), [&](const Date& v) { *details->mutable_needed_date() = v; });
  IfGiven(values.Day("--signed"), [&](const Date& v) { *details->mutable_signed_date() = v; });
  IfGiven(values.Day("--authorised-through"),
          [&](const Date& v) { *details->mutable_authorisation_end_date() = v; });
  IfGiven(values.Day("--covered-through"),
          [&](const Date& v) { *details->mutable_cover_end_date() = v; });
  IfGiven(values.DayCount("--days"), [&](int64_t v) {
    details->set_length_of_need_days(static_cast<int32_t>(std::clamp<int64_t>(v, -1, INT32_MAX)));
  });
  IfGiven(line.Get("--payer"), [&](const std::string& v) { details->set_payer(v); });
  IfGiven(values.Day("--payer-from"),
          [&](const Date& v) { *details->mutable_payer_from_date() = v; });
  IfGiven(values.Instant("--surgery-time"),
          [&](int64_t v) { time::SetMicros(v, details->mutable_surgery_time()); });
  IfGiven(line.Get("--procedure-code"),
          [&](const std::string& v) { details->set_procedure_code(v); });
  IfGiven(line.Get("--joint"), [&](const std::string& v) { details->set_joint(v); });
  IfGiven(values.OneOf<v1::Side>("--patient-side"),
          [&](v1::Side v) { details->set_patient_side(v); });
  IfGiven(line.Get("--belongs-to"), [&](const std::string& v) { details->set_linked_order(v); });
  IfGiven(values.OneOf<v1::OrderLink>("--as-link"),
          [&](v1::OrderLink v) { details->set_order_link(v); });
  IfGiven(values.Day("--notice"), [&](const Date& v) { *details->mutable_notice_date() = v; });
  ReadMotion(values, details->mutable_motion());
  if (details->motion().ByteSizeLong() == 0) details->clear_motion();
  ReadFit(line, values, details);
}

absl::Status TakeOrder(Session& session, const Line& line) {
  absl::StatusOr<Report> report = Report::Begin(session);
  if (!report.ok()) return report.status();
  Values values(session);
  v1::OrderTaken& fact = *report->Add()->mutable_order_taken();
  fact.set_order(line.Arg("ORDER"));
  ReadDetails(line, values, fact.mutable_details());
  if (const auto branch = line.GetOrEnv("--branch", "FERRULE_BRANCH")) {
    fact.mutable_details()->set_branch(*branch);
    report->LookedUp("--branch", *branch);
  }
  IfGiven(line.Get("--sender-ref"), [&](const std::string& v) { fact.set_sender_reference(v); });
  IfGiven(values.Whole("--sender-version"), [&](int64_t v) { fact.set_sender_version(v); });
  if (!values.status().ok()) return values.status();
  return report->Send();
}

absl::Status ChangeOrder(Session& session, const Line& line) {
  absl::StatusOr<Report> report = Report::Begin(session);
  if (!report.ok()) return report.status();
  Values values(session);
  v1::OrderChanged& fact = *report->Add()->mutable_order_changed();
  fact.set_order(line.Arg("ORDER"));
  ReadDetails(line, values, fact.mutable_details());
  IfGiven(values.Whole("--sender-version"), [&](int64_t v) { fact.set_sender_version(v); });
  if (!values.status().ok()) return values.status();
  if (fact.details().ByteSizeLong() == 0) {
    return absl::InvalidArgumentError(
        "say what changes, for instance --needed 2026-11-30; ferrule help change-order lists it");
  }
  return report->Send();
}

// The hold falls with the order, in the same entry, so that the unit is never promised to nothing.
absl::Status CancelOrder(Session& session, const Line& line) {
  absl::StatusOr<Report> report = Report::Begin(session);
  if (!report.ok()) return report.status();
  Values values(session);
  const std::string order = line.Arg("ORDER");
  const std::string reason = line.Get("--reason").value_or("");
  std::string unit;
  const auto state = LookUpOrder(session, order);
  if (!state.ok() && state.status().code() != absl::StatusCode::kNotFound) return state.status();
  if (state.ok() && state->status() == v1::ORDER_STATUS_HELD) {
    unit = state->unit();
    v1::OrderHoldReleased& released = *report->Add()->mutable_order_hold_released();
    released.set_unit(unit);
    released.set_order(order);
    released.set_reason(reason.empty() ? "order cancelled" : reason);
  }
  if (state.ok() && state->has_promise() && state->promise().unit() != unit) {
    v1::OrderHoldReleased& released = *report->Add()->mutable_order_hold_released();
    released.set_unit(state->promise().unit());
    released.set_order(order);
    released.set_reason(reason.empty() ? "order cancelled" : reason);
  }
  v1::OrderCancelled& fact = *report->Add()->mutable_order_cancelled();
  fact.set_order(order);
  fact.set_reason(reason);
  IfGiven(values.Whole("--sender-version"), [&](int64_t v) { fact.set_sender_version(v); });
  if (!values.status().ok()) return values.status();
  return report->Send(unit);
}

absl::Status Reserve(Session& session, const Line& line) {
  absl::StatusOr<Report> report = Report::Begin(session);
  if (!report.ok()) return report.status();
  Values values(session);
  v1::UnitHeldForOrder& fact = *report->Add()->mutable_unit_held_for_order();
  fact.set_unit(line.Arg("UNIT"));
  fact.set_order(line.Arg("ORDER"));
  fact.set_firm(line.Has("--firm"));
  IfGiven(values.Instant("--until"),
          [&](int64_t v) { time::SetMicros(v, fact.mutable_until_time()); });
  if (!values.status().ok()) return values.status();
  return report->Send(fact.unit());
}

absl::Status Release(Session& session, const Line& line) {
  absl::StatusOr<Report> report = Report::Begin(session);
  if (!report.ok()) return report.status();
  v1::OrderHoldReleased& fact = *report->Add()->mutable_order_hold_released();
  fact.set_unit(line.Arg("UNIT"));
  fact.set_order(line.Get("--order").value_or(""));
  IfGiven(line.Get("--reason"), [&](const std::string& v) { fact.set_reason(v); });
  if (fact.order().empty()) {
    const auto unit = LookUpUnit(session, fact.unit());
    if (!unit.ok()) return unit.status();
    if (unit->order().empty() && unit->promises_size() == 1) {
      fact.set_order(unit->promises(0).order());
    } else if (unit->order().empty()) {
      return absl::FailedPreconditionError(
          absl::StrCat(fact.unit(), " is held for no order on the records; ferrule show ",
                       fact.unit(), " tells what it is doing"));
    }
    if (fact.order().empty()) fact.set_order(unit->order());
    report->LookedUp("--order", fact.order());
  }
  return report->Send(fact.unit());
}

absl::Status Extend(Session& session, const Line& line) {
  absl::StatusOr<Report> report = Report::Begin(session);
  if (!report.ok()) return report.status();
  Values values(session);
  v1::OrderExtended& fact = *report->Add()->mutable_order_extended();
  fact.set_order(line.Arg("ORDER"));
  *fact.mutable_through_date() = values.DayIn("THROUGH");
  IfGiven(values.Day("--signed"),
          [&](const google::type::Date& v) { *fact.mutable_signed_date() = v; });
  IfGiven(values.Day("--from"),
          [&](const google::type::Date& v) { *fact.mutable_from_date() = v; });
  if (!values.status().ok()) return values.status();
  return report->Send();
}

absl::Status AgreePickup(Session& session, const Line& line) {
  absl::StatusOr<Report> report = Report::Begin(session);
  if (!report.ok()) return report.status();
  Values values(session);
  v1::PickupAgreed& fact = *report->Add()->mutable_pickup_agreed();
  fact.set_order(line.Arg("ORDER"));
  *fact.mutable_pickup_date() = values.DayIn("DAY");
  if (!values.status().ok()) return values.status();
  return report->Send();
}

}  // namespace

void AddOrderCommands(Catalog* catalog) {
  constexpr auto kGroup = Group::kOrders;
  static const std::string or_set = absl::StrCat(kServicing, " (or FERRULE_BRANCH)");
  std::vector<Flag> taken = DetailFlags();
  for (Flag& flag : taken) {
    if (flag.name == "--branch") flag.help = or_set;
  }
  taken.push_back({"--sender-ref", "REF", "the sender's own number for the order"});
  catalog->push_back({"take-order",
                      kGroup,
                      Kind::kRecords,
                      "take an order; it may be incomplete",
                      {kOrder},
                      taken,
                      "ferrule take-order R-2001 --branch north --class knee --side left --days 21 "
                      "--needed tomorrow",
                      TakeOrder});
  catalog->push_back({"change-order",
                      kGroup,
                      Kind::kRecords,
                      "change what an order says",
                      {kOrder},
                      DetailFlags(),
                      "ferrule change-order R-2001 --surgery 2026-12-03",
                      ChangeOrder});
  catalog->push_back({"cancel-order",
                      kGroup,
                      Kind::kRecords,
                      "cancel an order and release the unit held for it",
                      {kOrder},
                      {{"--reason", "TEXT", "why"},
                       {"--sender-version", "N", "the sender's version of the order"}},
                      "ferrule cancel-order R-2001 --reason 'operation called off'",
                      CancelOrder});
  catalog->push_back({"reserve",
                      kGroup,
                      Kind::kRecords,
                      "keep a unit for an order",
                      {kUnit, kOrder},
                      {{"--firm", "", "a firm promise; without it the unit may be taken back"},
                       {"--until", "TIME", "when the hold lapses by itself; default never"}},
                      "ferrule reserve K-0417 R-2001 --firm",
                      Reserve});
  catalog->push_back({"release",
                      kGroup,
                      Kind::kRecords,
                      "give a reserved unit free",
                      {kUnit},
                      {{"--order", "ORDER", "the order; default the one on the records"},
                       {"--reason", "TEXT", "why"}},
                      "ferrule release K-0417",
                      Release});
  catalog->push_back({"extend",
                      kGroup,
                      Kind::kRecords,
                      "extend a prescription",
                      {kOrder, {"THROUGH", "new last day, inclusive"}},
                      {{"--signed", "DAY", "day on which the extension was signed"},
                       {"--from", "DAY", "first day; default it follows on what was prescribed"}},
                      "ferrule extend R-2001 2026-12-24 --signed today",
                      Extend});
  catalog->push_back({"agree-pickup",
                      kGroup,
                      Kind::kRecords,
                      "agree the pick-up day",
                      {kOrder, {"DAY", "the day, local to the branch"}},
                      {},
                      "ferrule agree-pickup R-2001 tomorrow",
                      AgreePickup});
}

}  // namespace ferrule::cli
