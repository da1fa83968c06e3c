// Small things in words: enums, hours, days, stamps.
#pragma once

#include <cstdint>
#include <string>

#include "absl/time/time.h"
#include "core/fact/subject.h"
#include "ferrule/v1/common.pb.h"
#include "ferrule/v1/facts.pb.h"
#include "ferrule/v1/promise.pb.h"
#include "google/protobuf/generated_enum_reflection.h"
#include "google/protobuf/timestamp.pb.h"
#include "google/type/date.pb.h"

namespace ferrule::cli {

// An enum value as a word: CUSTODY_LEFT_FLEET is "left fleet"; the zero value is empty; a value
// that this program does not know is "other".
std::string EnumWord(const google::protobuf::EnumDescriptor* descriptor, int number);
template <typename Enum>
std::string Word(Enum value) {
  return EnumWord(google::protobuf::GetEnumDescriptor<Enum>(), static_cast<int>(value));
}

// Seconds as hours with one decimal, rounded half away from nought: 4500 is "1.3".
std::string Hours(int64_t seconds);
// A number without needless noughts: 10, -5, 0.25.
std::string Number(double value);
// "2026-11-25"; empty for an unset day.
std::string Day(const google::type::Date& date);
// "2026-11-25 14:05" in the zone; empty for an unset time.
std::string Local(const google::protobuf::Timestamp& time, absl::TimeZone zone);
// "2026-11-25 14:05 by tech-ada"; empty for an unset stamp.
std::string StampWords(const v1::Stamp& stamp, absl::TimeZone zone);
// "extension 0, flexion 90 deg, 30 deg/min, pause 5 s, 6.0 h a day"; only what is given.
std::string MotionWords(const v1::Motion& motion);
// "2026-12-14 to 2027-01-09, firm".
std::string PromiseWords(const v1::StandingPromise& promise);
using fact::BareId;
std::string Joined(const google::protobuf::RepeatedPtrField<std::string>& words);

}  // namespace ferrule::cli
