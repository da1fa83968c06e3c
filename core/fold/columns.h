// The columns of a state's row in the database: what lists and reports are queried by.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

#include "core/depot/settings_book.h"
#include "ferrule/v1/states.pb.h"

namespace ferrule::fold {

struct Columns {
  int kind = 0;                       // fact::SubjectKind
  std::string branch;                 // unit: of its (last) place; order: servicing branch
  std::string place;                  // unit
  std::string model;                  // unit
  std::string device_class;           // unit, order
  std::string serial;                 // unit
  std::string partner;                // unit: its order; order: its unit; part: its unit
  int custody = 0;                    // unit
  int hygiene = 0;                    // unit
  int condition = 0;                  // unit
  int commitment = 0;                 // unit
  int status = 0;                     // order
  std::optional<int64_t> due_day;     // order on rent: time::DayNumber
  int due_basis = 0;                  // order on rent
  std::optional<int64_t> needed_day;  // order open or held
  int failed_pickups = 0;             // order
  int questions = 0;                  // any

  bool operator==(const Columns&) const = default;
};

// A pure function of the state and the settings (the version in force when the state last changed).
Columns ColumnsOf(const v1::SubjectState& state, const depot::SettingsBook& book);

}  // namespace ferrule::fold
