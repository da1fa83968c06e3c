// Moves the write-ahead log into the depot file in small steps, so that no commit waits for all of
// it at once. Inside core/store only.
//
// A whole checkpoint copies every page of the log and then waits until the file is on the disk.
// Here a thread copies parts of the log, and has them brought to the disk, while commits go on. The
// last step is a whole checkpoint between two commits, which finds little left to do, and after
// which the next commit starts the log from its beginning.
//
// In SQLite 3.7.0 to 3.51.2 a checkpoint on one connection while another one starts the log from
// its beginning can lose pages, and the packaged 3.40.1 is among them. So while the thread copies a
// reading connection of ours stands in the log: it keeps the log from being begun anew, from before
// the thread begins until after it is done.
//
// Nothing rests on the thread: until a whole checkpoint has synced the file, the log has every
// page, and whoever opens the depot after a crash reads the log from its beginning. But a file
// system tells of a failed write once, and a later step would not copy that page again: after an
// error other than a full disk nothing more is copied, and the log stays beside the file until the
// depot is opened anew.
#pragma once

#include <sqlite3.h>

#include <memory>
#include <string>
#include <string_view>

#include "absl/status/status.h"
#include "core/store/sqlite_statement.h"

namespace ferrule::store {

class SqliteCheckpoints {
 public:
  // `writer` is the writing connection of the file at `path` and stays open longer than this.
  SqliteCheckpoints(std::string path, sqlite3* writer);
  ~SqliteCheckpoints();

  // To be called between transactions, when the log is `pages` long: takes a step when one is due,
  // so that the log is begun anew soon after it has more than `most` pages (of 4 KiB). With `most`
  // 0, all of it at once. What readers still need stays for the next time.
  // Errors: ResourceExhausted while the disk is full, and a later call tries again; Internal when
  // the disk failed, from then on.
  absl::Status Advance(int pages, int most);

 private:
  class Mover;
  struct Close {
    void operator()(sqlite3* connection) const { sqlite3_close(connection); }
  };
  using Handle = std::unique_ptr<sqlite3, Close>;

  void Part(int pages);
  absl::Status Whole(int pages, int more);
  absl::Status Outcome();
  absl::Status Failed(int code, std::string_view message);
  void StandHere();
  void StepAside();
  bool Prepare();
  Handle OpenOther() const;

  const std::string path_;
  sqlite3* const writer_;
  absl::Status failed_;
  int length_ = 0;  // of the log at the last call
  int copied_ = 0;  // as far as it was copied at the last word of it
  int begun_ = 0;   // as far as the thread copies it, or was last to copy it
  int due_ = 0;     // length before which nothing is done
  bool prepared_ = false;
  bool standing_ = false;  // the reading connection is in a transaction
  // Without them, for want of file handles for instance, there are whole checkpoints alone.
  Handle mark_;
  std::unique_ptr<SqliteStatement> begin_, look_, end_;
  std::unique_ptr<Mover> mover_;
};

}  // namespace ferrule::store
