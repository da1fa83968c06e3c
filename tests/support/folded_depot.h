// A small invented depot for tests of the folds: facts are told in any order, then folded.
#pragma once

#include <deque>
#include <string>
#include <string_view>
#include <vector>

#include "core/depot/settings_book.h"
#include "core/fact/subject.h"
#include "core/finding/catalog.h"
#include "core/fold/fold.h"
#include "core/time/civil.h"
#include "core/unit/ready.h"
#include "tests/support/entries.h"

namespace ferrule::testing {

// Two branches; knees that keep patient data, have parts, a kit and planned service; shoulders that
// are set up for a side and have none of these.
inline std::string FoldSettings(const std::string& knee_check_version = "1") {
  return "version: 'v" + knee_check_version + R"('
    currency: 'EUR'
    branches { id: 'north' time_zone: 'Europe/Berlin'
      places { id: 'dock' kind: PLACE_KIND_DOCK }
      places { id: 'bay' kind: PLACE_KIND_CLEANING_BAY }
      places { id: 'bench' kind: PLACE_KIND_BENCH }
      places { id: 'shelf' kind: PLACE_KIND_CLEAN_SHELF }
      places { id: 'quarantine' kind: PLACE_KIND_QUARANTINE }
      places { id: 'van-clean' kind: PLACE_KIND_VAN_CLEAN }
      places { id: 'van-dirty' kind: PLACE_KIND_VAN_DIRTY }
      places { id: 'closet' kind: PLACE_KIND_CLOSET }
      places { id: 'vendor' kind: PLACE_KIND_VENDOR } }
    branches { id: 'west' time_zone: 'America/Los_Angeles'
      places { id: 'west-shelf' kind: PLACE_KIND_CLEAN_SHELF } }
    device_classes { id: 'knee' sided: true kit_items: 'pad-set' }
    device_classes { id: 'shoulder' sided: true }
    device_classes { id: 'walker' }
    models { id: 'knee-a' device_class: 'knee' keeps_patient_data: true checklist: 'knee-check'
      service_plan: 'knee-plan' motion { min_deg: -10 max_deg: 120 max_speed_deg_per_min: 150 }
      parts { position: 'pendant' required: true } parts { position: 'foot-plate' } }
    models { id: 'shoulder-s' device_class: 'shoulder' sided: true checklist: 'shoulder-check'
      motion { min_deg: 0 max_deg: 160 max_speed_deg_per_min: 120 } }
    models { id: 'walker-w' device_class: 'walker' }
    cleaning_products { id: 'wipe' contact_time_s: 60 }
    cleaning_products { id: 'foam' contact_time_s: 600 }
    cleaning_products { id: 'strong' contact_time_s: 60 dilution: '1:64' needs_washing_first: true }
    treatments { id: 'heat' against: CONTAMINANT_INSECTS min_temperature_c: 50 min_dwell_s: 5400 }
    treatments { id: 'soak' against: CONTAMINANT_BODY_FLUID min_dwell_s: 600 }
    checklists { id: 'knee-check' version: ')" +
         knee_check_version + R"('
      items { id: 'earth' unit: 'ohm' max: 0.3 } items { id: 'arc' unit: 'deg' min: -2 max: 2 }
      items { id: 'stop' } }
    checklists { id: 'shoulder-check' version: '1' items { id: 'stop' } }
    service_plans { id: 'knee-plan' interval_days: 180 interval_hours: 1000 interval_turns: 3 }
    due_policy { first_known: DUE_BASIS_AGREED_PICKUP
      else_earliest: DUE_BASIS_PRESCRIPTION_END else_earliest: DUE_BASIS_AUTHORISATION_END })";
}

inline v1::SettingsVersion VersionFrom(int64_t from_us, const std::string& text) {
  v1::SettingsVersion version;
  time::SetMicros(from_us, version.mutable_from_time());
  if (!google::protobuf::TextFormat::ParseFromString(text, version.mutable_settings())) {
    throw std::invalid_argument("not settings: " + text);
  }
  return version;
}

// The reasons of findings, as strings, in their order.
template <typename Findings>
std::vector<std::string> Reasons(const Findings& findings) {
  std::vector<std::string> out;
  for (const v1::Finding& f : findings) out.emplace_back(finding::ReasonString(f.reason()));
  return out;
}

inline std::string ValueOf(const v1::Finding& finding, std::string_view key) {
  for (const v1::FindingValue& v : finding.values()) {
    if (v.key() == key) return v.value();
  }
  return "";
}

// Times are minutes after kStartUs, a Monday morning.
class FoldedDepot {
 public:
  FoldedDepot() { Settings(-60 * 24, FoldSettings()); }

  void Settings(int64_t from_min, const std::string& text) {
    *settings_.add_versions() = VersionFrom(Us(from_min), text);
    book_ = depot::SettingsBook(settings_);
  }

  static int64_t Us(int64_t at_min) { return kStartUs + at_min * kMinuteUs; }

  // One fact in text format; the entry's id is given back.
  std::string Tell(int64_t at_min, const std::string& text) {
    const std::string id = "e" + std::to_string(1000 + entries_.size());
    entries_.push_back(EntryOf(id, Us(at_min), text, v1::ENTRY_MODE_OBSERVED));
    return id;
  }
  v1::Entry& last_entry() { return entries_.back(); }

