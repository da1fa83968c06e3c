// grpc.health.v1: whether the server serves, asked once or watched.
#pragma once

#include <functional>
#include <string>
#include <vector>

#include "service/call.h"

namespace ferrule::service {

// The name under which it is told whether the server can write, apart from whether it is alive.
inline constexpr char kWriteService[] = "ferrule.v1.Write";

// `services` are the names that are known; the empty name stands for the whole server. `can_write`
// answers for kWriteService; null for a server that has nothing to write.
std::vector<Method> HealthMethods(std::vector<std::string> services,
                                  std::function<bool()> can_write = nullptr);

}  // namespace ferrule::service
