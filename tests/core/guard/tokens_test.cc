#include "core/guard/tokens.h"

#include <gtest/gtest.h>

#include <fstream>
#include <set>
#include <sstream>

#include "tests/support/entries.h"
#include "tests/support/ledger_depot.h"

namespace ferrule::guard {
namespace {

using testing::kDayUs;
using testing::LedgerDepot;

class TokensTest : public testing::OnEveryEngine {
 protected:
  int64_t now() { return depot_.clock().NowMicros(); }
  absl::StatusOr<IssuedToken> Issue(const std::string& who, int64_t days = 30) {
    Token wanted;
    wanted.principal = who;
    wanted.expire_us = now() + days * kDayUs;
    return tokens_.Issue(wanted, now());
  }
  Verdict Check(const std::string& text) { return tokens_.Check(text, now())->verdict; }

  LedgerDepot depot_{GetParam()};
  Tokens tokens_{&depot_.ledger()};
};

TEST_P(TokensTest, IsKnownByItsWholeTextAlone) {
  EXPECT_FALSE(*tokens_.any());
  const auto issued = Issue("tech-ada");
  ASSERT_TRUE(issued.ok()) << issued.status();
  EXPECT_TRUE(*tokens_.any());
  const auto shown = tokens_.Check(issued->text, now());
  EXPECT_EQ(shown->verdict, Verdict::kGood);
  EXPECT_EQ(shown->token->principal, "tech-ada");
  std::string wrong = issued->text;
  wrong.back() = wrong.back() == '0' ? '1' : '0';
  EXPECT_EQ(Check(wrong), Verdict::kUnknown);
  EXPECT_EQ(Check(issued->token.id), Verdict::kUnknown);
  EXPECT_EQ(Check(""), Verdict::kUnknown);
  EXPECT_EQ(Check(issued->text + "0"), Verdict::kUnknown);
}

TEST_P(TokensTest, HasASecretOf256BitsThatDiffersEachTime) {
  std::set<std::string> secrets;
  for (int i = 0; i < 20; ++i) {
    const auto issued = Issue("tech-" + std::to_string(i));
    const std::string secret = issued->text.substr(issued->text.find('.') + 1);
    EXPECT_EQ(secret.size(), 64u);  // hexadecimal
    EXPECT_TRUE(secrets.insert(secret).second);
  }
}

TEST_P(TokensTest, EndsWithItsTime) {
  const auto issued = Issue("tech-ada", 1);
  depot_.clock().Set(now() + kDayUs - 1);
  EXPECT_EQ(Check(issued->text), Verdict::kGood);
  depot_.clock().Set(now() + 1);
  EXPECT_EQ(Check(issued->text), Verdict::kExpired);
  EXPECT_EQ(*tokens_.Still(issued->token.id, now()), Verdict::kExpired);
}

TEST_P(TokensTest, IsRevokedAtOnceAndForGood) {
  const auto issued = Issue("tech-ada");
  const auto revoked = tokens_.Revoke(issued->token.id, now());
  ASSERT_TRUE(revoked.ok()) << revoked.status();
  EXPECT_EQ(Check(issued->text), Verdict::kRevoked);
  depot_.clock().Set(now() + kDayUs);
  EXPECT_EQ(tokens_.Revoke(issued->token.id, now())->revoke_us, revoked->revoke_us);
  EXPECT_EQ(tokens_.Revoke("t-none", now()).status().code(), absl::StatusCode::kNotFound);
}

TEST_P(TokensTest, TwoAreGoodWhileOneChangesOverAndNotThree) {
  const auto first = Issue("tech-ada");
  const auto second = Issue("tech-ada");
  EXPECT_EQ(Check(first->text), Verdict::kGood);
  EXPECT_EQ(Check(second->text), Verdict::kGood);
  EXPECT_EQ(Issue("tech-ada").status().code(), absl::StatusCode::kFailedPrecondition);
  EXPECT_TRUE(Issue("tech-bo").ok());
  ASSERT_TRUE(tokens_.Revoke(first->token.id, now()).ok());
  EXPECT_TRUE(Issue("tech-ada").ok());
}

TEST_P(TokensTest, AnotherProcessKnowsWhenItLooksAnew) {
  Tokens other(&depot_.ledger());
  EXPECT_FALSE(*other.any());
  const auto issued = Issue("tech-ada");
  EXPECT_EQ(other.Check(issued->text, now())->verdict, Verdict::kUnknown);
  ASSERT_EQ(other.Refresh(), absl::OkStatus());
  EXPECT_EQ(other.Check(issued->text, now())->verdict, Verdict::kGood);
  ASSERT_TRUE(tokens_.Revoke(issued->token.id, now()).ok());
  ASSERT_EQ(other.Refresh(), absl::OkStatus());
  EXPECT_EQ(other.Check(issued->text, now())->verdict, Verdict::kRevoked);
}

TEST_P(TokensTest, WhereOthersMayRevokeAnOldListLetsNobodyIn) {
  const auto issued = Issue("tech-ada");
  EXPECT_EQ(Check(issued->text), Verdict::kGood);
  depot_.clock().Set(now() + 61'000'000);
  // A file has one process alone, whose list is never old.
  const auto shown = tokens_.Check(issued->text, now());
  const auto expected =
      GetParam() == "sqlite" ? absl::StatusCode::kOk : absl::StatusCode::kUnavailable;
  EXPECT_EQ(shown.status().code(), expected);
  ASSERT_EQ(tokens_.Refresh(), absl::OkStatus());
  EXPECT_EQ(Check(issued->text), Verdict::kGood);
}

TEST_P(TokensTest, NoSecretReachesTheFile) {
  if (GetParam() != "sqlite") {
    bool seen = false;
    const auto issued = Issue("tech-ada");
    ASSERT_TRUE(depot_.ledger()
                    .WithReader([&](store::Connection& c) {
                      return c.Run({"dump_tokens", "SELECT id, digest FROM tokens"}, {},
                                   [&](const store::Row& row) {
                                     seen = true;
                                     EXPECT_NE(row.Bytes(1), issued->text);
                                     EXPECT_EQ(row.Bytes(1).size(), 32u);
                                   });
                    })
                    .ok());
    EXPECT_TRUE(seen);
    return;
  }
  const auto issued = Issue("tech-ada");
  const std::string secret = issued->text.substr(issued->text.find('.') + 1);
  for (const char* ending : {"", "-wal"}) {
    std::ifstream file(depot_.path() + ending, std::ios::binary);
    std::stringstream bytes;
    bytes << file.rdbuf();
    EXPECT_EQ(bytes.str().find(secret), std::string::npos) << ending;
  }
}

FERRULE_ON_EVERY_ENGINE(TokensTest);

}  // namespace
}  // namespace ferrule::guard
