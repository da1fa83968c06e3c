#include "cli/station_sender.h"

#include <vector>

#include "absl/strings/str_cat.h"
#include "absl/strings/str_join.h"
#include "cli/failure.h"
#include "cli/render_findings.h"
#include "cli/render_table.h"
#include "core/fact/words.h"

namespace ferrule::cli {
namespace {

// A connection that broke is made anew once before the server counts as away.
constexpr int kAttempts = 2;

std::string Describe(const v1::Entry& entry) {
  std::vector<std::string> words;
  for (const v1::Fact& fact : entry.facts()) words.push_back(fact::Describe(fact));
  return Printable(absl::StrJoin(words, "; "));
}

std::string ReceiptWords(const v1::Receipt& receipt, const v1::Entry& entry) {
  std::string text =
      absl::StrCat(receipt.repeated() ? "had been recorded as no. " : "recorded as no. ",
                   receipt.sequence(), ": ", Describe(entry), "\n");
  if (receipt.questions_size() > 0) {
    absl::StrAppend(&text, "opened ", receipt.questions_size(),
                    receipt.questions_size() == 1 ? " question:\n" : " questions:\n",
                    FindingLines(receipt.questions()));
  }
  return text;
}

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
  absl::StrAppend(words, answered.ok() ? ReceiptWords(response.receipt(), entry)
                                       : absl::StrCat("NOT recorded: ", Describe(entry), "\n",
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
    absl::StrAppend(words, "NOT kept and not sent: ", Describe(entry), "\n",
                    std::string(kept.message()), "\n");
    return false;
  }
  if (!away_ && SendOldest(words)) return recorded_;
  absl::StrAppend(words, "kept, the server is away: ", Describe(entry), "; ",
                  journal_.waiting().size(),
                  journal_.waiting().size() == 1 ? " report waits\n" : " reports wait\n");
  return true;
}

}  // namespace ferrule::cli
