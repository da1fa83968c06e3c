#include "core/trace/records_due.h"

#include <algorithm>
#include <map>
#include <set>
#include <string>
#include <tuple>
#include <utility>
#include <vector>

#include "absl/strings/numbers.h"
#include "absl/strings/str_cat.h"
#include "core/fact/subject.h"
#include "core/time/civil.h"
#include "core/trace/queries.h"
#include "core/trace/retention.h"
#include "ferrule/v1/intake.pb.h"

namespace ferrule::trace {
namespace {

using fact::SubjectKind;
using fact::SubjectName;
using store::Value;

constexpr char kPatients[] = "patients/";
constexpr char kOtherToken[] = "page_token is not one that this list gave";

// The branch in whose zone a record's days are: that of its first order, or the depot's first one.
struct ZonedRecord {
  KeptRecord record;
  std::string branch;
};

class Collection {
 public:
  Collection(store::Connection& connection, const depot::Rules& rules)
      : connection_(connection), rules_(rules) {
    const v1::Settings& settings = rules.settings();
    if (!settings.branches().empty()) home_ = settings.branches(0).id();
  }

  absl::Status Read() {
    absl::Status status = Orders();
    if (status.ok()) status = Patients();
    if (status.ok()) status = Messages();
    if (status.ok()) status = Complaints();
    if (status.ok() && !readable_) {
      return absl::DataLossError("a stored record cannot be read; run: ferruled verify");
    }
    return status;
  }

  std::vector<ZonedRecord>& records() { return records_; }

 private:
  template <class Message>
  bool Parse(std::string_view bytes, Message* message) {
    const bool parsed = message->ParseFromArray(bytes.data(), static_cast<int>(bytes.size()));
    readable_ = readable_ && parsed;
    return parsed;
  }

  absl::Status Orders() {
    const Value parameters[] = {Value::Int(static_cast<int>(SubjectKind::kOrder)), Value::Text("")};
    return connection_.Run(sql::kStatesOfKind, parameters, [&](const store::Row& row) {
      v1::SubjectState state;
      if (!Parse(row.Bytes(1), &state) || !state.order().has_taken()) return;
      const std::string& branch = state.order().details().branch();
      OrderDays& days = orders_[state.name()];
      days = DaysOf(state, rules_.ZoneOf(branch));
      branches_[state.name()] = branch;
      if (!days.patient.empty()) of_patient_[days.patient].push_back(&days);
      KeptRecord papers;
      papers.kind = v1::RECORD_KIND_RENTAL_PAPERS;
      papers.resource = days.name;
      papers.orders.push_back(&days);
      records_.push_back({std::move(papers), branch});
    });
  }

  absl::Status Patients() {
    return connection_.Run(sql::kPatientReferences, {}, [&](const store::Row& row) {
      const std::string patient(row.Bytes(0));
      KeptRecord record;
      record.kind = v1::RECORD_KIND_PATIENT;
      record.resource = absl::StrCat(kPatients, patient);
      record.orders = of_patient_[patient];
      Add(std::move(record));
    });
  }

  absl::Status Messages() {
    return connection_.Run(sql::kMessagesKept, {}, [&](const store::Row& row) {
      v1::IntakeMessage message;
      if (!Parse(row.Bytes(0), &message)) return;
      KeptRecord record;
      record.kind = v1::RECORD_KIND_MESSAGE;
      record.resource = message.name();
      for (const std::string& order : message.orders()) {
        const auto found = orders_.find(SubjectName(SubjectKind::kOrder, order));
        if (found != orders_.end()) record.orders.push_back(&found->second);
      }
      const std::string branch = BranchOf(record);
      record.received =
          time::LocalDay(time::ToMicros(message.received_time()), rules_.ZoneOf(branch));
      records_.push_back({std::move(record), branch});
    });
  }

