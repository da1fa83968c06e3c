#include "core/unit/electrical.h"

namespace ferrule::unit {
namespace {

// Whether a limit that asks for `wanted` (0 for any) holds for `given`.
bool Holds(int wanted, int given) { return wanted == 0 || wanted == given; }

}  // namespace

LimitOrLack FindLimit(const v1::ElectricalProfile* profile, const std::string& quantity,
                      const Measured& measured) {
  if (profile == nullptr) return {nullptr, "a profile of electrical limits in the settings"};
  const v1::ElectricalLimit* found = nullptr;
  bool class_lacks = false;
  bool part_lacks = false;
  bool method_lacks = false;
  for (const v1::ElectricalLimit& limit : profile->limits()) {
    if (limit.quantity() != quantity) continue;
    class_lacks |= limit.electrical_class() != 0 && measured.electrical_class == 0;
    const bool same_class = measured.electrical_class == 0 ||
                            Holds(limit.electrical_class(), measured.electrical_class);
    if (!same_class) continue;
    part_lacks |= limit.applied_part() != 0 && measured.applied_part == 0;
    method_lacks |= limit.method() != 0 && measured.method == 0;
    if (Holds(limit.electrical_class(), measured.electrical_class) &&
        Holds(limit.applied_part(), measured.applied_part) &&
        Holds(limit.method(), measured.method)) {
      found = &limit;
    }
  }
  if (class_lacks) return {nullptr, "the class of protection"};
  if (part_lacks) return {nullptr, "the type of applied part"};
  if (method_lacks) return {nullptr, "the method"};
  if (found == nullptr) return {nullptr, "a limit for this case in profile " + profile->id()};
  return {found, ""};
}

}  // namespace ferrule::unit
