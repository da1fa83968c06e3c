// Flags shared by orders and hand-overs: motion and soft goods. Nothing is filled in that was not
// typed: a therapy setting comes from the prescriber's order and from nowhere else.
#pragma once

#include <vector>

#include "cli/command.h"
#include "cli/values.h"
#include "ferrule/v1/facts.pb.h"

namespace ferrule::cli {

// --extension, --flexion, --speed, --pause, --daily.
void AddMotionFlags(std::vector<Flag>* flags);
// Whether any of them was given; only those given are set.
bool ReadMotion(Values& values, v1::Motion* motion);

// --kit ITEM=LOT or ITEM=LOT*PIECES.
inline constexpr Flag kKitFlag{"--kit", "ITEM=LOT",
                               "soft goods left with the patient; ITEM=LOT*2 for two pieces", true};
void ReadKit(const Line& line, Values& values,
             google::protobuf::RepeatedPtrField<v1::KitItem>* kit);

}  // namespace ferrule::cli