  absl::Status Complaints() {
    const Value parameters[] = {Value::Int(static_cast<int>(SubjectKind::kComplaint)),
                                Value::Text("")};
    return connection_.Run(sql::kStatesOfKind, parameters, [&](const store::Row& row) {
      v1::SubjectState state;
      if (!Parse(row.Bytes(1), &state) || !state.complaint().has_received()) return;
      const v1::ComplaintState& complaint = state.complaint();
      const absl::TimeZone zone = rules_.ZoneOf(complaint.branch());
      KeptRecord record;
      record.kind = v1::RECORD_KIND_COMPLAINT_PAPERS;
      record.resource = state.name();
      record.received = time::LocalDay(time::ToMicros(complaint.received().time()), zone);
      record.open = !complaint.has_closed();
      if (complaint.has_closed()) {
        record.closed = time::LocalDay(time::ToMicros(complaint.closed().time()), zone);
      }
      const auto about = orders_.find(complaint.subject());
      if (about != orders_.end()) record.orders.push_back(&about->second);
      records_.push_back({std::move(record), complaint.branch()});
    });
  }

  std::string BranchOf(const KeptRecord& record) const {
    if (record.orders.empty()) return home_;
    return branches_.at(record.orders.front()->name);
  }
  void Add(KeptRecord record) {
    std::string branch = BranchOf(record);
    records_.push_back({std::move(record), std::move(branch)});
  }

