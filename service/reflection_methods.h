// grpc.reflection.v1alpha: the words of the service, for clients that have none of its files.
#pragma once

#include <string>
#include <vector>

#include "service/call.h"

namespace ferrule::service {

// `services` are the names that the list gives.
std::vector<Method> ReflectionMethods(std::vector<std::string> services);

}  // namespace ferrule::service
