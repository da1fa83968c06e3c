#include "core/papers/sheets.h"

#include <utility>
#include <vector>

#include "absl/strings/str_cat.h"
#include "core/fact/words.h"
#include "core/order/measures.h"
#include "core/order/motion_plan.h"
#include "core/papers/ladder.h"
#include "core/papers/precautions.h"
#include "core/time/civil.h"

namespace ferrule::papers {
namespace {

using Fields = std::vector<std::pair<std::string, std::string>>;

constexpr char kOrderRules[] =
    "The prescriber's order and the maker's instructions rule. Nothing on this sheet is a setting "
    "of its own: where the order says nothing, ring the prescriber and set nothing.";

std::string DayWords(const google::type::Date& date) {
  return time::IsValid(date) ? time::FormatDay(time::ToDay(date)) : "";
}

std::string SideOf(v1::Side side) {
  return side == v1::SIDE_UNSPECIFIED ? "" : std::string(fact::SideWords(side));
}

std::string BranchName(const OrderPaper& paper) {
  const std::string& id = paper.order.details().branch();
  const v1::Branch* branch = paper.rules.FindBranch(id);
  return branch == nullptr || branch->display_name().empty() ? id : branch->display_name();
}

std::string Subtitle(const OrderPaper& paper) {
  return absl::StrCat("Order ", paper.order.order(), ", branch ", BranchName(paper),
                      ", printed for ", time::FormatDay(paper.day));
}

// Whom it is for. The reference alone is in the records; the name is written by hand.
void AddPatient(const OrderPaper& paper, bool with_address, Page* page) {
  const v1::OrderDetails& d = paper.order.details();
  Fields fields = {{"Patient's reference", d.patient()}, {"Patient's name", ""}};
  if (with_address) {
    fields.push_back({"Address", ""});
    fields.push_back({"Telephone", ""});
  }
  page->Fields(fields);
}

void AddUnit(const OrderPaper& paper, Page* page) {
  const v1::UnitState* unit = paper.unit;
  const v1::Model* model = unit == nullptr ? nullptr : paper.rules.FindModel(unit->model());
  page->Fields({{"Device", paper.order.details().device_class()},
                {"Side", SideOf(paper.order.details().side())},
                {"Unit's tag", unit == nullptr ? "" : unit->unit()},
                {"Serial number", unit == nullptr ? "" : unit->serial()},
                {"Model", model == nullptr                ? ""
                          : model->display_name().empty() ? model->id()
                                                          : model->display_name()},
                {"Run hours", ""}});
}

// What goes along, by the model's parts list and the class's kit.
std::vector<std::vector<std::string>> GoesAlong(const OrderPaper& paper) {
  std::vector<std::vector<std::string>> rows;
  const v1::Model* model =
      paper.unit == nullptr ? nullptr : paper.rules.FindModel(paper.unit->model());
  if (model != nullptr) {
    for (const v1::PartPosition& position : model->parts()) {
      std::string number;
      for (const v1::PartIn& part : paper.unit->parts()) {
        if (part.position() == position.position()) number = part.part();
      }
      rows.push_back({position.position(), number});
    }
  }
  const v1::DeviceClass* device_class =
      paper.rules.FindDeviceClass(paper.order.details().device_class());
  if (device_class != nullptr) {
    for (const std::string& item : device_class->kit_items()) {
      rows.push_back({absl::StrCat(item, " (soft goods, for this patient alone)"), "lot:"});
    }
  }
  return rows;
}

std::string Degrees(bool given, double value) { return given ? absl::StrCat(value, " deg") : ""; }

std::string TimeWords(int64_t seconds) {
  return absl::StrCat(static_cast<double>(seconds) / 3600.0, " h a day");
}

Fields MotionFields(const v1::Motion& m) {
  return {
      {"Extension limit", Degrees(m.has_extension_deg(), m.extension_deg())},
      {"Flexion limit", Degrees(m.has_flexion_deg(), m.flexion_deg())},
      {"Speed", m.has_speed_deg_per_min() ? absl::StrCat(m.speed_deg_per_min(), " deg/min") : ""},
      {"Pause at each end", m.has_pause_s() ? absl::StrCat(m.pause_s(), " s") : ""},
      {"Use", m.has_daily_use_s() ? TimeWords(m.daily_use_s()) : ""}};
}

void AddSession(const v1::SessionFigures& s, Page* page) {
  std::string text = absl::StrCat("By the order, one cycle over ", s.arc_deg(), " degrees takes ",
                                  static_cast<double>(s.cycle_ms()) / 1000.0,
                                  " s: ", static_cast<double>(s.cycles_per_hour_tenths()) / 10.0,
                                  " cycles an hour");
  if (s.daily_cycle_count() > 0) absl::StrAppend(&text, ", ", s.daily_cycle_count(), " a day");
  page->Paragraph(absl::StrCat(text, "."));
}

void AddMotion(const OrderPaper& paper, Page* page) {
  const v1::GetMotionPlanResponse plan = order::MotionPlan(paper.order, paper.day, paper.rules);
  page->Heading(absl::StrCat("Limits of ", time::FormatDay(paper.day), " by the order"));
  Fields fields = MotionFields(plan.limits());
  fields.push_back({"Day of the progression",
                    plan.has_day_number()
                        ? absl::StrCat(plan.day_number(), plan.capped() ? " (end reached)" : "")
                        : "none is ordered"});
  page->Fields(fields);
  if (plan.has_ordered_session()) AddSession(plan.ordered_session(), page);
  if (!plan.missing().empty()) {
    std::vector<std::string> lines = {"Not given by the order: ring the prescriber, set nothing."};
    for (const std::string& missing : plan.missing()) lines.push_back(missing);
    page->Caution(lines);
  }
  if (!plan.warnings().empty()) {
    std::vector<std::string> lines = {"Ask the prescriber:"};
    for (const std::string& warning : plan.warnings()) lines.push_back(warning);
    page->Caution(lines);
  }
}

void AddMeasures(const OrderPaper& paper, Page* page) {
  page->Heading("Measures");
  Fields fields;
  for (const order::Measure& m : order::MeasuresTaken(paper.order.details().measures())) {
    fields.push_back(
        {absl::StrCat("Ordered: ", std::string(order::MeasureWords(m.kind))), m.words});
  }
  for (const char* set : {"Set: thigh length", "Set: shank length", "Foot (straight, in, out)",
                          "Foot at a right angle?"}) {
    fields.push_back({set, ""});
  }
  page->Fields(fields);
  if (!paper.order.details().measures().side_note().empty()) {
    page->Paragraph(absl::StrCat("To mind: ", paper.order.details().measures().side_note()));
  }
}

std::vector<std::vector<std::string>> CallRows(const v1::GetAgendaResponse& agenda) {
  std::vector<std::vector<std::string>> rows;
  for (const v1::AgendaItem& item : agenda.items()) {
    if (item.kind() != v1::AGENDA_KIND_CALL) continue;
    rows.push_back({item.order(), item.patient(), DayWords(item.since_date()), item.text()});
  }
  return rows;
}

const char* KindWords(v1::AgendaKind kind) {
  switch (kind) {
    case v1::AGENDA_KIND_DELIVERY:
      return "deliver";
    case v1::AGENDA_KIND_PICKUP:
      return "pick up";
    case v1::AGENDA_KIND_DUE:
      return "due";
    case v1::AGENDA_KIND_CALL:
      return "ring";
    case v1::AGENDA_KIND_LADDER:
      return "next step";
    case v1::AGENDA_KIND_CHECK:
      return "look at";
    default:
      return "";
  }
}

// Whoever goes there knows how often it was in vain.
void AddTried(const OrderPaper& paper, Page* page) {
  const absl::TimeZone zone = paper.rules.ZoneOf(paper.order.details().branch());
  const auto next = NextStepOf(paper.order, paper.rules.settings().contact_policy(), zone);
  const std::string tried = next && next->by ? next->text : FailedPickups(paper.order, zone);
  if (!tried.empty()) page->Caution({"Tried before", absl::StrCat(tried, ".")});
}

void AddPrecautions(const OrderPaper& paper, Page* page) {
  if (paper.order.precautions().empty()) return;
  std::vector<std::string> lines = {"Precautions for whoever goes there"};
  for (const int one : paper.order.precautions()) {
    lines.push_back(PrecautionSentence(static_cast<v1::Precaution>(one)));
  }
  page->Caution(lines);
}

void AddNotRung(const v1::GetAgendaResponse& agenda, Page* page) {
  if (agenda.not_rung().empty()) return;
  std::vector<std::string> lines = {"Not to be rung:"};
  for (const std::string& line : agenda.not_rung()) lines.push_back(line);
  page->Caution(lines);
}

}  // namespace

std::string_view BasisWords(v1::DueBasis basis) {
  switch (basis) {
    case v1::DUE_BASIS_AGREED_PICKUP:
      return "the agreed pick-up";
    case v1::DUE_BASIS_PRESCRIPTION_END:
      return "the end of the prescription";
    case v1::DUE_BASIS_AUTHORISATION_END:
      return "the end of the authorisation";
    case v1::DUE_BASIS_COVER_END:
      return "the end of cover";
    default:
      return "an end that is not stated";
  }
}

Page DeliveryTicket(const OrderPaper& paper) {
  Page page("Delivery ticket", Subtitle(paper));
  AddPatient(paper, true, &page);
  AddPrecautions(paper, &page);
  page.Heading("What is delivered");
  AddUnit(paper, &page);
  page.Table({"With it", "Number or lot", "Pieces", "Seen by the patient"}, GoesAlong(paper));
  page.Heading("Papers given");
  page.Boxes({"Written instructions", "How to stop the device", "Telephone for day and night",
              "Rights and how to complain", "What is owed, if anything", "Warranty information"});
  page.Caution(
      {"Before it is used", kOrderRules, "Nobody uses it before it was set up and taught."});
  page.Caution({"Who may sign",
                "The patient, or somebody for the patient whose relationship is written below. "
                "Nobody who works for the depot or is paid by it signs for the patient. The day is "
                "written by the signer."});
  page.Paragraph(
      "I have received what is listed above. It was shown to me, and I was told how to "
      "stop it and whom to ring.");
  page.SignHere({"Signature", "Relationship to the patient (patient, spouse, ...)",
                 "Day, written by the signer", "Brought by (depot)"});
  return page;
}

Page SetUpSheet(const OrderPaper& paper) {
  Page page("Set-up sheet", Subtitle(paper));
  page.Caution({"Before anything is set", kOrderRules,
                "Stop and ring the prescriber at more pain, numbness, bleeding, an open or pressed "
                "skin, or a swelling that grows. Local codes and licensed practice decide who may "
                "fit and teach."});
  AddPrecautions(paper, &page);
  page.Fields({{"Patient's reference", paper.order.details().patient()},
               {"Procedure", paper.order.details().procedure()},
               {"Day of the operation", DayWords(paper.order.details().surgery_date())},
               {"Prescriber", paper.order.details().prescriber()}});
  AddUnit(paper, &page);
  AddMotion(paper, &page);
  AddMeasures(paper, &page);
  page.Heading("Fit and check (common practice, no source)");
  page.Boxes({"Right patient, by two identifiers", "Right side",
              "Grounded outlet, cord no trip hazard", "Hinge on the joint line",
              "Straps hold and do not press", "Skin seen, before and after", "Two cycles run empty",
              "Cycles run with the limb: ____", "A stop holds; the restart goes back",
              "Patient's controls limited, others locked"});
  page.Heading("Teaching");
  page.Boxes({"Patient or helper stopped the device alone", "Told the signs to stop at",
              "Whom to ring, day and night: ____________",
              "Guide left: ____  version ____  language ____"});
  page.SignHere({"Set up and taught by", "Shown back by (patient or helper, relationship)"});
  return page;
}

Page PickupTicket(const OrderPaper& paper) {
  Page page("Pick-up ticket", Subtitle(paper));
  AddPatient(paper, true, &page);
  AddUnit(paper, &page);
  AddPrecautions(paper, &page);
  AddTried(paper, &page);
  page.Heading("Counted at the door");
  std::vector<std::vector<std::string>> rows;
  for (const std::string& accessory : paper.order.accessories()) rows.push_back({accessory, "yes"});
  if (rows.empty()) {
    for (std::vector<std::string>& row : GoesAlong(paper)) {
      if (row[1] != "lot:") rows.push_back({row[0], "by the parts list"});
    }
  }
  page.Table({"Expected", "Left at the hand-over", "There", "Missing or broken"}, rows);
  for (const std::string& item : paper.order.kit_left()) {
    page.Paragraph(absl::StrCat(item,
                                ": stays with the patient or goes into the patient's own bin; "
                                "it never comes back into stock."));
  }
  page.Heading("As found");
  page.Boxes({"Works", "Damaged", "Visible soil wiped", "Blood or body fluid: quarantine",
              "Insects: bagged and sealed at the door",
              "Injury or burn alleged: leave it as it is, "
              "uncleaned, and ring compliance"});
  page.Caution(
      {"It is soiled from here on",
       "Bag it, tag it as soiled, carry it apart from clean goods, and put it on the dirty "
       "side. It goes to nobody before it was cleaned and inspected."});
  page.SignHere({"Given back by (relationship)", "Day and time", "Picked up by (depot)",
                 "Why it could not be picked up"});
  return page;
}

Page CallList(const v1::GetAgendaResponse& agenda, const std::string& branch_name) {
  Page page("Call list", absl::StrCat("Branch ", branch_name, ", ", DayWords(agenda.date())));
  page.Table({"Order", "Patient's reference", "Since", "What for", "Reached?", "What was said"},
             CallRows(agenda));
  AddNotRung(agenda, &page);
  page.Caution({"On the telephone", kOrderRules,
                "Pain, numbness, bleeding, skin trouble or a fall: the call goes to the prescriber "
                "at once; it is no question of settings."});
  return page;
}

Page Agenda(const v1::GetAgendaResponse& agenda, const std::string& branch_name) {
  Page page("Agenda", absl::StrCat("Branch ", branch_name, ", ", DayWords(agenda.date())));
  std::vector<std::vector<std::string>> rows;
  for (const v1::AgendaItem& item : agenda.items()) {
    std::string missing;
    for (const std::string& m : item.missing())
      absl::StrAppend(&missing, missing.empty() ? "" : "; ", m);
    rows.push_back({KindWords(item.kind()), item.order(), item.unit(), DayWords(item.since_date()),
                    item.text(), missing, fact::PrecautionList(item.precautions())});
  }
  page.Table({"What", "Order", "Unit", "Since", "To do", "Missing", "Precautions", "Done"}, rows);
  AddNotRung(agenda, &page);
  page.Caution({"On the way", kOrderRules,
                "Clean and soiled goods travel apart. What came back goes to nobody before it was "
                "cleaned and inspected."});
  return page;
}

}  // namespace ferrule::papers