  void Receive(const std::string& unit, int64_t at, const std::string& model = "knee-a",
               const std::string& more = "parts { part: 'P-1' position: 'pendant' }") {
    Tell(at, "unit_received { unit: '" + unit + "' serial: 'S-" + unit + "' model: '" + model +
                 "' place: 'dock' side: SIDE_LEFT " + more + " }");
  }
  void Clean(const std::string& unit, int64_t at, const std::string& product = "wipe",
             int64_t wet_s = 120, const std::string& more = "") {
    const int64_t from_s = Us(at) / 1'000'000 - wet_s;
    Tell(at, "cleaning_finished { unit: '" + unit + "' product: '" + product +
                 "' wet_from_time { seconds: " + std::to_string(from_s) +
                 " } wet_to_time { seconds: " + std::to_string(from_s + wet_s) + " } " + more +
                 " }");
  }
  void Erase(const std::string& unit, int64_t at) {
    Tell(at, "memory_erased { unit: '" + unit + "' method: 'menu' }");
  }
  void Inspect(const std::string& unit, int64_t at, const std::string& earth = "0.2",
               const std::string& version = "1") {
    Tell(at, "inspection_done { unit: '" + unit + "' checklist: 'knee-check' checklist_version: '" +
                 version + "' tester: 'T-1' readings { item: 'earth' value: " + earth +
                 " } readings { item: 'arc' value: 1 } readings { item: 'stop' value: 1 } }");
  }
  void InspectShoulder(const std::string& unit, int64_t at) {
    Tell(at, "inspection_done { unit: '" + unit +
                 "' checklist: 'shoulder-check' checklist_version: '1' "
                 "readings { item: 'stop' value: 1 } }");
  }
  void Move(const std::string& unit, int64_t at, const std::string& place) {
    Tell(at, "unit_moved { unit: '" + unit + "' to_place: '" + place + "' }");
  }
  // Cleaned, erased, inspected and put on the shelf, four minutes from `at`.
  void MakeReady(const std::string& unit, int64_t at) {
    Clean(unit, at + 1);
    Erase(unit, at + 2);
    Inspect(unit, at + 3);
    Move(unit, at + 4, "shelf");
  }
  // A knee on the shelf, ready to go at minute 10.
  void ReadyKnee(const std::string& unit = "K-1") {
    Receive(unit, 0);
    MakeReady(unit, 5);
  }
  void ReadyShoulder(const std::string& unit = "SH-1") {
    Receive(unit, 0, "shoulder-s", "");
    Clean(unit, 6);
    InspectShoulder(unit, 8);
    Move(unit, 9, "shelf");
  }
  static std::string KneeDetails() {
    return "patient: 'P-1' prescriber: 'D-1' branch: 'north' device_class: 'knee' "
           "side: SIDE_LEFT procedure: 'knee replacement' "
           "surgery_date { year: 2026 month: 3 day: 5 } length_of_need_days: 21 "
           "motion { extension_deg: 0 flexion_deg: 90 speed_deg_per_min: 60 daily_use_s: 14400 } ";
  }
  void TakeOrder(const std::string& order, int64_t at, const std::string& more = "") {
    Tell(at, "order_taken { order: '" + order + "' details { " + KneeDetails() + more + " } }");
  }
  std::string HandOver(const std::string& unit, const std::string& order, int64_t at,
                       const std::string& more = "", const std::string& model = "knee-a") {
    return Tell(at, "handed_over { unit: '" + unit + "' order: '" + order + "' unit_model: '" +
                        model +
                        "' unit_side: SIDE_LEFT signed_by: 'patient' "
                        "kit { item: 'pad-set' lot: 'L-1' piece_count: 1 } " +
                        more + " }");
  }
  std::string PickUp(const std::string& unit, const std::string& order, int64_t at,
                     const std::string& more = "") {
    return Tell(at, "picked_up { unit: '" + unit + "' order: '" + order +
                        "' to_place: 'van-dirty' " + more + " }");
  }
  std::string ReceiveBack(const std::string& unit, int64_t at, const std::string& more = "") {
    return Tell(at, "received_back { unit: '" + unit + "' place: 'dock' " + more + " }");
  }

  // All facts about a subject, as recorded at the time of the fact.
  std::vector<fact::FactView> FactsOf(const std::string& name) const {
    std::vector<fact::FactView> views;
    for (const v1::Entry& entry : entries_) {
      for (int i = 0; i < entry.facts_size(); ++i) {
        for (const std::string& subject : fact::SubjectsOf(entry.facts(i))) {
          if (subject != name) continue;
          const int64_t us = time::ToMicros(entry.facts(i).happened_time());
          views.push_back({&entry, i, us, us, 1});
        }
      }
    }
    return views;
  }
  v1::SubjectState State(const std::string& name) const {
    return fold::Fold(name, FactsOf(name), book_);
  }
  v1::UnitState Unit(const std::string& unit) const { return State("units/" + unit).unit(); }
  v1::OrderState Order(const std::string& order) const { return State("orders/" + order).order(); }
  std::vector<std::string> Questions(const std::string& name) const {
    return Reasons(State(name).questions());
  }
  // Why a unit is not ready at that minute.
  std::vector<v1::Finding> Assess(const std::string& unit, int64_t at,
                                  unit::ReadyQuery query = {}) const {
    query.at_us = Us(at);
    return unit::Assess(State("units/" + unit), book_, query);
  }
  std::vector<std::string> WhyNot(const std::string& unit, int64_t at,
                                  unit::ReadyQuery query = {}) const {
    return Reasons(Assess(unit, at, query));
  }

  const depot::SettingsBook& book() const { return book_; }
  std::deque<v1::Entry>& entries() { return entries_; }

 private:
  v1::SettingsState settings_;
  depot::SettingsBook book_;
  std::deque<v1::Entry> entries_;  // stays in place: views point into it
};

}  // namespace ferrule::testing
