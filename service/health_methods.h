// grpc.health.v1: whether the server serves, asked once or watched.
#pragma once

#include <string>
#include <vector>

#include "service/call.h"

namespace ferrule::service {

// `services` are the names that are known; the empty name stands for the whole server.
std::vector<Method> HealthMethods(std::vector<std::string> services);

}  // namespace ferrule::service
