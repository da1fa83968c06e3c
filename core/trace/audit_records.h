// What the audit's rules look at, read once: of every subject only what a rule needs.
#pragma once

#include <cstdint>
#include <map>
#include <string>
#include <vector>

#include "absl/status/status.h"
#include "core/ledger/ledger.h"
#include "ferrule/v1/states.pb.h"

namespace ferrule::trace {

struct AuditUnit {
  std::string name;  // full
  std::string model, serial, place, order, transfer;
  v1::Custody custody = v1::CUSTODY_UNSPECIFIED;
  v1::Hygiene hygiene = v1::HYGIENE_UNSPECIFIED;
  v1::Commitment commitment = v1::COMMITMENT_UNSPECIFIED;
  int64_t since_us = 0;  // of its custody
  std::vector<std::string> parts;
  bool recall_hold = false;
  int64_t meter_fault_us = 0;   // an open question about its meter; 0 for none
  std::string rented_in_until;  // day, when that is past
};

struct AuditOrder {
  std::string name;
  v1::OrderStatus status = v1::ORDER_STATUS_UNSPECIFIED;
  std::vector<std::string> out;  // units that are out on it
  bool delivered = false;
  int64_t billed_us = 0;  // the first billing; 0 for none
  int64_t since_us = 0;
};

struct AuditPart {
  std::string name, unit;
  int64_t since_us = 0;
};

struct AuditStock {
  std::string name, place;
  int64_t pieces = 0;
};

struct AuditRecords {
  std::map<std::string, AuditUnit> units;    // by bare id
  std::map<std::string, AuditOrder> orders;  // by bare id
  std::vector<AuditPart> parts;
  std::vector<AuditStock> below_zero;
  std::vector<v1::TransferState> transfers;  // those that have not arrived whole
  std::vector<v1::PlaceState> places;        // with uses without papers
  std::vector<v1::RecallState> recalls;
  int64_t subjects = 0;
  int64_t now_us = 0;
};

absl::Status ReadRecords(store::Connection& connection, const depot::Rules& rules, int64_t now_us,
                         AuditRecords* records);

}  // namespace ferrule::trace
