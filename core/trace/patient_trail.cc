#include "core/trace/patient_trail.h"

#include <algorithm>
#include <limits>
#include <string>
#include <utility>
#include <vector>

#include "absl/strings/match.h"
#include "absl/strings/str_cat.h"
#include "absl/time/civil_time.h"
#include "core/fact/subject.h"
#include "core/fact/words.h"
#include "core/guard/patients.h"
#include "core/time/civil.h"
#include "core/trace/queries.h"
#include "ferrule/v1/ledger_service.pb.h"

namespace ferrule::trace {
namespace {

using store::Value;

constexpr char kPatients[] = "patients/";
constexpr int kYearsBack = 6;
constexpr int kReadsAtOnce = 1'000;
constexpr size_t kMostRows = 5'000;

int64_t YearsBefore(int64_t now_us, int years) {
  const absl::CivilDay day = time::LocalDay(now_us, absl::UTCTimeZone());
  return time::StartOfDayMicros(absl::CivilDay(day.year() - years, day.month(), day.day()),
                                absl::UTCTimeZone());
}

class Trail {
 public:
  Trail(ledger::Ledger& ledger, const v1::ReportPatientTrailRequest& request, int64_t now_us)
      : ledger_(ledger), patient_(request.patient()) {
    from_us_ = request.has_from_time() ? time::ToMicros(request.from_time())
                                       : YearsBefore(now_us, kYearsBack);
    if (request.has_to_time()) to_us_ = time::ToMicros(request.to_time());
  }

  absl::Status Run(v1::ReportPatientTrailResponse* response) {
    absl::Status status = FindOrders();
    if (status.ok()) status = Reads(absl::StrCat(kPatients, patient_));
    for (const std::string& order : orders_) {
      if (status.ok()) status = Reads(order);
      if (status.ok()) status = Changes(order);
    }
    if (!status.ok()) return status;
    std::stable_sort(rows_.begin(), rows_.end(), [](const v1::TrailRow& a, const v1::TrailRow& b) {
      return time::ToMicros(a.time()) < time::ToMicros(b.time());
    });
    response->set_cut(rows_.size() > kMostRows);
    for (size_t i = 0; i < std::min(rows_.size(), kMostRows); ++i) {
      *response->add_rows() = std::move(rows_[i]);
    }
    for (const std::string& order : orders_) response->add_orders(order);
    return absl::OkStatus();
  }

 private:
  bool Within(int64_t us) const { return us >= from_us_ && us < to_us_; }

  void Add(int64_t us, v1::TrailKind kind, const std::string& actor, const std::string& resource,
           std::string words) {
    if (!Within(us)) return;
    v1::TrailRow& row = rows_.emplace_back();
    time::SetMicros(us, row.mutable_time());
    row.set_kind(kind);
    row.set_actor(actor);
    row.set_resource(resource);
    row.set_words(std::move(words));
  }

  absl::Status FindOrders() {
    bool readable = true;
    const Value parameters[] = {Value::Int(static_cast<int>(fact::SubjectKind::kOrder)),
                                Value::Text("")};
    absl::Status status = ledger_.WithReader([&](store::Connection& connection) {
      return connection.Run(sql::kStatesOfKind, parameters, [&](const store::Row& row) {
        v1::SubjectState state;
        const std::string_view bytes = row.Bytes(1);
        readable &= state.ParseFromArray(bytes.data(), static_cast<int>(bytes.size()));
        if (state.order().details().patient() == patient_) orders_.push_back(state.name());
      });
    });
    if (status.ok() && !readable) {
      status = absl::DataLossError("a stored state cannot be read; run: ferruled rebuild");
    }
    return status;
  }

  absl::Status Reads(const std::string& resource) {
    guard::Patients log(&ledger_);
    int64_t after = 0;
    while (true) {
      const auto reads = log.Reads(after, "", resource, kReadsAtOnce);
      if (!reads.ok()) return reads.status();
      for (const v1::ReadRecord& read : *reads) {
        std::string words = read.method();
        if (!read.because().empty()) absl::StrAppend(&words, ": ", read.because());
        Add(time::ToMicros(read.time()), v1::TRAIL_KIND_READ, read.principal(), resource,
            std::move(words));
        after = read.number();
      }
      if (static_cast<int>(reads->size()) < kReadsAtOnce) return absl::OkStatus();
    }
  }

  absl::Status Changes(const std::string& order) {
    bool readable = true;
    absl::Status status = ledger_.Read(0, order, [&](const ledger::Recorded& recorded) {
      v1::LedgerEntry entry;
      readable =
          entry.ParseFromArray(recorded.bytes.data(), static_cast<int>(recorded.bytes.size()));
      if (readable) Entry(recorded.recorded_us, entry.entry(), order);
      return readable;
    });
    if (status.ok() && !readable) {
      status = absl::DataLossError("a stored entry cannot be read; run: ferruled verify");
    }
    return status;
  }

  void Entry(int64_t recorded_us, const v1::Entry& entry, const std::string& order) {
    for (const v1::Fact& fact : entry.facts()) {
      const std::vector<std::string> subjects = fact::SubjectsOf(fact);
      if (std::find(subjects.begin(), subjects.end(), order) == subjects.end()) continue;
      const bool given = fact.has_records_disclosed();
      Add(given ? time::ToMicros(fact.happened_time()) : recorded_us,
          given ? v1::TRAIL_KIND_DISCLOSED : v1::TRAIL_KIND_CHANGED, entry.actor(), order,
          fact::Describe(fact));
    }
  }

  ledger::Ledger& ledger_;
  const std::string patient_;
  int64_t from_us_ = 0;
  int64_t to_us_ = std::numeric_limits<int64_t>::max();
  std::vector<std::string> orders_;
  std::vector<v1::TrailRow> rows_;
};

}  // namespace

absl::StatusOr<v1::ReportPatientTrailResponse> ReportPatientTrail(
    ledger::Ledger& ledger, const v1::ReportPatientTrailRequest& request, int64_t now_us,
    const std::string& in_place_of_patients) {
  v1::ReportPatientTrailResponse response;
  if (absl::Status status = Trail(ledger, request, now_us).Run(&response); !status.ok()) {
    return status;
  }
  if (in_place_of_patients.empty()) return response;
  const std::string masked = absl::StrCat(kPatients, in_place_of_patients);
  for (v1::TrailRow& row : *response.mutable_rows()) {
    if (absl::StartsWith(row.resource(), kPatients)) row.set_resource(masked);
  }
  return response;
}

}  // namespace ferrule::trace
