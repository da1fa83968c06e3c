#include "core/board/due_report.h"

#include <algorithm>
#include <tuple>

#include "absl/container/flat_hash_map.h"
#include "absl/strings/string_view.h"
#include "core/board/queries.h"
#include "core/depot/known.h"
#include "core/fact/subject.h"
#include "core/time/civil.h"

namespace ferrule::board {
namespace {

using store::Value;

// The local day of each branch, looked up once.
class Today {
 public:
  Today(const depot::Rules& rules, int64_t at_us) : at_us_(at_us) {
    for (const v1::Branch& branch : rules.settings().branches()) {
      const int64_t day = time::DayNumber(time::LocalDay(at_us, rules.ZoneOf(branch.id())));
      days_[branch.id()] = day;
      last_ = std::max(last_, day);
    }
  }
  int64_t At(std::string_view branch) const {
    auto it = days_.find(absl::string_view(branch.data(), branch.size()));
    if (it != days_.end()) return it->second;
    return time::DayNumber(time::LocalDay(at_us_, absl::UTCTimeZone()));
  }
  int64_t last() const { return std::max(last_, At("")); }

 private:
  int64_t at_us_;
  int64_t last_ = INT64_MIN;
  absl::flat_hash_map<std::string, int64_t> days_;
};

bool LongestFirst(const v1::DueRow& a, const v1::DueRow& b) {
  return std::forward_as_tuple(a.branch(), b.overdue_days(), a.order()) <
         std::forward_as_tuple(b.branch(), a.overdue_days(), b.order());
}

}  // namespace

absl::StatusOr<v1::ReportDueResponse> ReportDue(ledger::Ledger& ledger,
                                                const v1::ReportDueRequest& request,
                                                int64_t now_us) {
  const bool known_then = request.has_known_time();
  const int64_t at_us = known_then ? time::ToMicros(request.known_time()) : now_us;
  std::shared_ptr<const depot::SettingsBook> book = ledger.Book();
  const depot::Rules& rules = book->At(at_us);
  if (absl::Status known = depot::KnowBranch(rules, request.branch()); !known.ok()) return known;
  if (request.has_through_date() && !time::IsValid(request.through_date())) {
    return absl::InvalidArgumentError("through_date is no day of the calendar");
  }
  const Today today(rules, at_us);
  const bool through_given = request.has_through_date();
  const int64_t through =
      through_given ? time::DayNumber(time::ToDay(request.through_date())) : today.last();

  v1::ReportDueResponse response;
  auto add = [&](std::string_view branch, std::string_view order, std::string_view unit,
                 std::string_view device_class, int64_t due_day, int basis, int failed) {
    if (!request.branch().empty() && branch != std::string_view(request.branch())) return;
    const int64_t local_today = today.At(branch);
    if (due_day > (through_given ? through : local_today)) return;
    v1::DueRow* row = response.add_rows();
    row->set_branch(branch.data(), branch.size());
    row->set_order(order.data(), order.size());
    row->set_unit(unit.data(), unit.size());
    row->set_device_class(device_class.data(), device_class.size());
    *row->mutable_due_date() = time::FromDay(time::DayFromNumber(due_day));
    row->set_basis(static_cast<v1::DueBasis>(basis));
    row->set_overdue_days(static_cast<int32_t>(local_today - due_day));
    row->set_failed_pickup_count(failed);
  };
  absl::Status status;
  if (known_then) {
    status = ledger.EachKnownAt(at_us, [&](const v1::SubjectState& state, const fold::Columns& c) {
      if (!c.due_day.has_value()) return;
      add(c.branch, fact::BareId(state.name()), c.partner, c.device_class, *c.due_day, c.due_basis,
          c.failed_pickups);
    });
  } else {
    status = ledger.WithReader([&](store::Connection& connection) {
      const Value parameters[] = {Value::Int(through)};
      return connection.Run(sql::kDue, parameters, [&](const store::Row& r) {
        std::string_view name = r.Bytes(1);
        name.remove_prefix(name.find('/') + 1);
        add(r.Bytes(0), name, r.Bytes(2), r.Bytes(3), r.Int(4), static_cast<int>(r.Int(5)),
            static_cast<int>(r.Int(6)));
      });
    });
  }
  if (!status.ok()) return status;
  std::sort(response.mutable_rows()->pointer_begin(), response.mutable_rows()->pointer_end(),
            [](const v1::DueRow* a, const v1::DueRow* b) { return LongestFirst(*a, *b); });
  return response;
}

}  // namespace ferrule::board
