// The methods of ferrule.v1.IntakeService: requests checked for form, then core/intake asked.
#pragma once

#include <memory>
#include <vector>

#include "core/intake/intake.h"
#include "service/call.h"

namespace ferrule::service {

std::vector<Method> IntakeMethods(std::shared_ptr<intake::Intake> intake);

}  // namespace ferrule::service
