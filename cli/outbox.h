// Reports made where the server cannot be reached: a file on this machine keeps them from before
// anything is said to be done until the depot has answered, so that neither end of the line can
// lose or double one by dying.
//
// A report made while the server is away is kept as observed: by the time the depot hears of it, it
// has happened. One whose answer was lost stays as it was sent. The depot records each once, under
// its entry id, however often and in whatever order they are sent; what breaks a rule opens a
// question, and what the depot refuses all the same stays here with the reason until somebody has
// seen to it.
#pragma once

#include <cstdint>
#include <memory>
#include <optional>
#include <string>

#include "absl/status/status.h"
#include "absl/status/statusor.h"
#include "cli/journal.h"
#include "cli/session.h"
#include "ferrule/v1/facts.pb.h"
#include "ferrule/v1/ledger_service.pb.h"

namespace ferrule::cli {

class Outbox {
 public:
  // The outbox that the line names with --outbox, or the environment as FERRULE_OUTBOX; null when
  // neither does. FailedPrecondition and Unavailable as Journal::Open.
  static absl::StatusOr<std::unique_ptr<Outbox>> Open(Session& session);

  const Journal& journal() const { return *journal_; }

  // Asks the server whether it is there, and its clock. Unavailable when it is away.
  absl::Status Reach();
  // This machine's clock against the server's, microseconds, positive when it is ahead; nothing
  // before the server was reached.
  std::optional<int64_t> skew_us() const { return skew_us_; }
  // What is wrong with this machine's clock; empty when it is right to within a minute.
  std::string SkewWords() const;

  // Keeps an entry, on disk before it returns. `from_clock`: its time is this machine's, read now,
  // and not somebody's word.
  absl::Status Keep(v1::Entry entry, bool from_clock);
  // An entry as it is to be sent: with the time put right that this machine's clock gave it when
  // that is wrong, which is kept and added to `words`.
  absl::StatusOr<v1::Entry> Corrected(v1::Entry entry, std::string* words);
  // The depot has answered it: it goes.
  void Settle(const std::string& entry_id) { journal_->Settle(entry_id); }

  struct Sent {
    int recorded = 0;
    int refused = 0;
    std::string words;   // a line for each that was answered, with its questions or its refusal
    absl::Status ended;  // Unavailable when the server went away before all were sent
  };
  // Sends everything that waits and was not refused before.
  Sent Send();

 private:
  explicit Outbox(Session& session) : session_(session) {}
  absl::Status SendOne(const std::string& entry_id, Sent* sent);

  Session& session_;
  std::unique_ptr<Journal> journal_;
  std::optional<int64_t> skew_us_;
};

// What an entry reports, in words.
std::string EntryWords(const v1::Entry& entry);
// What became of an entry that was recorded, with the questions it opened; lines.
std::string RecordedWords(const v1::Receipt& receipt, const v1::Entry& entry);

}  // namespace ferrule::cli
