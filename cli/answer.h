// Shows an answer: a table, or a sentence when it is empty, with what --explain adds.
#pragma once

#include <string>
#include <string_view>

#include "absl/status/status.h"
#include "cli/render_table.h"
#include "cli/session.h"
#include "google/protobuf/message.h"

namespace ferrule::cli {

// `below` ends a text answer.
inline absl::Status ShowAnswer(Session& session, const google::protobuf::Message& message,
                               const Table& table, std::string_view none,
                               const std::string& below = "") {
  const auto why = session.Explanation();
  if (!why.ok()) return why.status();
  session.Show(message, table,
               (table.empty() ? std::string(none) + "\n" : table.Text()) + below + *why);
  return absl::OkStatus();
}

// For answers that are only given from everything known now.
inline absl::Status OnlyFromNow(Session& session) {
  if (!session.line().Has("--known-at")) return absl::OkStatus();
  return absl::InvalidArgumentError(
      "--known-at: this answer is made from everything known now; leave the flag out");
}

}  // namespace ferrule::cli
