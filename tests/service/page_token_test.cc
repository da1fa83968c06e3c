#include "service/page_token.h"

#include <gtest/gtest.h>

#include "ferrule/v1/depot_service.pb.h"
#include "service/limits.h"

namespace ferrule::service {
namespace {

v1::ListUnitsRequest Arguments(const std::string& branch) {
  v1::ListUnitsRequest request;
  request.set_branch(branch);
  return request;
}

TEST(PageToken, GivesItsKeyBack) {
  for (const std::string& key : {std::string("units/K-1"), std::string("a"),
                                 std::string("\0\xFF", 2), std::string(200, 'z')}) {
    const std::string token = MakePageToken(key, Arguments("north"));
    const auto read = ReadPageToken(token, Arguments("north"));
    ASSERT_TRUE(read.ok()) << read.status();
    EXPECT_EQ(*read, key);
  }
}

TEST(PageToken, NoKeyIsNoTokenAndNoTokenIsNoKey) {
  EXPECT_EQ(MakePageToken("", Arguments("north")), "");
  EXPECT_EQ(*ReadPageToken("", Arguments("north")), "");
}

TEST(PageToken, FitsItsArgumentsAndItsListOnly) {
  const std::string token = MakePageToken("units/K-1", Arguments("north"));
  EXPECT_FALSE(ReadPageToken(token, Arguments("west")).ok());
  v1::ListOrdersRequest orders;  // the same bytes in another list
  orders.set_branch("north");
  EXPECT_FALSE(ReadPageToken(token, orders).ok());
}

TEST(PageToken, AnyChangedCharacterIsFoundOrGivesAnotherKeyOnly) {
  const std::string token = MakePageToken("units/K-1", Arguments("north"));
  for (size_t i = 0; i < 11; ++i) {  // format and hash
    std::string changed = token;
    changed[i] = changed[i] == 'A' ? 'B' : 'A';
    EXPECT_FALSE(ReadPageToken(changed, Arguments("north")).ok()) << i;
  }
  EXPECT_FALSE(ReadPageToken(std::string(kMaxPageTokenBytes + 1, 'A'), Arguments("north")).ok());
}

TEST(PageSize, DefaultsAndBounds) {
  EXPECT_EQ(*PageSize(0, 50), 50);
  EXPECT_EQ(*PageSize(7, 50), 7);
  EXPECT_EQ(*PageSize(5000, 50), kMaxPageSize);
  EXPECT_EQ(PageSize(-1, 50).status().code(), absl::StatusCode::kInvalidArgument);
}

}  // namespace
}  // namespace ferrule::service
