// The verdict on a function check: computed from the readings, never typed.
#pragma once

#include <string>
#include <vector>

#include "core/depot/settings_book.h"
#include "ferrule/v1/facts.pb.h"
#include "ferrule/v1/states.pb.h"

namespace ferrule::unit {

// What an electrical item needs before its limits can be told.
struct NotStated {
  std::string item;
  std::string what;  // "the class of protection", "the method", ...
};

// What the readings of an inspection amount to.
struct Verdict {
  // Items out of limits; a value equal to a limit is within.
  std::vector<v1::FailedItem> failed;
  // Items of the checklist without a reading.
  std::vector<std::string> unread;
  // Electrical items whose limits cannot be told; each gives no verdict.
  std::vector<NotStated> not_stated;
  // Whether any item is judged by electrical limits, so that the instrument must be named.
  bool electrical = false;
  // The checklist and version that should have been followed, where another was; empty otherwise.
  std::string expected_checklist;
  std::string expected_version;
  // Whether the right checklist was followed in the version in force.
  bool in_force = true;

  // Whether it can count at all: a reading out of limits fails the unit even when it cannot.
  bool counts() const { return in_force && unread.empty() && not_stated.empty(); }
};

// Judges by the settings in force at the time of the inspection. The checklist must be the model's;
// of a model that the settings do not know, or that names none, any checklist will do. An item
// without limits and without a unit of measure is a question that passes with yes (1); one without
// limits and with a unit of measure is only recorded. An item read twice must pass twice.
Verdict Judge(const v1::InspectionDone& inspection, const v1::Model* model,
              const depot::Rules& rules);

// A reading as people write it: "0.3", "12".
std::string NumberText(double value);

}  // namespace ferrule::unit
