// A schema made in numbered steps, forward only. Inside core/store and its tests; everyone else
// uses core/store/migrate.h, which is this with the program's own steps.
#pragma once

#include <span>

#include "absl/status/status.h"
#include "absl/status/statusor.h"
#include "core/store/connection.h"

namespace ferrule::store::schema {

struct Migration {
  const char* name;
  const char* sqlite;
  const char* postgresql;
};

class Steps {
 public:
  // The first step makes version 1, the second one version 2, and so on.
  explicit Steps(std::span<const Migration> steps) : steps_(steps) {}

  int last_version() const { return int(steps_.size()); }
  // 0 for an empty store.
  static absl::StatusOr<int> Version(Connection& connection);
  absl::Status Check(Connection& connection) const;
  // Each step in a transaction of its own, recorded in it; a database without tables gets all of
  // them in one.
  absl::Status Apply(Connection& writer) const;
  // Whether an older store was brought forward and what follows from its facts is still as it was;
  // and that it was written anew, inside the transaction that did so.
  static absl::StatusOr<bool> MustRebuild(Connection& connection);
  static absl::Status Rebuilt(Connection& writer);

 private:
  absl::Status Newer(int found) const;
  absl::Status ApplyStep(Connection& writer, int version) const;
  static absl::Status NoteRebuild(Connection& writer);
  absl::StatusOr<bool> ApplyNext(Connection& writer) const;

  std::span<const Migration> steps_;
};

}  // namespace ferrule::store::schema
