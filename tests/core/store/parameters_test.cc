#include "core/store/connection.h"
#include "gmock/gmock.h"
#include "gtest/gtest.h"

namespace ferrule::store {
namespace {

bool Ascend(const char* text) { return ParametersAscend({"statement_name", text}).ok(); }

TEST(StoreParameters, AscendingFirstAppearancePasses) {
  EXPECT_TRUE(Ascend("SELECT 1"));
  EXPECT_TRUE(Ascend("SELECT $1, $2, $1, $3"));
  EXPECT_TRUE(Ascend("SELECT $1,$2,$3,$4,$5,$6,$7,$8,$9,$10,$11"));
}

TEST(StoreParameters, ALaterNumberFirstIsFound) {
  EXPECT_FALSE(Ascend("SELECT * FROM t WHERE n >= $2 AND id = $1"));
  EXPECT_FALSE(Ascend("SELECT $1, $3"));
  EXPECT_FALSE(Ascend("SELECT $2"));
  EXPECT_FALSE(Ascend("SELECT $1, $11"));
}

TEST(StoreParameters, ANumberThatIsNoneIsFound) {
  EXPECT_FALSE(Ascend("SELECT $0"));
  EXPECT_FALSE(Ascend("SELECT $"));
  EXPECT_FALSE(Ascend("SELECT $name"));
  EXPECT_FALSE(Ascend("SELECT $1, $99999999999999999999"));
}

TEST(StoreParameters, QuotedTextAndCommentsDoNotCount) {
  EXPECT_TRUE(Ascend("SELECT '$9', \"$8\", $1 -- $7\n, $2 /* $6 */"));
  EXPECT_TRUE(Ascend("SELECT 'it''s $5', $1"));
  EXPECT_FALSE(Ascend("SELECT 'text', $2"));
}

TEST(StoreParameters, TheMessageNamesStatementAndPlace) {
  const absl::Status status = ParametersAscend({"statement_name", "SELECT $3"});
  EXPECT_THAT(std::string(status.message()),
              ::testing::AllOf(::testing::HasSubstr("statement_name"), ::testing::HasSubstr("$3"),
                               ::testing::HasSubstr("$1")));
}

}  // namespace
}  // namespace ferrule::store