  store::Connection& connection_;
  const depot::Rules& rules_;
  std::string home_;
  bool readable_ = true;
  std::map<std::string, OrderDays> orders_;      // by full name; never moved
  std::map<std::string, std::string> branches_;  // of orders, by full name
  std::map<std::string, std::vector<const OrderDays*>> of_patient_;
  std::vector<ZonedRecord> records_;
};

void NameKindsWithoutRule(const v1::Settings& settings, v1::ListRecordsDueResponse* response) {
  std::set<int> ruled;
  for (const v1::RetentionRule& rule : settings.retention_rules()) ruled.insert(rule.kind());
  for (int kind = v1::RecordKind_MIN + 1; kind <= v1::RecordKind_MAX; ++kind) {
    if (ruled.count(kind) == 0) {
      response->add_kinds_without_rule(static_cast<v1::RecordKind>(kind));
    }
  }
}

// A record with its place in the list, which is also the page's token.
std::string KeyOf(const v1::RecordDue& record) {
  return absl::StrCat(static_cast<int>(record.kind()), " ", record.resource());
}

struct Judged {
  v1::RecordDue record;
  bool held_alone = false;  // by the rules it could go
};

std::vector<Judged> JudgeAll(const std::vector<ZonedRecord>& records, const depot::Rules& rules,
                             const v1::ListRecordsDueRequest& request, int64_t now_us) {
  std::vector<Judged> out;
  for (const ZonedRecord& one : records) {
    if (request.kind() != v1::RECORD_KIND_UNSPECIFIED && one.record.kind != request.kind()) {
      continue;
    }
    const absl::CivilDay on = request.has_on_date()
                                  ? time::ToDay(request.on_date())
                                  : time::LocalDay(now_us, rules.ZoneOf(one.branch));
    Judged judged{Assess(one.record, rules.settings(), on)};
    judged.held_alone = !judged.record.due() && judged.record.has_due_date() &&
                        time::ToDay(judged.record.due_date()) <= on;
    out.push_back(std::move(judged));
  }
  std::sort(out.begin(), out.end(), [](const Judged& a, const Judged& b) {
    return std::tuple(a.record.kind(), std::string_view(a.record.resource())) <
           std::tuple(b.record.kind(), std::string_view(b.record.resource()));
  });
  return out;
}

void Count(const std::vector<Judged>& records, v1::ListRecordsDueResponse* response) {
  for (const Judged& one : records) {
    if (one.record.due()) {
      response->set_due_count(response->due_count() + 1);
    } else {
      response->set_kept_count(response->kept_count() + 1);
    }
    if (one.held_alone) response->set_held_count(response->held_count() + 1);
  }
}

// How many records come before the next page, by the key of the last one: it may be gone since.
absl::StatusOr<size_t> CountBefore(const std::vector<Judged>& records, std::string_view key) {
  const size_t space = key.find(' ');
  int kind = 0;
  if (space == std::string_view::npos ||
      !absl::SimpleAtoi(std::string(key.substr(0, space)), &kind)) {
    return absl::InvalidArgumentError(kOtherToken);
  }
  const auto last = std::tuple(kind, key.substr(space + 1));
  return std::count_if(records.begin(), records.end(), [&](const Judged& one) {
    return std::tuple(static_cast<int>(one.record.kind()),
                      std::string_view(one.record.resource())) <= last;
  });
}

// Where no reference may be told, a count stands in the token: whoever may not see patients erases
// nothing, so nothing goes from page to page.
absl::Status FillPage(std::vector<Judged> records, const v1::ListRecordsDueRequest& request,
                      const std::string& in_place_of_patients,
                      v1::ListRecordsDueResponse* response) {
  if (!request.include_kept()) {
    std::erase_if(records, [](const Judged& one) { return !one.record.due(); });
  }
  const bool hidden = !in_place_of_patients.empty();
  size_t from = 0;
  if (hidden && !request.page_token().empty() && !absl::SimpleAtoi(request.page_token(), &from)) {
    return absl::InvalidArgumentError(kOtherToken);
  }
  if (!hidden && !request.page_token().empty()) {
    const auto before = CountBefore(records, request.page_token());
    if (!before.ok()) return before.status();
    from = *before;
  }
  const size_t to = std::min(records.size(), from + static_cast<size_t>(request.page_size()));
  for (size_t i = from; i < to; ++i) *response->add_records() = std::move(records[i].record);
  if (from < to && to < records.size()) {
    response->set_next_page_token(hidden ? absl::StrCat(to) : KeyOf(*response->records().rbegin()));
  }
  if (!hidden) return absl::OkStatus();
  for (v1::RecordDue& record : *response->mutable_records()) {
    if (record.kind() != v1::RECORD_KIND_PATIENT) continue;
    record.set_resource(absl::StrCat(kPatients, in_place_of_patients));
  }
  return absl::OkStatus();
}

}  // namespace

absl::StatusOr<v1::ListRecordsDueResponse> ListRecordsDue(ledger::Ledger& ledger,
                                                          const v1::ListRecordsDueRequest& request,
                                                          int64_t now_us,
                                                          const std::string& in_place_of_patients) {
  v1::ListRecordsDueResponse response;
  const auto book = ledger.Book();
  const depot::SettingsBook none;
  const depot::Rules& rules = (book == nullptr ? none : *book).At(now_us);
  NameKindsWithoutRule(rules.settings(), &response);
  std::vector<Judged> records;
  const absl::Status status = ledger.WithReader([&](store::Connection& connection) {
    Collection collection(connection, rules);
    absl::Status read = collection.Read();
    if (read.ok()) records = JudgeAll(collection.records(), rules, request, now_us);
    return read;
  });
  if (!status.ok()) return status;
  Count(records, &response);
  const absl::Status filled =
      FillPage(std::move(records), request, in_place_of_patients, &response);
  if (!filled.ok()) return filled;
  return response;
}

absl::Status NotHeld(ledger::Ledger& ledger, v1::RecordKind kind, const std::string& resource,
                     int64_t now_us) {
  const auto book = ledger.Book();
  const depot::SettingsBook none;
  const depot::Rules& rules = (book == nullptr ? none : *book).At(now_us);
  return ledger.WithReader([&](store::Connection& connection) {
    Collection collection(connection, rules);
    if (absl::Status read = collection.Read(); !read.ok()) return read;
    for (const ZonedRecord& one : collection.records()) {
      if (one.record.kind != kind || one.record.resource != resource) continue;
      for (const OrderDays* order : one.record.orders) {
        if (order->standing.empty()) continue;
        const v1::RecordsHold& hold = order->standing.front();
        return absl::FailedPreconditionError(absl::StrCat(
            "the records of ", order->name, " are held for ", hold.matter(), " (", hold.because(),
            ") and nothing of them may be destroyed; once that has ended, record it: ferrule "
            "records-release ORDER ",
            hold.matter(), " WHY"));
      }
    }
    return absl::OkStatus();
  });
}

}  // namespace ferrule::trace
