// How long a record is kept, by the depot's rules and by what holds it: values only.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "absl/time/civil_time.h"
#include "absl/time/time.h"
#include "ferrule/v1/settings.pb.h"
#include "ferrule/v1/states.pb.h"
#include "ferrule/v1/trace_service.pb.h"

namespace ferrule::trace {

// The days of one order, local to its branch, from which times of keeping count.
struct OrderDays {
  std::string name;  // full
  std::string patient;
  bool running = false;  // it can still go out, or a unit is out on it
  std::optional<absl::CivilDay> delivered, ended, billed;
  absl::CivilDay last;                    // of its last fact
  std::vector<v1::RecordsHold> standing;  // holds that have not ended
};
OrderDays DaysOf(const v1::SubjectState& state, absl::TimeZone zone);

// One record, and what it belongs to.
struct KeptRecord {
  v1::RecordKind kind = v1::RECORD_KIND_UNSPECIFIED;
  std::string resource;
  std::optional<absl::CivilDay> received;  // of a message or a complaint
  bool open = false;                       // a complaint that is not closed
  std::optional<absl::CivilDay> closed;    // of a complaint
  std::vector<const OrderDays*> orders;
};

// The first day on which something kept for so many months from a day may go. The months end on the
// day of the same number, or on the last of a shorter month; it may go on the day after.
absl::CivilDay FirstFreeDay(absl::CivilDay anchor, int months);

// The longest of all rules over all orders counts, and a hold beats them all. As long as one of the
// orders runs, nothing of it is due; an order without the day that a rule counts from counts from
// its last fact. Without a rule for the kind, or without anything to count from, nothing is due.
v1::RecordDue Assess(const KeptRecord& record, const v1::Settings& settings, absl::CivilDay on);

}  // namespace ferrule::trace
