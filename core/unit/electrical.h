// Electrical limits by class of protection, type of applied part and method. What is not stated
// gives no verdict: the limits of IEC 62353 differ by a factor of ten between them.
#pragma once

#include <optional>
#include <string>

#include "ferrule/v1/facts.pb.h"
#include "ferrule/v1/settings.pb.h"

namespace ferrule::unit {

// What a reading was taken of, and how.
struct Measured {
  v1::ElectricalClass electrical_class = v1::ELECTRICAL_CLASS_UNSPECIFIED;
  v1::AppliedPart applied_part = v1::APPLIED_PART_UNSPECIFIED;
  v1::MeasuringMethod method = v1::MEASURING_METHOD_UNSPECIFIED;
};

// The one limit of the profile that holds for the quantity, or what must be stated first:
// "the class of protection", "the type of applied part", "the method", or "a limit in profile P".
struct LimitOrLack {
  const v1::ElectricalLimit* limit = nullptr;
  std::string lack;
};
LimitOrLack FindLimit(const v1::ElectricalProfile* profile, const std::string& quantity,
                      const Measured& measured);

}  // namespace ferrule::unit
