// A small synthetic version of the settings as text, one field a line, for the tests of this
// folder.
#pragma once

#include <string>

#include "ferrule/v1/settings.pb.h"
#include "google/protobuf/text_format.h"

namespace ferrule::testing {

// Line numbers matter to the tests: add at the end only.
inline constexpr char kSettingsText[] = R"(# Synthetic depot.
version: "2026-01"
currency: "EUR"
branches {
  id: "north"
  time_zone: "Europe/Berlin"
  places { id: "north-dock" kind: PLACE_KIND_DOCK }
  places { id: "north-shelf" kind: PLACE_KIND_CLEAN_SHELF }
}
branches {
  id: "west"
  time_zone: "America/Chicago"
  places {
    id: "west-shelf"
    kind: PLACE_KIND_CLEAN_SHELF
    display_name: "shelf"
  }
}
device_classes {
  id: "knee"
  sided: true
  kit_items: "pad-set"
  kit_items: "strap"
}
models {
  id: "knee-a"
  device_class: "knee"
  sided: true
  parts { position: "pendant" required: true }
  checklist: "knee-check"
  service_plan: "yearly"
  motion {
    min_deg: -10
    max_deg: 120
    max_speed_deg_per_min: 150
  }
}
cleaning_products {
  id: "wipe"
  contact_time_s: 60
}
checklists {
  id: "knee-check"
  version: "1"
  items { id: "earth" unit: "ohm" max: 0.3 }
  items {
    id: "angle"
    unit: "deg"
    min: -2
    max: 2
  }
}
service_plans {
  id: "yearly"
  interval_days: 365
}
due_policy {
  first_known: DUE_BASIS_AGREED_PICKUP
  else_earliest: DUE_BASIS_PRESCRIPTION_END
  else_earliest: DUE_BASIS_COVER_END
}
)";

inline v1::Settings SampleSettings() {
  v1::Settings settings;
  google::protobuf::TextFormat::ParseFromString(kSettingsText, &settings);
  return settings;
}

// The text with its first `from` changed to `to`.
inline std::string Changed(const std::string& from, const std::string& to) {
  std::string text = kSettingsText;
  return text.replace(text.find(from), from.size(), to);
}

}  // namespace ferrule::testing
