// The audit's rules: each has a name, says what it looks for, and finds it in the records.
#pragma once

#include <span>
#include <string>

#include "core/depot/settings_book.h"
#include "core/trace/audit_records.h"
#include "ferrule/v1/trace_service.pb.h"

namespace ferrule::trace {

// Collects what one rule finds; counts what does not fit.
class AuditHits {
 public:
  explicit AuditHits(v1::AuditRule* rule) : rule_(rule) {}
  void Add(const std::string& subject, const std::string& words, int64_t us,
           const std::string& other = "");

 private:
  static constexpr int kMost = 100;
  v1::AuditRule* rule_;
};

struct AuditRuleRow {
  const char* name;
  const char* words;
  void (*find)(const AuditRecords&, const depot::Rules&, AuditHits*);
};

// Those that look at the states alone, in a stated order.
std::span<const AuditRuleRow> RulesOnStates();

}  // namespace ferrule::trace
