// Lists by page, put together up to --limit.
#pragma once

#include <algorithm>
#include <cstdint>
#include <string>

#include "cli/command.h"
#include "cli/session.h"
#include "cli/values.h"

namespace ferrule::cli {

inline constexpr int64_t kDefaultLimit = 1000;
inline constexpr Flag kLimitFlag{"--limit", "N", "at most this many rows; default 1000"};

// --limit, or the default. InvalidArgument below 1.
absl::StatusOr<int64_t> ReadLimit(Session& session);

// A line for standard error when a list was cut off.
void SayThereIsMore(Session& session, int64_t limit);

// Asks page after page; `rows` gives the repeated field of a response. The rows end up in `all`,
// whose page token is left as the last page's.
template <typename Method, typename Request, typename Response, typename Rows>
absl::Status AskPages(Session& session, Method method, Request request, Response* all, Rows rows) {
  const absl::StatusOr<int64_t> limit = ReadLimit(session);
  if (!limit.ok()) return limit.status();
  constexpr int64_t kPage = 1000;
  while (true) {
    const int64_t wanted = *limit - rows(*all)->size();
    request.set_page_size(static_cast<int32_t>(std::min(wanted, kPage)));
    Response page;
    const absl::Status asked = session.Ask(method, request, &page);
    if (!asked.ok()) return asked;
    rows(*all)->MergeFrom(*rows(page));
    all->set_next_page_token(page.next_page_token());
    if (page.next_page_token().empty()) return absl::OkStatus();
    if (rows(*all)->size() >= *limit) break;
    request.set_page_token(page.next_page_token());
  }
  SayThereIsMore(session, *limit);
  return absl::OkStatus();
}

}  // namespace ferrule::cli
