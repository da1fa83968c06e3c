// A small invented depot with a store: a closet, pads by lot, walkers that are only counted; short
// ways to write its entries.
#pragma once

#include <string>

#include "tests/support/entries.h"

namespace ferrule::testing {

inline std::string StoresSettings() {
  return R"(version: 'stores'
    currency: 'EUR'
    branches { id: 'north' time_zone: 'Europe/Berlin'
      places { id: 'north-dock' kind: PLACE_KIND_DOCK }
      places { id: 'north-bench' kind: PLACE_KIND_BENCH }
      places { id: 'north-shelf' kind: PLACE_KIND_CLEAN_SHELF }
      places { id: 'north-closet' kind: PLACE_KIND_CLOSET }
      places { id: 'van-clean' kind: PLACE_KIND_VAN_CLEAN }
      places { id: 'van-dirty' kind: PLACE_KIND_VAN_DIRTY } }
    branches { id: 'west' time_zone: 'America/Chicago'
      places { id: 'west-dock' kind: PLACE_KIND_DOCK }
      places { id: 'west-shelf' kind: PLACE_KIND_CLEAN_SHELF } }
    device_classes { id: 'knee' sided: true }
    device_classes { id: 'hip' kit_items: 'pad-set' }
    models { id: 'knee-a' device_class: 'knee' checklist: 'knee-check'
      parts { position: 'board' }
      motion { min_deg: -10 max_deg: 120 max_speed_deg_per_min: 150 } }
    models { id: 'hip-b' device_class: 'hip' checklist: 'knee-check'
      motion { min_deg: -10 max_deg: 120 max_speed_deg_per_min: 150 } }
    cleaning_products { id: 'wipe' contact_time_s: 60 }
    checklists { id: 'knee-check' version: '1' items { id: 'earth' unit: 'ohm' max: 0.3 } }
    stock_items { id: 'pad-set' single_patient: true lead_time_days: 7 package_piece_count: 10 }
    stock_items { id: 'walker' tracking: STOCK_TRACKING_BY_COUNT }
    par_levels { place: 'north-closet' device_class: 'knee' par_count: 1 }
    par_levels { place: 'north-closet' item: 'pad-set' par_count: 4 }
    transfer_alarm_hours: 12
    usage_window_days: 30
    due_policy { first_known: DUE_BASIS_AGREED_PICKUP
      else_earliest: DUE_BASIS_PRESCRIPTION_END })";
}

inline v1::Entry StoresSettingsEntry() {
  return EntryOf(
      "settings-1", kStartUs - kDayUs,
      "settings_put { settings {" + StoresSettings() + "} from_time { seconds: 1767225600 } }");
}

// Any fact, `minutes` after kStartUs.
inline v1::Entry At(const std::string& id, int64_t minutes, const std::string& fact,
                    v1::EntryMode mode = v1::ENTRY_MODE_ENFORCED) {
  return EntryOf(id, kStartUs + minutes * kMinuteUs, fact, mode);
}

inline std::string PadsIn(const std::string& lot, const std::string& place, int pieces,
                          const std::string& more = "") {
  return "stock_received { item: 'pad-set' lot: '" + lot + "' place: '" + place +
         "' piece_count: " + std::to_string(pieces) + " " + more + " }";
}

}  // namespace ferrule::testing
