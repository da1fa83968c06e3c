// Settings of an invented depot with everything that the bench goes by.
#pragma once

#include <cstdint>
#include <string>

namespace ferrule::testing {

inline constexpr int64_t kDayMin = 24 * 60;

inline std::string BenchSettings() {
  return R"(version: 'b1' currency: 'EUR'
    branches { id: 'north' time_zone: 'Europe/Berlin'
      places { id: 'north-dock' kind: PLACE_KIND_DOCK }
      places { id: 'north-bench' kind: PLACE_KIND_BENCH }
      places { id: 'north-shelf' kind: PLACE_KIND_CLEAN_SHELF }
      places { id: 'van1-clean' kind: PLACE_KIND_VAN_CLEAN }
      places { id: 'van1-dirty' kind: PLACE_KIND_VAN_DIRTY }
      places { id: 'van2-dirty' kind: PLACE_KIND_VAN_DIRTY } }
    branches { id: 'south' time_zone: 'Europe/Berlin'
      places { id: 'south-dock' kind: PLACE_KIND_DOCK } }
    device_classes { id: 'knee' sided: true kit_items: 'pad-set' }
    models { id: 'knee-a' device_class: 'knee' checklist: 'check' service_plan: 'plan'
      parts { position: 'pendant' required: true } parts { position: 'foot-plate' }
      motion { min_deg: -10 max_deg: 120 max_speed_deg_per_min: 150 }
      replacement_cost_minor: 400000 }
    cleaning_products { id: 'wipe' contact_time_s: 60 }
    treatments { id: 'heat' against: CONTAMINANT_INSECTS min_temperature_c: 50 min_dwell_s: 5400 }
    treatments { id: 'soak' against: CONTAMINANT_BODY_FLUID min_dwell_s: 600 }
    checklists { id: 'check' version: '1' source: 'invented' items { id: 'earth' unit: 'ohm' max: 0.3 } }
    service_plans { id: 'plan' interval_days: 180 interval_hours: 1000 }
    repair_causes { id: 'wear' } repair_causes { id: 'drop' outside: true }
    bench { times { step: BENCH_STEP_CLEAN minutes: 40 } times { step: BENCH_STEP_INSPECT minutes: 20 }
      times { step: BENCH_STEP_PUT_AWAY minutes: 5 } times { step: BENCH_STEP_REPAIR minutes: 120 }
      spares { position: 'pendant' lead_time_days: 14 enough_probability: 0.95 } }
    due_policy { first_known: DUE_BASIS_AGREED_PICKUP
      else_earliest: DUE_BASIS_PRESCRIPTION_END })";
}

}  // namespace ferrule::testing
