// Check digits and check characters of labels. Each function takes the text without its check
// characters and gives them; nothing when the text has a character that the rule does not know.
#pragma once

#include <optional>
#include <string>
#include <string_view>

namespace ferrule::label {

// GS1 keys: weights 3 and 1 alternating from the right, the distance to the next multiple of ten
// (GS1, "How to calculate a check digit manually").
std::optional<char> Mod10(std::string_view digits);

// HIBC: the sum of the characters' values modulo 43, 0-9 A-Z - . space $ / + % standing for 0
// to 42.
std::optional<char> Mod43(std::string_view text);

// ISO/IEC 7064 MOD 37,36 over digits and letters, which count alike in either case.
std::optional<char> Mod37And36(std::string_view text);

// GS1 global model numbers: two characters, the weighted sum modulo 1021, the weights being primes
// from the right (GS1 General Specifications, "check character pair"; from memory, held against two
// other programs by the tests).
std::optional<std::string> ModelNumberPair(std::string_view text);

bool IsDigits(std::string_view text);

}  // namespace ferrule::label
