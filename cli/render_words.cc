#include "cli/render_words.h"

#include <algorithm>
#include <cctype>
#include <vector>

#include "absl/strings/str_cat.h"
#include "absl/strings/str_join.h"
#include "core/time/civil.h"

namespace ferrule::cli {
namespace {

// "HOLD_KIND_" for HoldKind: what the style of the protos puts before each value's own name.
std::string Prefix(const std::string& enum_name) {
  std::string prefix;
  for (const char c : enum_name) {
    const bool capital = std::isupper(static_cast<unsigned char>(c)) != 0;
    if (capital && !prefix.empty()) prefix += '_';
    prefix += static_cast<char>(std::toupper(static_cast<unsigned char>(c)));
  }
  return prefix + "_";
}

}  // namespace

std::string EnumWord(const google::protobuf::EnumDescriptor* descriptor, int number) {
  if (number == 0) return "";
  const auto* value = descriptor->FindValueByNumber(number);
  if (value == nullptr) return "other";
  std::string word = value->name().substr(Prefix(descriptor->name()).size());
  for (char& c : word) {
    c = c == '_' ? ' ' : static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
  }
  return word;
}

std::string Hours(int64_t seconds) {
  const bool negative = seconds < 0;
  const int64_t tenths = ((negative ? -seconds : seconds) + 180) / 360;
  return absl::StrCat(negative && tenths > 0 ? "-" : "", tenths / 10, ".", tenths % 10);
}

std::string Number(double value) { return absl::StrCat(value); }

std::string Day(const google::type::Date& date) {
  return time::IsValid(date) ? time::FormatDay(time::ToDay(date)) : std::string();
}

std::string Local(const google::protobuf::Timestamp& time, absl::TimeZone zone) {
  if (time.seconds() == 0 && time.nanos() == 0) return "";
  return time::FormatLocal(time::ToMicros(time), zone);
}

std::string StampWords(const v1::Stamp& stamp, absl::TimeZone zone) {
  const std::string when = Local(stamp.time(), zone);
  if (when.empty() || stamp.actor().empty()) return when;
  return absl::StrCat(when, " by ", stamp.actor());
}

std::string MotionWords(const v1::Motion& motion) {
  std::vector<std::string> words;
  if (motion.has_extension_deg()) {
    words.push_back(absl::StrCat("extension ", Number(motion.extension_deg()), " deg"));
  }
  if (motion.has_flexion_deg()) {
    words.push_back(absl::StrCat("flexion ", Number(motion.flexion_deg()), " deg"));
  }
  if (motion.has_speed_deg_per_min()) {
    words.push_back(absl::StrCat(Number(motion.speed_deg_per_min()), " deg/min"));
  }
  if (motion.has_pause_s()) words.push_back(absl::StrCat("pause ", motion.pause_s(), " s"));
  if (motion.has_daily_use_s()) {
    words.push_back(absl::StrCat(Hours(motion.daily_use_s()), " h a day"));
  }
  return absl::StrJoin(words, ", ");
}

std::string PromiseWords(const v1::StandingPromise& promise) {
  return absl::StrCat(Day(promise.from_date()), " to ", Day(promise.through_date()),
                      promise.firm() ? ", firm" : "");
}

std::string Joined(const google::protobuf::RepeatedPtrField<std::string>& words) {
  return absl::StrJoin(words, ", ");
}

}  // namespace ferrule::cli
