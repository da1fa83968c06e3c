// The GS1 application identifiers that are read here, as a table.
#pragma once

#include <array>
#include <cstdint>
#include <string>
#include <string_view>

namespace ferrule::label {

// What a component of a value must be beside its characters and length.
enum class Lint : uint8_t {
  kNone,
  kCheckDigit,         // its last digit is the check digit
  kKey,                // begins with a company prefix: four digits at least
  kModelPair,          // ends with the two check characters of a model number, and is a key
  kDate,               // YYMMDD
  kDateOrMonth,        // YYMMDD, or YYMM00
  kHourMinute,         // HHMM
  kZeroAndCheckDigit,  // begins with 0, and its last digit is the check digit
  kPieceOfTotal,       // two digits each, neither 00, the first not above the second
};

struct Component {
  char set = 'N';  // 'N' digits, 'X' the 82 characters, 'Y' the 39
  int8_t min = 0;  // 0: may be left out
  int8_t max = 0;  // 0: no further component
  Lint lint = Lint::kNone;
};

struct Identifier {
  std::string_view code;  // "01"; "310n": n is a digit up to `last_n`
  std::string_view title;
  std::array<Component, 2> components;
  // Must come with one of these, and never with any of those; separated by blanks, empty for none.
  // Where it must come with one of each of several groups, a comma stands between them.
  std::string_view with = {};
  std::string_view never_with = {};
  char last_n = '5';
};

// The identifier that a text begins with; null when it begins with none of these.
const Identifier* FindIdentifier(std::string_view text);

// Whether a value with this identifier ends by its length, without a separator: by the first two
// digits of the code, however new the identifier is.
bool HasPredefinedLength(std::string_view code);

// Whether all characters are among those that a component may have.
bool InSet(char set, std::string_view text);

}  // namespace ferrule::label
