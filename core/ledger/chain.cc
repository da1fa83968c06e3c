#include "core/ledger/chain.h"

#include <openssl/evp.h>

#include <memory>
#include <optional>

#include "core/fact/timed_id.h"
#include "core/time/civil.h"
#include "ferrule/v1/ledger_service.pb.h"
#include "google/protobuf/io/coded_stream.h"

namespace ferrule::ledger {
namespace {

// One context a thread: making one costs more than hashing an entry.
EVP_MD_CTX* Context() {
  struct Free {
    void operator()(EVP_MD_CTX* c) const { EVP_MD_CTX_free(c); }
  };
  thread_local std::unique_ptr<EVP_MD_CTX, Free> context(EVP_MD_CTX_new());
  return context.get();
}

std::string Digest(std::string_view a, std::string_view b) {
  // Fetched once: EVP_sha256() is looked up anew by every use.
  static const EVP_MD* const kSha256 = EVP_MD_fetch(nullptr, "SHA256", nullptr);
  std::string out(32, '\0');
  unsigned size = 0;
  EVP_MD_CTX* context = Context();
  EVP_DigestInit_ex(context, kSha256, nullptr);
  EVP_DigestUpdate(context, a.data(), a.size());
  EVP_DigestUpdate(context, b.data(), b.size());
  EVP_DigestFinal_ex(context, reinterpret_cast<unsigned char*>(out.data()), &size);
  return out;
}

// Of the 63 bits of a key that is not negative.
constexpr int kTimeBits = 43;
constexpr int kHashBits = 20;

}  // namespace

std::string Sha256(std::string_view bytes) { return Digest(bytes, {}); }

std::string ChainDigest(std::string_view previous, std::string_view entry_bytes) {
  return Digest(previous, entry_bytes);
}

int64_t EntryKey(std::string_view entry_id) {
  const std::string digest = Sha256(entry_id);
  uint64_t hash = 0;
  for (int i = 0; i < 8; ++i) hash = hash << 8 | static_cast<unsigned char>(digest[i]);
  const std::optional<int64_t> made_ms = fact::MadeMs(entry_id);
  if (!made_ms.has_value() || *made_ms >> kTimeBits != 0) return static_cast<int64_t>(hash);
  return *made_ms << kHashBits | static_cast<int64_t>(hash >> (64 - kHashBits));
}

std::string StoredBytes(int64_t sequence, int64_t recorded_us, std::string_view principal,
                        std::string_view entry_bytes) {
  v1::LedgerEntry header;
  header.set_sequence(sequence);
  time::SetMicros(recorded_us, header.mutable_recorded_time());
  if (!principal.empty()) header.set_principal(principal.data(), principal.size());
  std::string out;
  out.reserve(header.ByteSizeLong() + entry_bytes.size() + 8);
  header.AppendToString(&out);
  // A length-delimited field appended to a serialized message is that message with the field set.
  constexpr uint8_t kTag = v1::LedgerEntry::kEntryFieldNumber << 3 | 2;
  uint8_t prefix[8] = {kTag};
  uint8_t* end = google::protobuf::io::CodedOutputStream::WriteVarint32ToArray(
      static_cast<uint32_t>(entry_bytes.size()), prefix + 1);
  out.append(reinterpret_cast<char*>(prefix), static_cast<size_t>(end - prefix));
  out.append(entry_bytes);
  return out;
}

}  // namespace ferrule::ledger
