// A number and the word for what it counts.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>

#include "absl/strings/str_cat.h"

namespace ferrule::fact {

// "1 row", "0 rows", "7 rows"; the words may go on, as in "1 question is open".
inline std::string Counted(int64_t count, std::string_view one, std::string_view many) {
  return absl::StrCat(count, " ", std::string(count == 1 ? one : many));
}

}  // namespace ferrule::fact
