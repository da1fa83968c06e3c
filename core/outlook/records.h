// What the ledger knew at an instant, as looking ahead and measuring need it: every unit and every
// order step by step in true time, each step with the fact that made it. Reversed facts are not
// there, and the state after each step is the folds' own.
#pragma once

#include <cstdint>
#include <memory>
#include <mutex>
#include <optional>
#include <string>
#include <vector>

#include "absl/status/statusor.h"
#include "core/depot/settings_book.h"
#include "core/ledger/ledger.h"
#include "ferrule/v1/facts.pb.h"
#include "ferrule/v1/states.pb.h"

namespace ferrule::outlook {

// An instant or day that has not come or is not known.
inline constexpr int64_t kNever = INT64_MAX;

// Names a fact; RecordsReader::StampOf says when and by whom.
struct FactKey {
  int64_t sequence = 0;
  int index = 0;
};

// A fact of a unit and the unit after it.
struct UnitStep {
  int64_t happened_us = 0;
  FactKey fact;
  v1::Fact::WhatCase what = v1::Fact::WHAT_NOT_SET;
  v1::Custody custody = v1::CUSTODY_UNSPECIFIED;
  v1::Hygiene hygiene = v1::HYGIENE_UNSPECIFIED;
  v1::Condition condition = v1::CONDITION_UNSPECIFIED;
  v1::Commitment commitment = v1::COMMITMENT_UNSPECIFIED;
  v1::Purpose purpose = v1::PURPOSE_UNSPECIFIED;
  bool ready = false;  // ready to go for its order, or for any when it has none
  bool held = false;   // some hold is in force
  bool meter_incomplete = false;
  std::string place;  // the last one it stood at
  std::string order;  // of its commitment
  int64_t run_s = 0;  // run time since it joined the fleet
  // Of a pick-up, accessories missing and expected; of an inspection, passed; of a repair's end, no
  // fault found and cost; of a hand-over, rules set aside; of planned service, done before it was
  // overdue.
  int64_t value = 0;
  int64_t of = 0;
};

struct UnitRecord {
  std::string unit;
  std::string model;
  std::string device_class;
  int64_t cost_minor = 0;
  bool service_overdue = false;  // by now, put off or not
  std::vector<UnitStep> steps;   // in true time
};

// What a bill says of its days, first to last; a correction says it anew.
struct Billing {
  int64_t first_day = 0;
  int64_t last_day = 0;
  int64_t amount_minor = 0;
  bool correction = false;
};

// A fact of an order and the order after it. Days are day numbers local to the branch, kNever when
// not known.
struct OrderStep {
  int64_t happened_us = 0;
  FactKey fact;
  v1::Fact::WhatCase what = v1::Fact::WHAT_NOT_SET;
  v1::OrderStatus status = v1::ORDER_STATUS_UNSPECIFIED;
  int64_t surgery_day = kNever;
  int64_t needed_day = kNever;
  int64_t due_day = kNever;       // while on rent
  int64_t extended_day = kNever;  // last day of the prescription by extensions
  int length_days = 0;            // prescribed; 0 when not known
  bool complete = false;          // nothing is missing before it can go out
  std::string unit;
  std::string sender;  // the sender's word on how a pick-up failed
  // Of a promise, the odds told in thousandths and its first day; of a refusal, the day asked for;
  // of a delivery ticket, whether it proves the delivery.
  int64_t value = 0;
  int64_t of_day = kNever;
  std::optional<Billing> billing;  // of days billed
};

// Use of the device between two readings that can be trusted.
struct UseSpan {
  int64_t last_day = 0;
  int days = 0;
  int64_t used_s = 0;
};

struct OrderRecord {
  std::string order;
  std::string branch;
  std::string device_class;
  std::string prescriber;
  std::string patient;
  v1::Side side = v1::SIDE_UNSPECIFIED;
  int64_t prescribed_daily_s = 0;  // use a day; 0 when the order does not say
  std::vector<UseSpan> use;
  int doubtful_readings = 0;     // set aside
  std::vector<OrderStep> steps;  // in true time
};

// A complaint, from the day it came to its first answer.
struct ComplaintRecord {
  std::string complaint;
  std::string branch;
  int64_t received_us = 0;
  int64_t answered_us = kNever;
  bool closed = false;
  FactKey received;
};

struct Records {
  int64_t known_us = 0;  // nothing recorded later is in it
  int64_t sequence = 0;  // position of the last entry in it
  std::shared_ptr<const depot::SettingsBook> book;
  std::vector<UnitRecord> units;            // by name
  std::vector<OrderRecord> orders;          // by name
  std::vector<ComplaintRecord> complaints;  // by name
  std::vector<v1::ForecastNoted> diary;
  std::vector<FactKey> diary_facts;  // of each, by position

  const depot::Rules& rules() const { return book->At(known_us); }
  const OrderRecord* FindOrder(std::string_view order) const;  // null when there is none
};

// Reads the whole ledger: what was recorded by `known_us`. Time and memory grow with the facts of
// units and orders. Errors are the ledger's.
absl::StatusOr<std::shared_ptr<const Records>> ReadRecords(ledger::Ledger& ledger,
                                                           int64_t known_us);

// When and by whom a fact was reported.
absl::StatusOr<v1::Stamp> StampOf(ledger::Ledger& ledger, const FactKey& fact);

// Keeps what was read last, for as long as nothing was recorded since. Thread-safe.
class RecordsReader {
 public:
  explicit RecordsReader(ledger::Ledger* ledger) : ledger_(ledger) {}
  absl::StatusOr<std::shared_ptr<const Records>> Now(int64_t now_us);
  // As known then; Now for an instant that is not before now.
  absl::StatusOr<std::shared_ptr<const Records>> At(std::optional<int64_t> known_us,
                                                    int64_t now_us);
  ledger::Ledger& ledger() { return *ledger_; }

 private:
  ledger::Ledger* const ledger_;
  std::mutex mutex_;
  std::shared_ptr<const Records> kept_;
};

}  // namespace ferrule::outlook
