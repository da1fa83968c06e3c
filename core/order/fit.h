// Whether what goes into the home is what the order asks for: class, side, settings, soft goods.
#pragma once

#include <string>
#include <vector>

#include "core/depot/settings_book.h"
#include "core/finding/raise.h"
#include "ferrule/v1/facts.pb.h"
#include "ferrule/v1/states.pb.h"

namespace ferrule::order {

// The unit as it was seen when it went out.
struct SeenUnit {
  const std::string& unit;
  const std::string& model;
  v1::Side side;
  const v1::Motion& motion;
};

// Settings beyond the order, and beyond what the model can do, in the order extension, flexion,
// speed, pause, daily use: SETTING_BEYOND_ORDER and SETTING_BEYOND_MODEL, no words yet. Only what
// was set is looked at; a setting equal to a limit is within it.
std::vector<v1::Finding> BeyondOrder(const v1::Motion& ordered, const v1::Motion& set);
std::vector<v1::Finding> BeyondModel(const v1::MotionRange& range, const v1::Motion& set);

// Class and side of the unit against the order, settings against the order and the model. Only what
// was set is looked at; a setting equal to a limit is within it. Raises MODEL_UNKNOWN, WRONG_CLASS,
// WRONG_SIDE, SETTING_BEYOND_ORDER and SETTING_BEYOND_MODEL, and what unfit.h lists.
void CheckUnit(const v1::OrderState& order, const SeenUnit& seen, const depot::Rules& rules,
               finding::Raiser* raiser);

// Every item that the class's kit needs. Raises KIT_MISSING once an item.
void CheckKit(const v1::OrderState& order, const v1::HandedOver& handed_over,
              const depot::Rules& rules, finding::Raiser* raiser);

}  // namespace ferrule::order
