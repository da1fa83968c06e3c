// Bearer tokens: made from the system's own chance, shown once, kept as a digest, ended by their
// day or by name. A token is its id, a dot and a secret of 256 bits.
#pragma once

#include <cstdint>
#include <map>
#include <memory>
#include <mutex>
#include <string>
#include <string_view>
#include <vector>

#include "absl/status/status.h"
#include "absl/status/statusor.h"
#include "core/ledger/ledger.h"

namespace ferrule::guard {

// The longest life of a token, and how many of one principal are good at once: the old one and the
// new one while a program changes over.
inline constexpr int64_t kMostTokenLifeUs = int64_t{400} * 86'400 * 1'000'000;
inline constexpr int kMostGoodTokens = 2;

struct Token {
  std::string id;  // "t-4f2a...", no secret
  std::string principal;
  std::string digest;  // SHA-256 of the whole token
  int64_t create_us = 0;
  int64_t expire_us = 0;
  int64_t revoke_us = 0;  // 0 while it is not revoked
  std::string note;
  std::string issuer;  // empty for the owner of the depot's file
};

struct IssuedToken {
  std::string text;  // the whole token; nobody can show it again
  Token token;
};

// What became of a token that somebody showed.
enum class Verdict { kGood, kUnknown, kExpired, kRevoked };

struct Shown {
  Verdict verdict = Verdict::kUnknown;
  std::shared_ptr<const Token> token;  // null when unknown
};

// Thread-safe. What this process issues or revokes counts at once; what another process on the
// same database does counts from the next Refresh on. Nothing but the first look reads the store
// for a caller.
class Tokens {
 public:
  explicit Tokens(ledger::Ledger* ledger);

  // Reads all anew. Called once a second where other processes serve the same database.
  absl::Status Refresh();

  // Whether any token was ever issued: from then on callers say who they are.
  absl::StatusOr<bool> any();

  // FailedPrecondition when two tokens of the principal are good already. The caller has checked
  // principal, life and note.
  absl::StatusOr<IssuedToken> Issue(const Token& wanted, int64_t now_us);
  // NotFound when there is none; revoking again changes nothing.
  absl::StatusOr<Token> Revoke(const std::string& id, int64_t now_us);
  // Newest first.
  absl::StatusOr<std::vector<Token>> All();

  // Whose token it is. Says nothing of the reason to whoever does not hold its secret. Unavailable
  // when the store could not be asked for so long that a revocation may have been missed.
  absl::StatusOr<Shown> Check(std::string_view text, int64_t now_us);
  // Whether a token that was good still is.
  absl::StatusOr<Verdict> Still(const std::string& id, int64_t now_us);

 private:
  using TokenPtr = std::shared_ptr<const Token>;
  absl::Status Usable();
  absl::Status Load();

  ledger::Ledger& ledger_;
  const bool shared_;  // other processes may serve the same database
  std::mutex mutex_;
  bool loaded_ = false;
  int64_t loaded_us_ = 0;
  std::map<std::string, TokenPtr, std::less<>> by_id_;
};

}  // namespace ferrule::guard
