// One report on its way to the ledger: an entry put together from the command line, sent, and its
// receipt shown.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

#include "absl/status/statusor.h"
#include "cli/session.h"
#include "ferrule/v1/facts.pb.h"
#include "ferrule/v1/ledger_service.pb.h"

namespace ferrule::cli {

class Outbox;

class Report {
 public:
  // Actor, time, mode, overrides and entry id from the line. InvalidArgument when the actor is
  // missing or a shared flag is malformed.
  static absl::StatusOr<Report> Begin(Session& session);

  // True time of the report.
  int64_t at_us() const { return at_us_; }
  // A further fact at the report's time, with its overrides and note.
  v1::Fact* Add() { return AddAt(at_us_); }
  v1::Fact* AddAt(int64_t happened_us);

  // The n-th entry of a command that sends several, without facts; its id follows from the line's,
  // so that a repeat does no harm.
  v1::Entry Blank(size_t n) const;

  // Notes what was looked up in the records in place of a flag, so that the line to repeat after a
  // lost answer says the same again.
  void LookedUp(std::string_view flag, std::string_view value);

  // Sends the entry, again and harmlessly when the way to the service breaks, and shows the
  // receipt. `unit`, when not empty, is shown as it is now. `caution` ends a text answer.
  absl::Status Send(std::string unit = "", std::string_view caution = {});

 private:
  explicit Report(Session& session) : session_(&session) {}
  absl::Status Record(bool check, v1::Receipt* receipt);
  // The same through an outbox. `kept` when the entry waits there and nobody knows more.
  absl::Status SendThrough(Outbox& outbox, v1::Receipt* receipt, bool* kept);
  void ShowKept(const Outbox& outbox, const absl::Status& why);
  void ShowReceipt(const v1::Receipt& receipt, const std::string& unit, std::string_view caution);
  std::string UnitNow(const std::string& unit);
  std::string RepeatLine() const;

  Session* session_;
  int64_t at_us_ = 0;
  std::vector<v1::Override> overrides_;
  v1::Entry entry_;
  std::vector<std::string> looked_up_;
};

}  // namespace ferrule::cli
