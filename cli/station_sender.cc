#include "cli/station_sender.h"

#include "absl/strings/str_cat.h"
#include "cli/failure.h"
#include "cli/outbox.h"
#include "core/fact/counted.h"

namespace ferrule::cli {
namespace {

// A connection that broke is made anew once before the server counts as away.
constexpr int kAttempts = 2;

}  // namespace

bool StationSender::SendOldest(std::string* words) {
  const v1::Entry& entry = journal_.waiting().front();
  v1::RecordRequest request;
  *request.mutable_entry() = entry;
  absl::Status answered;
  v1::RecordResponse response;
  for (int attempt = 0; attempt < kAttempts; ++attempt) {
    answered = session_.Ask(&v1::LedgerService::StubInterface::Record, request, &response);
    if (ExitOf(answered) != Exit::kUnavailable) break;
    session_.LetGo();
  }
  if (ExitOf(answered) == Exit::kUnavailable) {
    away_ = true;
    return false;
  }
  away_ = false;
  recorded_ = answered.ok();
  absl::StrAppend(words, answered.ok() ? RecordedWords(response.receipt(), entry)
                                       : absl::StrCat("NOT recorded: ", EntryWords(entry), "\n",
                                                      FailureText(answered)));
  journal_.Settle();
  return true;
}

std::string StationSender::Drain() {
  std::string words;
  if (away_ && journal_.waiting().empty()) {
    v1::GetServerInfoResponse info;
    session_.LetGo();
    away_ = ExitOf(session_.Ask(&v1::LedgerService::StubInterface::GetServerInfo,
                                v1::GetServerInfoRequest(), &info)) == Exit::kUnavailable;
  }
  while (!journal_.waiting().empty() && SendOldest(&words)) {
  }
  return words;
}

bool StationSender::Send(v1::Entry entry, std::string* words) {
  *words += Drain();
  entry.set_mode(away_ ? v1::ENTRY_MODE_OBSERVED : v1::ENTRY_MODE_ENFORCED);
  if (const absl::Status kept = journal_.Keep(entry); !kept.ok()) {
    absl::StrAppend(words, "NOT kept and not sent: ", EntryWords(entry), "\n",
                    std::string(kept.message()), "\n");
    return false;
  }
  if (!away_ && SendOldest(words)) return recorded_;
  absl::StrAppend(words, "kept, the server is away: ", EntryWords(entry), "; ",
                  fact::Counted(static_cast<int64_t>(journal_.waiting().size()), "report waits\n",
                                "reports wait\n"));
  return true;
}

}  // namespace ferrule::cli
