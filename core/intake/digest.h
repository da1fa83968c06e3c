// Digests of messages and the keyed ones of patients' numbers.
#pragma once

#include <string>
#include <string_view>

namespace ferrule::intake {

std::string Sha256(std::string_view bytes);                     // 32 bytes
std::string Hmac(std::string_view key, std::string_view text);  // HMAC-SHA-256, 32 bytes
std::string HexOf(std::string_view bytes);                      // lower case
std::string RandomBytes(int count);                             // from the system's own source

}  // namespace ferrule::intake
