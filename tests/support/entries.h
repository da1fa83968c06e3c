// Short ways to write entries in tests: one unit's turn in a small invented depot.
#pragma once

#include <cstdint>
#include <string>

#include "core/time/civil.h"
#include "ferrule/v1/facts.pb.h"
#include "google/protobuf/text_format.h"

namespace ferrule::testing {

// 2026-03-02 08:00 UTC, a Monday; every test counts minutes from here.
inline constexpr int64_t kStartUs = 1'772'438'400'000'000;
inline constexpr int64_t kMinuteUs = 60'000'000;
inline constexpr int64_t kHourUs = 60 * kMinuteUs;
inline constexpr int64_t kDayUs = 24 * kHourUs;

inline v1::Fact& AddFact(int64_t happened_us, const std::string& text, v1::Entry* entry) {
  v1::Fact& fact = *entry->add_facts();
  if (!google::protobuf::TextFormat::ParseFromString(text, &fact)) {
    throw std::invalid_argument("not a fact: " + text);
  }
  time::SetMicros(happened_us, fact.mutable_happened_time());
  return fact;
}

// One entry with one fact, given in text format.
inline v1::Entry EntryOf(const std::string& id, int64_t happened_us, const std::string& text,
                         v1::EntryMode mode = v1::ENTRY_MODE_ENFORCED) {
  v1::Entry entry;
  entry.set_entry_id(id);
  entry.set_actor("tech-ada");
  entry.set_channel("test");
  entry.set_mode(mode);
  AddFact(happened_us, text, &entry);
  return entry;
}

// Two branches, one model of one sided class, one product with a contact time of 60 s, one
// checklist of one item.
inline std::string SmallSettings(const std::string& version = "1") {
  return "version: '" + version + R"('
    currency: 'EUR'
    branches { id: 'north' time_zone: 'Europe/Berlin'
      places { id: 'north-dock' kind: PLACE_KIND_DOCK }
      places { id: 'north-bench' kind: PLACE_KIND_BENCH }
      places { id: 'north-shelf' kind: PLACE_KIND_CLEAN_SHELF }
      places { id: 'north-van' kind: PLACE_KIND_VAN_DIRTY } }
    branches { id: 'west' time_zone: 'America/Chicago'
      places { id: 'west-shelf' kind: PLACE_KIND_CLEAN_SHELF } }
    device_classes { id: 'knee' sided: true }
    models { id: 'knee-a' device_class: 'knee' checklist: 'knee-check'
      motion { min_deg: -10 max_deg: 120 max_speed_deg_per_min: 150 } }
    cleaning_products { id: 'wipe' contact_time_s: 60 }
    treatments { id: 'heat' against: CONTAMINANT_INSECTS min_temperature_c: 50 min_dwell_s: 5400 }
    checklists { id: 'knee-check' version: '1'
      items { id: 'earth' unit: 'ohm' max: 0.3 } }
    due_policy { first_known: DUE_BASIS_AGREED_PICKUP
      else_earliest: DUE_BASIS_PRESCRIPTION_END })";
}

inline v1::Entry SettingsEntry(const std::string& id = "settings-1") {
  return EntryOf(id, kStartUs - kDayUs,
                 "settings_put { settings {" + SmallSettings() +
                     "} from_time { seconds: 1767225600 } }");  // 2026-01-01
}

inline v1::Entry ReceiveUnit(const std::string& unit, int64_t at_us) {
  return EntryOf("receive-" + unit, at_us,
                 "unit_received { unit: '" + unit + "' serial: 'S-" + unit +
                     "' model: 'knee-a' place: 'north-dock' "
                     "side: SIDE_LEFT }");
}

// Cleaned, inspected and put on the clean shelf, an hour after `at_us` at the latest.
inline v1::Entry MakeReady(const std::string& id, const std::string& unit, int64_t at_us) {
  v1::Entry entry = EntryOf(id, at_us, "cleaning_started { unit: '" + unit + "' }");
  const int64_t wet = at_us / 1'000'000;
  AddFact(at_us + 10 * kMinuteUs,
          "cleaning_finished { unit: '" + unit +
              "' product: 'wipe' wet_from_time { seconds: " + std::to_string(wet) +
              " } wet_to_time { seconds: " + std::to_string(wet + 120) + " } }",
          &entry);
  AddFact(at_us + 30 * kMinuteUs,
          "inspection_done { unit: '" + unit +
              "' checklist: 'knee-check' checklist_version: '1' "
              "readings { item: 'earth' value: 0.2 } }",
          &entry);
  AddFact(at_us + 40 * kMinuteUs, "unit_moved { unit: '" + unit + "' to_place: 'north-shelf' }",
          &entry);
  return entry;
}

inline v1::Entry TakeOrder(const std::string& order, int64_t at_us) {
  return EntryOf("take-" + order, at_us,
                 "order_taken { order: '" + order +
                     "' details { patient: 'P-1' prescriber: 'D-1' branch: 'north' "
                     "device_class: 'knee' side: SIDE_LEFT procedure: 'knee replacement' "
                     "surgery_date { year: 2026 month: 3 day: 5 } "
                     "needed_date { year: 2026 month: 3 day: 7 } length_of_need_days: 21 "
                     "motion { extension_deg: 0 flexion_deg: 90 speed_deg_per_min: 60 } } }");
}

inline v1::Entry HandOver(const std::string& id, const std::string& unit, const std::string& order,
                          int64_t at_us, v1::EntryMode mode = v1::ENTRY_MODE_ENFORCED) {
  return EntryOf(id, at_us,
                 "handed_over { unit: '" + unit + "' order: '" + order +
                     "' unit_model: 'knee-a' unit_side: SIDE_LEFT signed_by: 'patient' "
                     "motion { extension_deg: 0 flexion_deg: 40 speed_deg_per_min: 60 } }",
                 mode);
}

}  // namespace ferrule::testing
