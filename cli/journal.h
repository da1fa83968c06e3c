// A queue of reports on disk, the station's and the outbox's: what was reported is kept before it
// is sent, until the depot has answered, so that neither end of the line can lose or double a
// report by dying.
#pragma once

#include <sys/types.h>

#include <deque>
#include <map>
#include <memory>
#include <set>
#include <span>
#include <string>
#include <string_view>
#include <utility>

#include "absl/status/status.h"
#include "absl/status/statusor.h"
#include "ferrule/v1/facts.pb.h"

namespace ferrule::cli {

// How the messages about a file call its user and the flag that names it.
struct JournalWords {
  std::string_view in_use;
  std::string_view flag;
};
inline constexpr JournalWords kStationWords = {"belongs to a station that is running; end it",
                                               "--queue"};
inline constexpr JournalWords kOutboxWords = {
    "is in use by another ferrule; wait until that has ended", "--outbox"};

// One file, one program: it is locked while open.
class Journal {
 public:
  // Opens or makes the file. FailedPrecondition when another program has it, when it belongs to
  // another depot (`target`, as the user names it) or is damaged; Unavailable when it cannot be
  // opened. A last line that was cut off by a crash was never acknowledged and is dropped.
  static absl::StatusOr<std::unique_ptr<Journal>> Open(const std::string& path,
                                                       const std::string& target,
                                                       const JournalWords& words = kStationWords);
  ~Journal();
  Journal(const Journal&) = delete;
  Journal& operator=(const Journal&) = delete;

  const std::string& path() const { return path_; }
  // Entries that the depot has not answered yet, oldest first.
  const std::deque<v1::Entry>& waiting() const { return waiting_; }

  // Puts an entry at the end, on disk before it returns; one that waits under the same id is
  // replaced in its place. Unavailable when the disk takes no more: then it is not in the queue.
  // `from_clock` notes that its time is this machine's and was not held against another clock yet.
  absl::Status Keep(const v1::Entry& entry, bool from_clock = false);
  bool from_clock(const std::string& entry_id) const { return from_clock_.contains(entry_id); }
  // The depot has refused one: it stays, with the reason, and is no longer to be sent.
  absl::Status Refuse(const std::string& entry_id, const std::string& why);
  // Why it was refused; empty while it was not.
  std::string RefusalOf(const std::string& entry_id) const;
  // The depot has answered one, the oldest without an id. Should the note of it be lost, the entry
  // is sent once more, which its id makes harmless.
  void Settle() { Settle(waiting_.front().entry_id()); }
  void Settle(const std::string& entry_id);

 private:
  Journal(std::string path, int file, const JournalWords& words)
      : path_(std::move(path)), file_(file), words_(words) {}
  absl::Status Load(const std::string& target);
  absl::Status ReadLine(const std::string& line, const std::string& target, int number);
  void Put(v1::Entry entry);
  void Drop(const std::string& entry_id);
  // One write of whole lines, on disk before it returns.
  absl::Status Append(std::span<const std::string> lines);
  absl::Status Append(const std::string& line) { return Append(std::span(&line, 1)); }
  absl::Status Trouble(const char* what) const;

  const std::string path_;
  const int file_;
  const JournalWords words_;
  off_t size_ = 0;    // of what is whole
  off_t header_ = 0;  // of the first line
  std::deque<v1::Entry> waiting_;
  // By entry id, of those that wait.
  std::set<std::string> from_clock_;
  std::map<std::string, std::string> refused_;
};

}  // namespace ferrule::cli
