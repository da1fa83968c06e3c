// The scenario of the synthetic depot: its branches, devices, lists and limits. Everything in it is
// invented; it describes no real depot, maker, model or product.
#pragma once

#include <cstdint>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "ferrule/v1/settings.pb.h"

namespace ferrule::demo {

// What the ledger of a generated depot is labelled with.
inline constexpr std::string_view kLabel = "synthetic";

// Which version of the settings: the second follows the first in the middle of a run, with a
// stricter checklist and a product of longer contact time.
enum class Edition { kOpening, kRevised };

// Branches that a fleet of that size gets: 4, and more for more than 1,000 units.
int BranchCount(int units);

// One whole version of the settings; it passes depot::ValidateSettings.
v1::Settings MakeSettings(int branch_count, Edition edition);

// A length of need and how often it is prescribed.
struct Course {
  int days;
  double weight;
};

// What the simulator knows of a class beyond the settings.
struct ClassTraits {
  std::string_view id;
  double fleet_share;  // of all units
  std::span<const Course> courses;
  std::string_view procedure;  // in the sender's words
  double extension_deg;        // prescribed motion, least and greatest of each
  double flexion_deg_least;
  double flexion_deg_greatest;
  double speed_deg_per_min;
  bool second_sides;  // whether the other side often follows
};
std::span<const ClassTraits> AllClasses();

// Who pays for an order: the federal programme for knees whose cover ends after three weeks, else a
// plan that pays for authorised rentals, else the patient.
std::string_view PayerOf(bool has_cover_end, bool has_authorisation);

// What the simulator knows of a model beyond the settings.
struct ModelTraits {
  std::string_view id;
  std::string_view tag_prefix;  // of the depot's own tags
  int device_class;             // index into AllClasses()
  double class_share;           // of the class's units
  int64_t meter_width_s;        // the figure at which its meter begins again
  int64_t cost_minor;
  bool protective_earth;  // class I: its checklist has the earth and class I leakage items
};
std::span<const ModelTraits> AllModels();

}  // namespace ferrule::demo
