// Page tokens: where the next page begins, bound to the arguments of the list. Opaque to callers;
// a token authorises nothing.
#pragma once

#include <string>
#include <string_view>

#include "absl/status/statusor.h"
#include "google/protobuf/message_lite.h"

namespace ferrule::service {

// The token for the page after `last_key`. Empty for an empty key.
//   `arguments`  the list's request with page_token and page_size cleared
std::string MakePageToken(std::string_view last_key,
                          const google::protobuf::MessageLite& arguments);

// The key that the token was made with; empty for an empty token. InvalidArgument when it was not
// made for these arguments.
absl::StatusOr<std::string> ReadPageToken(std::string_view token,
                                          const google::protobuf::MessageLite& arguments);

// The size of a page: 0 means the default, more than the most means the most; InvalidArgument
// when negative.
absl::StatusOr<int> PageSize(int asked, int default_size);

}  // namespace ferrule::service
