#include <algorithm>
#include <cstdint>
#include <set>

#include "core/depot/settings_book.h"

namespace ferrule::depot {
namespace {

// Only settings change here, and rarely, so comparing by bytes is good enough.
bool Same(const Rules& a, const Rules& b) {
  return a.settings().SerializeAsString() == b.settings().SerializeAsString();
}

}  // namespace

int64_t FirstDifference(const SettingsBook& a, const SettingsBook& b) {
  std::set<int64_t> instants;
  for (const SettingsBook::Version& v : a.versions_) instants.insert(v.from_us);
  for (const SettingsBook::Version& v : b.versions_) instants.insert(v.from_us);
  for (int64_t us : instants) {
    if (!Same(a.At(us), b.At(us))) return us;
  }
  return INT64_MAX;
}

}  // namespace ferrule::depot
