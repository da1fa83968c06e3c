#include "core/trace/complaints.h"

#include <algorithm>
#include <map>
#include <string>
#include <tuple>
#include <utility>

#include "core/fact/subject.h"
#include "core/time/civil.h"
#include "core/trace/queries.h"

namespace ferrule::trace {
namespace {

using store::Value;

constexpr int64_t kSecondUs = 1'000'000;
constexpr int64_t kDayUs = 86'400 * kSecondUs;
constexpr int kLateDays = 5;

int64_t ReceivedUs(const v1::ComplaintRow& row) {
  return time::ToMicros(row.complaint().received().time());
}

// A complaint that was only answered or closed on the records has no clock: its question says so.
bool Fits(const v1::ComplaintState& complaint, const v1::ListComplaintsRequest& request) {
  if (!complaint.has_received()) return false;
  if (!request.branch().empty() && complaint.branch() != request.branch()) return false;
  if (request.kind() != v1::COMPLAINT_KIND_UNSPECIFIED && complaint.kind() != request.kind()) {
    return false;
  }
  if (!request.subject().empty() && complaint.subject() != request.subject()) return false;
  if (request.open_only() && complaint.has_closed()) return false;
  const int64_t us = time::ToMicros(complaint.received().time());
  if (request.has_from_time() && us < time::ToMicros(request.from_time())) return false;
  return !request.has_to_time() || us < time::ToMicros(request.to_time());
}

absl::Status Read(ledger::Ledger& ledger, const v1::ListComplaintsRequest& request, int64_t now_us,
                  std::vector<v1::ComplaintRow>* rows) {
  bool readable = true;
  const Value parameters[] = {Value::Int(static_cast<int>(fact::SubjectKind::kComplaint)),
                              Value::Text("")};
  absl::Status status = ledger.WithReader([&](store::Connection& connection) {
    return connection.Run(sql::kStatesOfKind, parameters, [&](const store::Row& row) {
      v1::SubjectState state;
      const std::string_view bytes = row.Bytes(1);
      readable &= state.ParseFromArray(bytes.data(), static_cast<int>(bytes.size()));
      if (!Fits(state.complaint(), request)) return;
      rows->push_back(ClockOf(state.complaint(), request.late_days(), now_us));
    });
  });
  if (!status.ok()) return status;
  if (!readable) return absl::DataLossError("a stored state cannot be read; run: ferruled rebuild");
  std::sort(rows->begin(), rows->end(), [](const auto& a, const auto& b) {
    return std::tuple(ReceivedUs(a), std::string_view(a.complaint().complaint())) <
           std::tuple(ReceivedUs(b), std::string_view(b.complaint().complaint()));
  });
  return absl::OkStatus();
}

void AddFigures(const std::vector<v1::ComplaintRow>& rows, v1::ListComplaintsResponse* response) {
  *response->mutable_totals() = TotalsOf(rows);
  std::map<int, std::vector<v1::ComplaintRow>> kinds;
  std::map<std::string, std::vector<v1::ComplaintRow>> branches;
  for (const v1::ComplaintRow& row : rows) {
    kinds[row.complaint().kind()].push_back(row);
    branches[row.complaint().branch()].push_back(row);
  }
  for (const auto& [kind, of_kind] : kinds) {
    v1::ComplaintTotals& totals = *response->add_by_kind();
    totals = TotalsOf(of_kind);
    totals.set_kind(static_cast<v1::ComplaintKind>(kind));
  }
  for (const auto& [branch, of_branch] : branches) {
    v1::ComplaintTotals& totals = *response->add_by_branch();
    totals = TotalsOf(of_branch);
    totals.set_branch(branch);
  }
}

}  // namespace

v1::ComplaintRow ClockOf(const v1::ComplaintState& complaint, int late_days, int64_t now_us) {
  v1::ComplaintRow row;
  *row.mutable_complaint() = complaint;
  const int64_t since_us = time::ToMicros(complaint.received().time());
  const bool answered = complaint.has_answered();
  const int64_t until_us = answered ? time::ToMicros(complaint.answered().time()) : now_us;
  row.set_waited_s(std::max<int64_t>(0, until_us - since_us) / kSecondUs);
  const int64_t most_us = (late_days == 0 ? kLateDays : late_days) * kDayUs;
  // One that was withdrawn before anybody answered waits no longer.
  row.set_late(!answered && !complaint.has_closed() && until_us - since_us > most_us);
  return row;
}

v1::ComplaintTotals TotalsOf(const std::vector<v1::ComplaintRow>& rows) {
  v1::ComplaintTotals totals;
  std::vector<int64_t> answers;
  for (const v1::ComplaintRow& row : rows) {
    const v1::ComplaintState& complaint = row.complaint();
    totals.set_received_count(totals.received_count() + 1);
    if (!complaint.has_closed()) totals.set_open_count(totals.open_count() + 1);
    if (row.late()) totals.set_late_count(totals.late_count() + 1);
    if (complaint.harm() == v1::HARM_POSSIBLE || complaint.harm() == v1::HARM_DONE) {
      totals.set_harm_count(totals.harm_count() + 1);
    }
    if (complaint.has_answered()) {
      answers.push_back(row.waited_s());
    } else {
      totals.set_unanswered_count(totals.unanswered_count() + 1);
    }
  }
  if (answers.empty()) return totals;
  std::sort(answers.begin(), answers.end());
  const size_t middle = answers.size() / 2;
  const bool odd = answers.size() % 2 == 1;
  totals.set_median_answer_s(odd ? answers[middle] : (answers[middle - 1] + answers[middle]) / 2);
  return totals;
}

absl::StatusOr<v1::ListComplaintsResponse> ListComplaints(ledger::Ledger& ledger,
                                                          const v1::ListComplaintsRequest& request,
                                                          int64_t now_us) {
  std::vector<v1::ComplaintRow> rows;
  if (absl::Status status = Read(ledger, request, now_us, &rows); !status.ok()) return status;
  v1::ListComplaintsResponse response;
  AddFigures(rows, &response);
  bool begun = request.page_token().empty();
  for (v1::ComplaintRow& row : rows) {
    const std::string& number = row.complaint().complaint();
    if (!begun) {
      begun = number == request.page_token();
      continue;
    }
    if (response.complaints_size() == request.page_size()) {
      response.set_next_page_token(response.complaints().rbegin()->complaint().complaint());
      break;
    }
    *response.add_complaints() = std::move(row);
  }
  return response;
}

}  // namespace ferrule::trace
