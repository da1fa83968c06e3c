#include "core/guard/tokens.h"

#include <algorithm>
#include <memory>
#include <utility>

#include "absl/strings/str_cat.h"
#include "core/guard/queries.h"
#include "core/guard/write.h"
#include "core/intake/digest.h"
#include "openssl/crypto.h"

namespace ferrule::guard {
namespace {

using store::Value;

constexpr int kIdBytes = 8;
constexpr int kSecretBytes = 32;
// A list that is older than this may lack a revocation, and lets nobody in.
constexpr int64_t kOldestListUs = int64_t{60} * 1'000'000;

Verdict Judge(const Token& token, int64_t now_us) {
  if (token.revoke_us != 0) return Verdict::kRevoked;
  return now_us >= token.expire_us ? Verdict::kExpired : Verdict::kGood;
}

Token TokenOf(const store::Row& row) {
  Token token;
  token.id = std::string(row.Bytes(0));
  token.principal = std::string(row.Bytes(1));
  token.digest = std::string(row.Bytes(2));
  token.create_us = row.Int(3);
  token.expire_us = row.Int(4);
  token.revoke_us = row.Int(5);
  token.note = std::string(row.Bytes(6));
  token.issuer = std::string(row.Bytes(7));
  return token;
}

absl::Status TooMany(const std::string& principal) {
  return absl::FailedPreconditionError(
      absl::StrCat(principal, " has ", kMostGoodTokens,
                   " tokens that are good, which is enough to change over; revoke one first: "
                   "ferrule token revoke ID"));
}

}  // namespace

Tokens::Tokens(ledger::Ledger* ledger)
    : ledger_(*ledger), shared_(!ledger->engine().starts_with("sqlite")) {}

// Under the mutex.
absl::Status Tokens::Load() {
  const int64_t now_us = ledger_.clock().NowMicros();
  std::map<std::string, TokenPtr, std::less<>> all;
  absl::Status status = ledger_.WithReader([&](store::Connection& connection) {
    all.clear();
    return connection.Run(sql::kAllTokens, {}, [&](const store::Row& row) {
      auto token = std::make_shared<const Token>(TokenOf(row));
      std::string id = token->id;
      all.emplace(std::move(id), std::move(token));
    });
  });
  if (!status.ok()) return status;
  by_id_ = std::move(all);
  loaded_ = true;
  loaded_us_ = now_us;
  return absl::OkStatus();
}

absl::Status Tokens::Refresh() {
  const std::lock_guard lock(mutex_);
  return Load();
}

// Under the mutex.
absl::Status Tokens::Usable() {
  if (!loaded_) return Load();
  if (!shared_ || ledger_.clock().NowMicros() - loaded_us_ <= kOldestListUs) {
    return absl::OkStatus();
  }
  return absl::UnavailableError(
      "the database has not said for a minute which tokens are good; try again once it answers");
}

absl::StatusOr<bool> Tokens::any() {
  const std::lock_guard lock(mutex_);
  if (absl::Status usable = Usable(); !usable.ok()) return usable;
  return !by_id_.empty();
}

absl::StatusOr<IssuedToken> Tokens::Issue(const Token& wanted, int64_t now_us) {
  IssuedToken issued;
  issued.token = wanted;
  issued.token.id = "t-" + intake::HexOf(intake::RandomBytes(kIdBytes));
  issued.text =
      absl::StrCat(issued.token.id, ".", intake::HexOf(intake::RandomBytes(kSecretBytes)));
  issued.token.digest = intake::Sha256(issued.text);
  issued.token.create_us = now_us;
  issued.token.revoke_us = 0;
  const auto row = std::make_shared<const Token>(issued.token);
  const auto too_many = std::make_shared<bool>(false);
  absl::Status written = WriteAndWait(ledger_, [row, too_many, now_us](store::Connection& c) {
    int64_t good = 0;
    const Value asked[] = {Value::Text(row->principal), Value::Int(now_us)};
    absl::Status counted =
        c.Run(sql::kGoodTokens, asked, [&good](const store::Row& r) { good = r.Int(0); });
    *too_many = good >= kMostGoodTokens;
    if (!counted.ok() || *too_many) return counted;
    const Value values[] = {Value::Text(row->id),       Value::Text(row->principal),
                            Value::Blob(row->digest),   Value::Int(row->create_us),
                            Value::Int(row->expire_us), Value::Text(row->note),
                            Value::Text(row->issuer)};
    return c.Run(sql::kAddToken, values);
  });
  if (!written.ok()) return written;
  if (*too_many) return TooMany(wanted.principal);
  const std::lock_guard lock(mutex_);
  by_id_[row->id] = row;
  return issued;
}

absl::StatusOr<Token> Tokens::Revoke(const std::string& id, int64_t now_us) {
  absl::Status written = WriteAndWait(ledger_, [id, now_us](store::Connection& c) {
    const Value values[] = {Value::Int(now_us), Value::Text(id)};
    return c.Run(sql::kRevokeToken, values);
  });
  if (!written.ok()) return written;
  const std::lock_guard lock(mutex_);
  if (absl::Status loaded = Load(); !loaded.ok()) return loaded;
  const auto token = by_id_.find(id);
  if (token == by_id_.end()) {
    return absl::NotFoundError(
        absl::StrCat("there is no token ", id, "; ferrule token list shows them all"));
  }
  return *token->second;
}

absl::StatusOr<std::vector<Token>> Tokens::All() {
  std::vector<Token> out;
  const std::lock_guard lock(mutex_);
  if (absl::Status loaded = Load(); !loaded.ok()) return loaded;
  for (const auto& [id, token] : by_id_) out.push_back(*token);
  std::sort(out.begin(), out.end(), [](const Token& a, const Token& b) {
    return a.create_us != b.create_us ? a.create_us > b.create_us : a.id < b.id;
  });
  return out;
}

absl::StatusOr<Shown> Tokens::Check(std::string_view text, int64_t now_us) {
  const std::string digest = intake::Sha256(text);
  const std::lock_guard lock(mutex_);
  if (absl::Status usable = Usable(); !usable.ok()) return usable;
  const auto found = by_id_.find(text.substr(0, text.find('.')));
  if (found == by_id_.end()) return Shown{};
  const Token& token = *found->second;
  // In constant time, so that the time taken tells nothing about the digest.
  if (digest.size() != token.digest.size() ||
      CRYPTO_memcmp(digest.data(), token.digest.data(), digest.size()) != 0) {
    return Shown{};
  }
  return Shown{Judge(token, now_us), found->second};
}

absl::StatusOr<Verdict> Tokens::Still(const std::string& id, int64_t now_us) {
  const std::lock_guard lock(mutex_);
  if (absl::Status usable = Usable(); !usable.ok()) return usable;
  const auto found = by_id_.find(id);
  return found == by_id_.end() ? Verdict::kUnknown : Judge(*found->second, now_us);
}

}  // namespace ferrule::guard
