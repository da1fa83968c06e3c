// Texts as they may stand in a fact.
#pragma once

#include <cstddef>
#include <string_view>

namespace ferrule::fact {

// Whether the bytes are UTF-8 without overlong forms and surrogates.
bool IsUtf8(std::string_view text);

// How many characters a UTF-8 text has.
size_t CountCharacters(std::string_view text);

}  // namespace ferrule::fact
