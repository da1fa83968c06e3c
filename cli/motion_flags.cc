#include "cli/motion_flags.h"

#include "cli/line.h"

namespace ferrule::cli {

void AddMotionFlags(std::vector<Flag>* flags) {
  flags->push_back({"--extension", "DEG", "extension limit, degrees; negative is hyperextension"});
  flags->push_back({"--flexion", "DEG", "flexion limit, degrees"});
  flags->push_back({"--speed", "DEG/MIN", "speed, degrees a minute"});
  flags->push_back({"--pause", "SECONDS", "pause at each end, seconds"});
  flags->push_back({"--daily", "HOURS", "use a day, hours"});
}

bool ReadMotion(Values& values, v1::Motion* motion) {
  v1::Motion given;
  IfGiven(values.Number("--extension"), [&](double v) { given.set_extension_deg(v); });
  IfGiven(values.Number("--flexion"), [&](double v) { given.set_flexion_deg(v); });
  IfGiven(values.Number("--speed"), [&](double v) { given.set_speed_deg_per_min(v); });
  IfGiven(values.Whole("--pause"), [&](int64_t v) { given.set_pause_s(v); });
  IfGiven(values.Hours("--daily"), [&](int64_t v) { given.set_daily_use_s(v); });
  if (given.ByteSizeLong() == 0) return false;
  *motion = given;
  return true;
}

void ReadKit(const Line& line, Values& values,
             google::protobuf::RepeatedPtrField<v1::KitItem>* kit) {
  for (const std::string& text : line.All("--kit")) {
    const auto pair = ParsePair(text);
    if (!pair.ok()) {
      values.Fail("--kit", pair.status());
      return;
    }
    v1::KitItem& item = *kit->Add();
    item.set_item(pair->first);
    item.set_piece_count(1);
    const size_t star = pair->second.find('*');
    item.set_lot(pair->second.substr(0, star));
    if (star == std::string::npos) continue;
    const auto pieces = ParseWhole(pair->second.substr(star + 1));
    if (!pieces.ok() || *pieces < INT32_MIN || *pieces > INT32_MAX) {
      values.Fail("--kit",
                  absl::InvalidArgumentError("write pieces behind a star, as in pad=L5*2"));
      return;
    }
    item.set_piece_count(static_cast<int32_t>(*pieces));
  }
}

}  // namespace ferrule::cli
