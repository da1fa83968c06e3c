#include "cli/arrival_flags.h"

namespace ferrule::cli {

std::vector<Flag> ArrivalFlags() {
  return {{"--meter", "HOURS", "meter reading, 1234.5"},
          {"--serial", "SERIAL", "the maker's serial number as read on it"},
          {"--part", "POSITION=PART", "a part seen in it, for instance pendant=PEN-88", true},
          {"--accessory", "POSITION", "accessory seen; what is not named counts as missing", true},
          {"--no-accessories", "", "accessories were looked for and none was there"},
          {"--condition", "TEXT", "visible condition"}};
}

void ReadArrival(const Line& line, Values& values, v1::ReceivedBack* fact) {
  fact->set_unit(line.Arg("UNIT"));
  fact->set_place(line.Arg("PLACE"));
  IfGiven(values.Hours("--meter"), [&](int64_t v) { fact->set_meter_s(v); });
  IfGiven(line.Get("--serial"), [&](const std::string& v) { fact->set_serial(v); });
  IfGiven(line.Get("--condition"), [&](const std::string& v) { fact->set_condition(v); });
  for (const std::string& text : line.All("--part")) {
    const auto pair = ParsePair(text);
    if (!pair.ok()) return values.Fail("--part", pair.status());
    v1::PartInPosition& part = *fact->add_parts();
    part.set_position(pair->first);
    part.set_part(pair->second);
  }
  for (const std::string& position : line.All("--accessory")) fact->add_accessories(position);
  fact->set_accessories_counted(line.Has("--no-accessories") || !fact->accessories().empty());
  if (line.Has("--no-accessories") && !fact->accessories().empty()) {
    values.Fail("--no-accessories",
                absl::InvalidArgumentError("is given beside --accessory; leave one of them out"));
  }
}

}  // namespace ferrule::cli
