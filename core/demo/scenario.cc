#include "core/demo/scenario.h"

#include <algorithm>
#include <array>
#include <initializer_list>
#include <optional>
#include <tuple>
#include <utility>

#include "absl/strings/ascii.h"
#include "absl/strings/str_cat.h"
#include "absl/strings/str_replace.h"

namespace ferrule::demo {
namespace {

constexpr std::string_view kChosen = "chosen freely for the synthetic depot";
constexpr std::string_view kElectricalSource =
    "IEC 62353 limits as two public secondary texts give them, the standard itself not read; "
    "mechanical limits: common practice, no source. The maker's instructions, local codes and "
    "licensed practice rule";

constexpr std::array kKneeCourses = {Course{14, 0.2}, Course{17, 0.15}, Course{21, 0.5},
                                     Course{28, 0.15}};
constexpr std::array kShoulderCourses = {Course{21, 0.25}, Course{28, 0.45}, Course{42, 0.3}};
constexpr std::array kElbowCourses = {Course{21, 0.4}, Course{28, 0.4}, Course{42, 0.2}};
constexpr std::array kAnkleCourses = {Course{14, 0.3}, Course{21, 0.5}, Course{28, 0.2}};

// Angles and speeds only need to be plausible to a reader; they are no guidance for anybody.
constexpr std::array kClasses = {
    ClassTraits{"knee", 0.60, kKneeCourses, "total knee replacement", 0, 90, 120, 120, true},
    ClassTraits{"shoulder", 0.22, kShoulderCourses, "rotator cuff repair", 0, 70, 150, 100, false},
    ClassTraits{"elbow", 0.09, kElbowCourses, "elbow release", 10, 100, 135, 90, false},
    ClassTraits{"ankle", 0.09, kAnkleCourses, "ankle ligament repair", -10, 15, 30, 60, false},
};

constexpr int64_t kTenThousandHours = 36'000'000;
constexpr int64_t kThousandHours = 3'600'000;

constexpr std::array kModels = {
    ModelTraits{"knee-a", "KA", 0, 0.65, kTenThousandHours, 420'000, true},
    ModelTraits{"knee-b", "KB", 0, 0.35, kThousandHours, 365'000, false},
    ModelTraits{"shoulder-a", "SA", 1, 0.7, kTenThousandHours, 580'000, true},
    ModelTraits{"shoulder-b", "SB", 1, 0.3, kTenThousandHours, 610'000, false},
    ModelTraits{"elbow-a", "EA", 2, 1.0, kTenThousandHours, 455'000, false},
    ModelTraits{"ankle-a", "AA", 3, 1.0, kThousandHours, 390'000, false},
};

constexpr std::array kFirstNames = {"Harrow", "Quill", "Vell", "Osk", "Brannig", "Tamsel"};
constexpr std::array kLastNames = {"mere", "haven", "marsh", "arrow", "dell", "thwaite"};
constexpr std::array kZones = {"America/New_York", "America/New_York", "America/Chicago",
                               "America/Phoenix"};

void AddPlace(v1::Branch* branch, std::string_view name, v1::PlaceKind kind) {
  v1::Place* place = branch->add_places();
  place->set_id(absl::StrCat(branch->id(), "-", absl::string_view(name.data(), name.size())));
  place->set_kind(kind);
  place->set_display_name(absl::StrReplaceAll(place->id(), {{"-", " "}}));
}

void AddBranch(int number, v1::Settings* settings) {
  v1::Branch* branch = settings->add_branches();
  const auto index = static_cast<size_t>(number);
  const std::string name =
      absl::StrCat(kFirstNames[index % kFirstNames.size()],
                   kLastNames[(index + index / kFirstNames.size()) % kLastNames.size()]);
  branch->set_id(absl::AsciiStrToLower(name));
  branch->set_display_name(name);
  branch->set_time_zone(kZones[index % kZones.size()]);
  AddPlace(branch, "dock", v1::PLACE_KIND_DOCK);
  AddPlace(branch, "bay", v1::PLACE_KIND_CLEANING_BAY);
  AddPlace(branch, "bench", v1::PLACE_KIND_BENCH);
  AddPlace(branch, "shelf", v1::PLACE_KIND_CLEAN_SHELF);
  AddPlace(branch, "quarantine", v1::PLACE_KIND_QUARANTINE);
  AddPlace(branch, "van-1-clean", v1::PLACE_KIND_VAN_CLEAN);
  AddPlace(branch, "van-1-dirty", v1::PLACE_KIND_VAN_DIRTY);
  AddPlace(branch, "van-2-clean", v1::PLACE_KIND_VAN_CLEAN);
  AddPlace(branch, "van-2-dirty", v1::PLACE_KIND_VAN_DIRTY);
}

void AddClass(std::string_view id, std::initializer_list<const char*> kit, v1::Settings* settings) {
  v1::DeviceClass* device_class = settings->add_device_classes();
  device_class->set_id(std::string(id));
  device_class->set_sided(true);
  for (const char* item : kit) device_class->add_kit_items(item);
}

struct ModelShape {
  const char* display_name;
  bool sided;
  bool keeps_patient_data;
  std::initializer_list<const char*> required;
  std::initializer_list<const char*> optional;
  double min_deg;
  double max_deg;
  double max_speed;
};

void AddModel(const ModelTraits& traits, const ModelShape& shape, v1::Settings* settings) {
  v1::Model* model = settings->add_models();
  const std::string id(traits.id);
  model->set_id(id);
  model->set_device_class(std::string(kClasses[static_cast<size_t>(traits.device_class)].id));
  model->set_display_name(shape.display_name);
  model->set_sided(shape.sided);
  model->set_keeps_patient_data(shape.keeps_patient_data);
  for (const char* position : shape.required) {
    v1::PartPosition* part = model->add_parts();
    part->set_position(position);
    part->set_required(true);
  }
  for (const char* position : shape.optional) model->add_parts()->set_position(position);
  model->set_checklist(traits.protective_earth ? "joint-device-class-1" : "joint-device-class-2");
  model->set_service_plan(absl::StrCat(model->device_class(), "-service"));
  model->mutable_motion()->set_min_deg(shape.min_deg);
  model->mutable_motion()->set_max_deg(shape.max_deg);
  model->mutable_motion()->set_max_speed_deg_per_min(shape.max_speed);
  model->set_source(std::string(kChosen));
}

void AddModels(v1::Settings* settings) {
  AddModel(kModels[0],
           {"Knee device A",
            false,
            true,
            {"controller", "pendant", "power-cord", "foot-plate"},
            {"case"},
            -10,
            125,
            240},
           settings);
  AddModel(kModels[1],
           {"Knee device B",
            false,
            false,
            {"controller", "pendant", "power-cord", "foot-plate"},
            {"case"},
            -5,
            125,
            180},
           settings);
  AddModel(kModels[2],
           {"Shoulder chair A",
            true,
            true,
            {"controller", "pendant", "power-cord", "arm-support"},
            {},
            0,
            175,
            200},
           settings);
  AddModel(kModels[3],
           {"Shoulder frame B",
            true,
            false,
            {"controller", "pendant", "battery", "arm-support"},
            {"case"},
            0,
            165,
            180},
           settings);
  AddModel(kModels[4],
           {"Elbow device A",
            true,
            false,
            {"controller", "pendant", "power-cord", "splint-bars"},
            {"case"},
            -10,
            145,
            180},
           settings);
  AddModel(kModels[5],
           {"Ankle device A",
            false,
            false,
            {"controller", "pendant", "power-cord", "foot-shell"},
            {"case"},
            -25,
            45,
            120},
           settings);
}

constexpr std::string_view kFederal = "synthetic-federal";
constexpr std::string_view kPlan = "synthetic-plan";
constexpr std::string_view kPatientPays = "patient";

void AddProduct(const char* id, int64_t contact_time_s, v1::Settings* settings) {
  v1::CleaningProduct* product = settings->add_cleaning_products();
  product->set_id(id);
  product->set_contact_time_s(contact_time_s);
  product->set_registration(absl::StrCat("SYNTHETIC-", contact_time_s));
  product->set_source("invented product; the label of the real one rules");
}

void AddTreatment(const char* id, v1::Contaminant against, std::optional<double> celsius,
                  int64_t dwell_s, v1::Settings* settings) {
  v1::Treatment* treatment = settings->add_treatments();
  treatment->set_id(id);
  treatment->set_against(against);
  if (celsius.has_value()) treatment->set_min_temperature_c(*celsius);
  treatment->set_min_dwell_s(dwell_s);
  treatment->set_source(absl::StrCat(absl::string_view(kChosen.data(), kChosen.size()),
                                     "; the maker's instructions and local rules rule"));
}

void AddItem(v1::Checklist* list, const char* id, const char* text, const char* unit,
             std::optional<double> min, std::optional<double> max) {
  v1::ChecklistItem* item = list->add_items();
  item->set_id(id);
  item->set_text(text);
  item->set_unit(unit);
  if (min.has_value()) item->set_min(*min);
  if (max.has_value()) item->set_max(*max);
}

void AddChecklist(bool protective_earth, Edition edition, v1::Settings* settings) {
  v1::Checklist* list = settings->add_checklists();
  list->set_id(protective_earth ? "joint-device-class-1" : "joint-device-class-2");
  list->set_version(edition == Edition::kOpening ? "1" : "2");
  list->set_source(std::string(kElectricalSource));
  AddItem(list, "visual", "Case, cord, plug and labels whole", "", 1.0, std::nullopt);
  if (protective_earth) {
    AddItem(list, "earth-resistance", "Protective earth with the mains cord", "ohm", std::nullopt,
            0.3);
  }
  AddItem(list, "insulation", "Insulation resistance", "megohm", 2.0, std::nullopt);
  AddItem(list, "equipment-leakage", "Equipment leakage, direct method", "microampere",
          std::nullopt, protective_earth ? 500.0 : 100.0);
  AddItem(list, "applied-part-leakage", "Applied part leakage, type BF, direct method",
          "microampere", std::nullopt, 5000.0);
  AddItem(list, "range-error", "Greatest difference between set and measured angle", "degree",
          std::nullopt, edition == Edition::kOpening ? 5.0 : 4.0);
  AddItem(list, "force-reversal", "Turns round when held", "", 1.0, std::nullopt);
  AddItem(list, "pendant-stop", "Stops by the pendant", "", 1.0, std::nullopt);
  AddItem(list, "meter-advances", "Hour meter advances", "", 1.0, std::nullopt);
  if (edition == Edition::kRevised) {
    AddItem(list, "speed-error", "Difference between set and measured speed", "percent",
            std::nullopt, 10.0);
  }
}

void AddPlan(const char* id, int days, int hours, int turns, v1::Settings* settings) {
  v1::ServicePlan* plan = settings->add_service_plans();
  plan->set_id(id);
  plan->set_interval_days(days);
  plan->set_interval_hours(hours);
  plan->set_interval_turns(turns);
  plan->set_source(absl::StrCat(absl::string_view(kChosen.data(), kChosen.size()),
                                "; the maker's instructions rule"));
}

void AddMeasureBand(v1::MeasureKind kind, int least_mm, int most_mm, v1::Settings* settings) {
  v1::MeasureBand* band = settings->add_measure_bands();
  band->set_kind(kind);
  band->set_min_mm(least_mm);
  band->set_max_mm(most_mm);
  band->set_source("invented for the synthetic depot");
}

// How promises are told, and from where on an order or a measure is asked about.
void AddPromises(v1::Settings* settings) {
  v1::PromisePolicy* policy = settings->mutable_promise_policy();
  policy->set_yes_from_permille(950);
  policy->set_no_below_permille(500);
  policy->set_turnaround_days(2);
  policy->set_look_ahead_days(60);
  policy->set_soft_hours(48);
  policy->set_source("invented for the synthetic depot");
  v1::MotionBand* knee = settings->add_motion_bands();
  knee->set_device_class("knee");
  knee->set_min_extension_deg(-10);
  knee->set_max_extension_deg(30);
  knee->set_min_flexion_deg(0);
  knee->set_max_flexion_deg(150);
  knee->set_max_step_deg(15);
  knee->set_source("the project's own band, no standard");
  AddMeasureBand(v1::MEASURE_KIND_THIGH, 250, 600, settings);
  AddMeasureBand(v1::MEASURE_KIND_SHANK, 250, 650, settings);
  AddMeasureBand(v1::MEASURE_KIND_LEG, 600, 1200, settings);
  settings->mutable_usage_policy()->set_low_use_permille(500);
  settings->mutable_usage_policy()->set_source("invented for the synthetic depot");
}

// How long records are kept.
void AddRetention(v1::Settings* settings) {
  constexpr std::tuple<v1::RecordKind, v1::RetentionAnchor, int> kRules[] = {
      {v1::RECORD_KIND_PATIENT, v1::RETENTION_ANCHOR_ENDED, 72},
      {v1::RECORD_KIND_PATIENT, v1::RETENTION_ANCHOR_BILLED, 84},
      {v1::RECORD_KIND_MESSAGE, v1::RETENTION_ANCHOR_RECEIVED, 24},
      {v1::RECORD_KIND_RENTAL_PAPERS, v1::RETENTION_ANCHOR_DELIVERED, 84},
      {v1::RECORD_KIND_COMPLAINT_PAPERS, v1::RETENTION_ANCHOR_CLOSED, 72}};
  for (const auto& [kind, anchor, months] : kRules) {
    v1::RetentionRule* rule = settings->add_retention_rules();
    rule->set_kind(kind);
    rule->set_anchor(anchor);
    rule->set_month_count(months);
    rule->set_source(std::string(kChosen));
  }
}

// Calls, and what follows a pick-up that failed.
void AddContacts(v1::Settings* settings) {
  v1::ContactPolicy* policy = settings->mutable_contact_policy();
  policy->set_follow_up_days(1);
  policy->set_before_due_days(1);
  policy->set_cover_ends_days(5);
  policy->set_confirm_surgery_days(3);
  constexpr std::pair<const char*, int> kLadder[] = {
      {"ring and agree another day", 1},
      {"ring the contact person and the prescriber", 2},
      {"send a letter", 4},
      {"send a certified letter with the value of the device", 7},
      {"decide about the device as missing", 14}};
  for (const auto& [action, days] : kLadder) {
    v1::LadderStep* step = policy->add_ladder();
    step->set_action(action);
    step->set_within_days(days);
  }
  policy->set_source(std::string(kChosen));
}

// Money, and the ways between branches, all chosen freely.
void AddPlanning(v1::Settings* settings) {
  struct Money {
    const char* device_class;
    int64_t rent, price;
  };
  constexpr Money kMoney[] = {{"knee", 2'600, 410'000},
                              {"shoulder", 3'400, 590'000},
                              {"elbow", 2'900, 455'000},
                              {"ankle", 2'700, 390'000}};
  v1::Planning* planning = settings->mutable_planning();
  for (const Money& money : kMoney) {
    v1::ClassPlan* plan = planning->add_class_plans();
    plan->set_device_class(money.device_class);
    plan->set_rent_per_day_minor(money.rent);
    plan->set_price_minor(money.price);
    plan->set_salvage_minor(money.price / 10);
    plan->set_life_years(7);
    plan->set_yearly_interest_share(.06);
    plan->set_upkeep_per_day_minor(90);
    plan->set_shortage_per_day_minor(3 * money.rent / 2);
    plan->set_lost_target_share(.02);
    plan->set_short_day_target_probability(.05);
    plan->set_source(std::string(kChosen));
  }
  for (const v1::Branch& from : settings->branches()) {
    for (const v1::Branch& to : settings->branches()) {
      if (from.id() == to.id() || settings->branches_size() > 8) continue;
      v1::TransferLane* lane = planning->add_transfer_lanes();
      lane->set_from_branch(from.id());
      lane->set_to_branch(to.id());
      lane->set_transit_days(from.time_zone() == to.time_zone() ? 1 : 3);
      lane->set_cost_minor(from.time_zone() == to.time_zone() ? 4'500 : 12'000);
    }
  }
}

v1::CoverRule* AddPayer(std::string_view id, const char* name, int64_t amount_minor,
                        v1::Settings* settings) {
  v1::PayerTerms* payer = settings->add_payer_terms();
  payer->set_id(std::string(id));
  payer->set_display_name(name);
  v1::CoverRule* rule = payer->add_rules();
  rule->set_amount_minor(amount_minor);
  rule->set_billing_unit(v1::BILLING_UNIT_DAY);
  return rule;
}

void AddReading(const char* id, v1::CoverAnchor anchor, int day_number, int length_days,
                const char* source, v1::CoverRule* rule) {
  v1::CoverReading* reading = rule->add_readings();
  reading->set_id(id);
  reading->set_anchor(anchor);
  reading->set_anchor_day_number(day_number);
  reading->set_length_days(length_days);
  reading->set_source(source);
}

// Three payers: one of three weeks after a knee replacement, counted in the three ways in which
// that is published, and two that pay every day. The daily amounts are chosen freely. The start
// window of two days is left out: this depot's patients begin when they come home, often later.
void AddPayers(v1::Settings* settings) {
  v1::CoverRule* federal = AddPayer(
      kFederal, "Synthetic programme, three weeks after a knee replacement", 2'400, settings);
  federal->add_device_classes("knee");
  federal->set_home_only(true);
  federal->set_away_days(v1::AWAY_DAYS_NOT_PAID);
  federal->set_early_delivery_days(2);
  federal->set_billing_code("E0935");
  federal->add_modifiers("RR");
  federal->set_left_modifier("LT");
  federal->set_right_modifier("RT");
  for (const v1::BillingNeed need :
       {v1::BILLING_NEED_PROCEDURE, v1::BILLING_NEED_SURGERY_DATE,
        v1::BILLING_NEED_APPLICATION_DATE, v1::BILLING_NEED_DISCHARGE_DATE,
        v1::BILLING_NEED_WRITTEN_ORDER, v1::BILLING_NEED_DELIVERY_SIGNATURE}) {
    federal->add_needs(need);
  }
  federal->set_source("NCD 280.1 as quoted on 2022-07-08; amounts chosen freely");
  AddReading("surgery-is-day-0", v1::COVER_ANCHOR_SURGERY, 0, 21,
             "a contractor's worked example of 2009", federal);
  AddReading("surgery-is-day-1", v1::COVER_ANCHOR_SURGERY, 1, 21,
             "a contractor's page of 2019-05-20", federal);
  AddReading("discharge-is-day-1", v1::COVER_ANCHOR_DISCHARGE, 1, 21,
             "Pub. 100-04 ch. 20 s. 30.2.1 as quoted on 2022-07-08", federal);
  const char* chosen = "chosen freely for the synthetic depot";
  v1::CoverRule* plan = AddPayer(kPlan, "Synthetic plan, every day", 2'900, settings);
  plan->set_source(chosen);
  AddReading("every-day", v1::COVER_ANCHOR_HAND_OVER, 0, 0, chosen, plan);
  v1::CoverRule* patient = AddPayer(kPatientPays, "The patient pays", 3'200, settings);
  patient->set_source(chosen);
  AddReading("every-day", v1::COVER_ANCHOR_HAND_OVER, 0, 0, chosen, patient);
}

}  // namespace

std::string_view PayerOf(bool has_cover_end, bool has_authorisation) {
  if (has_cover_end) return kFederal;
  return has_authorisation ? kPlan : kPatientPays;
}

int BranchCount(int units) { return std::clamp(units / 250, 4, 36); }

v1::Settings MakeSettings(int branch_count, Edition edition) {
  v1::Settings settings;
  settings.set_version(edition == Edition::kOpening ? "synthetic-1" : "synthetic-2");
  settings.set_currency("USD");
  for (int i = 0; i < branch_count; ++i) AddBranch(i, &settings);
  AddClass("knee", {"pad-set", "strap-set"}, &settings);
  AddClass("shoulder", {"arm-pad-set"}, &settings);
  AddClass("elbow", {"splint-pad-set"}, &settings);
  AddClass("ankle", {"boot-liner", "strap-set"}, &settings);
  AddModels(&settings);
  AddProduct("wipe-a", 120, &settings);
  AddProduct("spray-b", edition == Edition::kOpening ? 300 : 600, &settings);
  AddTreatment("heat", v1::CONTAMINANT_INSECTS, 50, 90 * 60, &settings);
  AddTreatment("decontamination", v1::CONTAMINANT_BODY_FLUID, std::nullopt, 10 * 60, &settings);
  AddChecklist(true, edition, &settings);
  AddChecklist(false, edition, &settings);
  AddPlan("knee-service", 365, 1500, 0, &settings);
  AddPlan("shoulder-service", 365, 0, 12, &settings);
  AddPlan("elbow-service", 270, 1200, 0, &settings);
  AddPlan("ankle-service", 365, 0, 10, &settings);
  settings.mutable_due_policy()->add_first_known(v1::DUE_BASIS_AGREED_PICKUP);
  settings.mutable_due_policy()->add_else_earliest(v1::DUE_BASIS_PRESCRIPTION_END);
  settings.mutable_due_policy()->add_else_earliest(v1::DUE_BASIS_AUTHORISATION_END);
  settings.mutable_due_policy()->add_else_earliest(v1::DUE_BASIS_COVER_END);
  AddContacts(&settings);
  AddRetention(&settings);
  AddPayers(&settings);
  AddPromises(&settings);
  AddPlanning(&settings);
  return settings;
}

std::span<const ClassTraits> AllClasses() { return kClasses; }
std::span<const ModelTraits> AllModels() { return kModels; }

}  // namespace ferrule::demo
