#include "cli/render_order.h"

#include "absl/strings/str_cat.h"
#include "cli/render_words.h"
#include "core/fact/counted.h"
#include "core/fact/words.h"

namespace ferrule::cli {
namespace {

void AddDetails(const v1::OrderDetails& details, Fields* fields) {
  fields->Add("patient", details.patient());
  fields->Add("prescriber", details.prescriber());
  fields->Add("facility", details.facility());
  fields->Add("branch", details.branch());
  fields->Add("class", details.device_class());
  fields->Add("side", Word(details.side()));
  fields->Add("procedure", details.procedure());
  fields->Add("surgery", Day(details.surgery_date()));
  fields->Add("discharge", Day(details.discharge_date()));
  fields->Add("needed", Day(details.needed_date()));
  if (details.has_length_of_need_days()) {
    fields->Add("days of use", absl::StrCat(details.length_of_need_days()));
  }
  fields->Add("motion ordered", MotionWords(details.motion()));
  fields->Add("signed", Day(details.signed_date()));
  fields->Add("authorised through", Day(details.authorisation_end_date()));
  fields->Add("covered through", Day(details.cover_end_date()));
  fields->Add("payer", details.payer());
  fields->Add("procedure code", details.procedure_code());
  fields->Add("joint", details.joint());
  fields->Add("the patient says", Word(details.patient_side()));
  if (!details.linked_order().empty()) {
    fields->Add("belongs to",
                absl::StrCat(details.linked_order(), " ", Word(details.order_link())));
  }
  fields->Add("told of what is not paid", Day(details.notice_date()));
}

// What to do for safety there, never why.
void AddPrecautions(const v1::OrderState& order, absl::TimeZone zone, Fields* fields) {
  if (!order.has_precautions_noted()) return;
  const std::string list = fact::PrecautionList(order.precautions());
  fields->Add("precautions", absl::StrCat(list.empty() ? "none any more" : list, ", ",
                                          StampWords(order.precautions_noted(), zone)));
}

// Breakdowns in the home, what keeps the records, and to whom they were given.
void AddRecords(const v1::OrderState& order, absl::TimeZone zone, Fields* fields) {
  for (const v1::Breakdown& breakdown : order.breakdowns()) {
    fields->Add("breakdown",
                absl::StrCat(breakdown.words(), ", ", StampWords(breakdown.reported(), zone),
                             breakdown.has_settled() ? ", works again " : ", not settled",
                             StampWords(breakdown.settled(), zone)));
  }
  for (const v1::RecordsHold& hold : order.records_holds()) {
    fields->Add(
        "records held",
        absl::StrCat(hold.matter(), ", ", hold.because(), ", ", StampWords(hold.held(), zone),
                     hold.has_released() ? ", released " : "", StampWords(hold.released(), zone)));
  }
  for (const v1::Disclosure& disclosure : order.disclosures()) {
    fields->Add("disclosed", absl::StrCat(disclosure.content(), " to ", disclosure.recipient(),
                                          ", ", StampWords(disclosure.disclosed(), zone)));
  }
}

// What became of the order: papers, the patient's stays, use, authorisations, bills.
void AddLife(const v1::OrderState& order, Fields* fields) {
  for (const v1::OrderPaper& paper : order.papers()) {
    fields->Add(paper.stops() ? "stopped through" : "extended through",
                absl::StrCat(Day(paper.through_date()),
                             paper.has_from_date() ? " from " + Day(paper.from_date()) : ""));
  }
  for (const v1::PatientStay& stay : order.stays()) {
    fields->Add("patient", absl::StrCat(Word(stay.stay()), " from ", Day(stay.from_date()),
                                        stay.because().empty() ? "" : ", " + stay.because()));
  }
  for (const v1::UsePoint& point : order.uses()) {
    fields->Add("use", absl::StrCat(Word(point.change()), " ", Day(point.date())));
  }
  for (const v1::Authorisation& a : order.authorisations()) {
    fields->Add(
        "authorisation",
        absl::StrCat(
            a.number(), ", ", Day(a.from_date()), " through ", Day(a.through_date()),
            a.unit_count() > 0 ? ", " + fact::Counted(a.unit_count(), "unit", "units") : ""));
  }
  for (const v1::Confirmation& c : order.confirmations()) {
    fields->Add("confirmed",
                absl::StrCat(Word(c.kind()), " (", c.value(), ") by ", c.confirmed_by()));
  }
  for (const v1::BilledDays& billed : order.billed()) {
    fields->Add("billed", absl::StrCat(billed.claim(), ", ", Day(billed.from_date()), " through ",
                                       Day(billed.through_date()), ", ", billed.unit_count(),
                                       billed.correction() ? " units, a correction" : " units"));
  }
}

}  // namespace

Fields OrderFields(const v1::GetOrderResponse& answer, absl::TimeZone zone) {
  const v1::OrderState& order = answer.state().order();
  Fields fields;
  fields.Add("status", Word(order.status()));
  fields.Add("since", StampWords(order.status_since(), zone));
  fields.Add("unit", order.unit());
  if (order.has_promise()) {
    fields.Add("promised",
               absl::StrCat(order.promise().unit(), ", ", PromiseWords(order.promise())));
  }
  fields.Add("waits since", Local(order.waiting().noted().time(), zone));
  AddDetails(order.details(), &fields);
  fields.Add("sender's number", order.sender_reference());
  if (order.sender_version() != 0) {
    fields.Add("sender's version", absl::StrCat(order.sender_version()));
  }
  fields.Add("taken", StampWords(order.taken(), zone));
  fields.Add("handed over", StampWords(order.handed_over(), zone));
  fields.Add("motion set", MotionWords(order.motion_set()));
  for (const v1::RentalLeg& leg : order.legs()) {
    const std::string to = leg.has_to() ? StampWords(leg.to(), zone) : "still out";
    fields.Add("rental leg",
               absl::StrCat(leg.unit(), ", ", StampWords(leg.from(), zone), " to ", to));
  }
  AddPrecautions(order, zone, &fields);
  AddLife(order, &fields);
  AddRecords(order, zone, &fields);
  fields.Add("pick-up agreed", Day(order.pickup_date()));
  if (order.failed_pickup_count() > 0) {
    fields.Add("failed pick-ups", absl::StrCat(order.failed_pickup_count()));
  }
  fields.Add("cancelled because", order.cancel_reason());
  for (const v1::RentalEnd& end : answer.ends()) fields.Add(Word(end.basis()), Day(end.date()));
  if (answer.has_due()) {
    fields.Add("due", absl::StrCat(Day(answer.due().date()), " by ", Word(answer.due().basis())));
  }
  for (const std::string& missing : answer.missing_to_go_out()) {
    fields.Add("missing to go out", missing);
  }
  return fields;
}

Table OrderTable(const google::protobuf::RepeatedPtrField<v1::OrderRow>& orders) {
  Table table({{"order"},
               {"branch"},
               {"device_class"},
               {"status"},
               {"unit"},
               {"needed_date"},
               {"due_date"},
               {"due_basis"}});
  for (const v1::OrderRow& row : orders) {
    table.Add({row.order(), row.branch(), row.device_class(), Word(row.status()), row.unit(),
               Day(row.needed_date()), Day(row.due_date()), Word(row.due_basis())});
  }
  return table;
}

Table DueTable(const google::protobuf::RepeatedPtrField<v1::DueRow>& rows) {
  Table table({{"branch"},
               {"order"},
               {"unit"},
               {"device_class"},
               {"due_date"},
               {"basis"},
               {"overdue_days", true},
               {"failed_pickup_count", true}});
  for (const v1::DueRow& row : rows) {
    table.Add({row.branch(), row.order(), row.unit(), row.device_class(), Day(row.due_date()),
               Word(row.basis()), absl::StrCat(row.overdue_days()),
               absl::StrCat(row.failed_pickup_count())});
  }
  return table;
}

Table BoardTable(const google::protobuf::RepeatedPtrField<v1::BoardRow>& rows) {
  Table table({{"branch"},
               {"device_class"},
               {"unit_count", true},
               {"ready_count", true},
               {"held_count", true},
               {"on_rent_count", true},
               {"soiled_count", true},
               {"to_inspect_count", true},
               {"in_repair_count", true},
               {"blocked_count", true},
               {"unaccounted_count", true},
               {"due_today_count", true},
               {"overdue_count", true},
               {"waiting_count", true}});
  for (const v1::BoardRow& row : rows) {
    std::vector<std::string> cells = {row.branch(), row.device_class()};
    for (const int32_t count : {row.unit_count(), row.ready_count(), row.held_count(),
                                row.on_rent_count(), row.soiled_count(), row.to_inspect_count(),
                                row.in_repair_count(), row.blocked_count(), row.unaccounted_count(),
                                row.due_today_count(), row.overdue_count(), row.waiting_count()}) {
      cells.push_back(absl::StrCat(count));
    }
    table.Add(std::move(cells));
  }
  return table;
}

}  // namespace ferrule::cli
