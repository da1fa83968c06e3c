// Whether a model fits a patient and the place of use: lengths, girth, weight, arc, speed, mains.
#pragma once

#include <string>
#include <vector>

#include "core/depot/settings_book.h"
#include "ferrule/v1/findings.pb.h"
#include "ferrule/v1/states.pb.h"

namespace ferrule::order {

// Every reason why a unit of that model does not fit the order, in the order of v1::Reason, each
// about the unit; no words yet. What the order or the settings do not give is not judged; a measure
// equal to a bound fits. Raises ORDER_BEYOND_MODEL, MEASURE_OUTSIDE_MODEL, WEIGHT_ABOVE_RATING,
// VOLTAGE_DIFFERS and NOT_THE_MODEL_ASKED_FOR. Class and side are judged by fit.h and ready.h.
std::vector<v1::Finding> Unfit(const v1::OrderDetails& details, const std::string& unit,
                               const v1::Model& model, const depot::Rules& rules);

// Mains voltage at the place of use, the order's or else the branch's; 0 when it is not known.
int MainsVoltage(const v1::OrderDetails& details, const depot::Rules& rules);

// What some model of the class is particular about and the order does not tell, in words.
std::vector<std::string> NotJudged(const v1::OrderDetails& details, const depot::Rules& rules);

}  // namespace ferrule::order
