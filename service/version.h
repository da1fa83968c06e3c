// The program's version, as the build file states it.
#pragma once

namespace ferrule::service {

inline constexpr char kVersion[] = FERRULE_VERSION;

}  // namespace ferrule::service
