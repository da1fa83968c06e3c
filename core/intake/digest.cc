#include "core/intake/digest.h"

#include <openssl/evp.h>
#include <openssl/hmac.h>
#include <openssl/rand.h>

#include "absl/strings/escaping.h"
#include "core/intake/intake.h"
#include "core/ledger/chain.h"

namespace ferrule::intake {

std::string Sha256(std::string_view bytes) { return ledger::Sha256(bytes); }

std::string Hmac(std::string_view key, std::string_view text) {
  std::string out(EVP_MAX_MD_SIZE, '\0');
  unsigned int size = 0;
  HMAC(EVP_sha256(), key.data(), static_cast<int>(key.size()),
       reinterpret_cast<const unsigned char*>(text.data()), text.size(),
       reinterpret_cast<unsigned char*>(out.data()), &size);
  out.resize(size);
  return out;
}

std::string HexOf(std::string_view bytes) { return absl::BytesToHexString(std::string(bytes)); }

std::string RandomBytes(int count) {
  std::string out(static_cast<size_t>(count), '\0');
  RAND_bytes(reinterpret_cast<unsigned char*>(out.data()), count);
  return out;
}

std::string HexDigest(std::string_view bytes) { return HexOf(Sha256(bytes)); }

}  // namespace ferrule::intake
