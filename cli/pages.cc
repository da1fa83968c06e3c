#include "cli/pages.h"

#include "absl/strings/str_cat.h"

namespace ferrule::cli {

absl::StatusOr<int64_t> ReadLimit(Session& session) {
  Values values(session);
  const int64_t limit = values.Whole("--limit").value_or(kDefaultLimit);
  if (!values.status().ok()) return values.status();
  if (limit < 1) return absl::InvalidArgumentError("--limit: write a number from 1 up");
  return limit;
}

void SayThereIsMore(Session& session, int64_t limit) {
  session.Remark(absl::StrCat("only the first ", limit, " are shown; ask for more with --limit"));
}

}  // namespace ferrule::cli
