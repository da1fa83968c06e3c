#include "cli/entry_id.h"

#include <array>
#include <chrono>
#include <cstdint>
#include <random>

#include "core/fact/timed_id.h"

namespace ferrule::cli {

std::string NewEntryId() {
  std::random_device random;
  std::array<uint8_t, 10> chance;
  for (uint8_t& byte : chance) byte = static_cast<uint8_t>(random());
  const auto now = std::chrono::system_clock::now().time_since_epoch();
  return fact::TimedId(std::chrono::duration_cast<std::chrono::milliseconds>(now).count(), chance);
}

}  // namespace ferrule::cli
