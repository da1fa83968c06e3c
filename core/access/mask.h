// References of patients in any message, found by the name of their field and hidden.
#pragma once

#include <string_view>

#include "google/protobuf/message.h"

namespace ferrule::access {

// What stands in place of a reference that the reader may not see.
inline constexpr std::string_view kMasked = "masked";

// Whether a message of the type can hold a reference of a patient at any depth.
bool CanNamePatients(const google::protobuf::Descriptor& type);

// Hides every reference in the message, at any depth. Returns how many there were.
int MaskPatients(google::protobuf::Message* message);

// How many references the message holds.
int CountPatients(const google::protobuf::Message& message);

}  // namespace ferrule::access
