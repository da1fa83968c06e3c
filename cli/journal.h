// The station's queue on disk: what was scanned is kept before it is sent, until the depot has
// answered, so that neither end of the line can lose or double a report by dying.
#pragma once

#include <sys/types.h>

#include <deque>
#include <memory>
#include <string>

#include "absl/status/status.h"
#include "absl/status/statusor.h"
#include "ferrule/v1/facts.pb.h"

namespace ferrule::cli {

// One file, one station: it is locked while open.
class Journal {
 public:
  // Opens or makes the file. FailedPrecondition when another station has it, when it belongs to
  // another depot (`target`, as the user names it) or is damaged; Unavailable when it cannot be
  // opened. A last line that was cut off by a crash was never acknowledged and is dropped.
  static absl::StatusOr<std::unique_ptr<Journal>> Open(const std::string& path,
                                                       const std::string& target);
  ~Journal();
  Journal(const Journal&) = delete;
  Journal& operator=(const Journal&) = delete;

  const std::string& path() const { return path_; }
  // Entries that the depot has not answered yet, oldest first.
  const std::deque<v1::Entry>& waiting() const { return waiting_; }

  // Puts an entry at the end, on disk before it returns. Unavailable when the disk takes no more:
  // then it is not in the queue.
  absl::Status Keep(const v1::Entry& entry);
  // The depot has answered the oldest one. Should the note of it be lost, the entry is sent once
  // more, which its id makes harmless.
  void Settle();

 private:
  Journal(std::string path, int file) : path_(std::move(path)), file_(file) {}
  absl::Status Load(const std::string& target);
  absl::Status ReadLine(const std::string& line, const std::string& target, int number);
  absl::Status Append(const std::string& line);

  const std::string path_;
  const int file_;
  off_t size_ = 0;    // of what is whole
  off_t header_ = 0;  // of the first line
  std::deque<v1::Entry> waiting_;
};

}  // namespace ferrule::cli
