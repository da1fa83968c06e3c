#include "core/trace/audit.h"

#include <algorithm>
#include <string>
#include <vector>

#include "absl/strings/str_cat.h"
#include "absl/strings/str_join.h"
#include "core/fact/subject.h"
#include "core/time/civil.h"
#include "core/trace/audit_records.h"
#include "core/trace/audit_rules.h"
#include "core/trace/queries.h"
#include "core/trace/recall_items.h"
#include "core/trace/recall_scope.h"

namespace ferrule::trace {
namespace {

using store::Value;

// Rules on the intervals and on recalls, which read more than the states.
struct SpanRule {
  const char* name;
  const char* words;
  const store::Sql* sql;
  const char* what;
};

// Columns of each statement: subject, other, detail, from_us.
constexpr SpanRule kSpanRules[] = {
    {"custody-overlap", "no unit is in two places at one instant", &sql::kCustodyOverlaps,
     "is with two holders at one instant"},
    {"custody-gap", "somebody has every unit at every instant", &sql::kCustodyGaps,
     "is with nobody, and no record says so"},
    {"issued-while-held", "nothing goes out while a hold is in force", &sql::kIssuedWhileHeld,
     "went out while a hold was in force"},
};
constexpr char kRecallRule[] = "recall-without-hold";
constexpr char kRecallWords[] = "every unit that an open recall covers is dealt with or blocked";

std::vector<std::string> Names() {
  std::vector<std::string> names;
  for (const SpanRule& rule : kSpanRules) names.emplace_back(rule.name);
  for (const AuditRuleRow& rule : RulesOnStates()) names.emplace_back(rule.name);
  names.emplace_back(kRecallRule);
  return names;
}

v1::AuditRule* AddRule(const char* name, const char* words, v1::ReportAuditResponse* response) {
  v1::AuditRule* rule = response->add_rules();
  rule->set_rule(name);
  rule->set_words(words);
  return rule;
}

absl::Status RunSpanRule(store::Connection& connection, const SpanRule& rule,
                         v1::ReportAuditResponse* response) {
  AuditHits hits(AddRule(rule.name, rule.words, response));
  return connection.Run(*rule.sql, {}, [&](const store::Row& row) {
    const std::string detail(row.Bytes(2));
    hits.Add(std::string(row.Bytes(0)),
             detail.empty() ? std::string(rule.what) : absl::StrCat(rule.what, ": ", detail),
             row.Int(3), std::string(row.Bytes(1)));
  });
}

absl::Status RunRecallRule(ledger::Ledger& ledger, const AuditRecords& records,
                           v1::ReportAuditResponse* response) {
  AuditHits hits(AddRule(kRecallRule, kRecallWords, response));
  for (const v1::RecallState& recall : records.recalls) {
    if (recall.has_closed() || recall.exercise()) continue;
    v1::ListRecallItemsRequest request;
    request.set_name(fact::SubjectName(fact::SubjectKind::kRecall, recall.recall()));
    request.set_open_only(true);
    request.set_page_size(INT32_MAX);
    auto items = ListRecallItems(ledger, request, records.now_us);
    if (!items.ok()) return items.status();
    for (const v1::RecallItem& item : items->items()) {
      if (item.subject().rfind("units/", 0) != 0 || item.on_hold() || item.holder() == "gone") {
        continue;
      }
      hits.Add(item.subject(), absl::StrCat("is covered (", item.basis(), ") and not blocked"),
               time::ToMicros(recall.opened().time()), request.name());
    }
  }
  return absl::OkStatus();
}

}  // namespace

absl::StatusOr<v1::ReportAuditResponse> ReportAudit(ledger::Ledger& ledger,
                                                    const v1::ReportAuditRequest& request,
                                                    int64_t now_us) {
  const std::vector<std::string> names = Names();
  for (const std::string& rule : request.rules()) {
    if (std::find(names.begin(), names.end(), rule) != names.end()) continue;
    return absl::InvalidArgumentError(absl::StrCat(
        "there is no rule \"", rule, "\"; the rules are ", absl::StrJoin(names, ", ")));
  }
  const auto wanted = [&](const char* name) {
    return request.rules().empty() ||
           std::find(request.rules().begin(), request.rules().end(), name) != request.rules().end();
  };
  const auto book = ledger.Book();
  const depot::Rules& rules = book->At(now_us);
  v1::ReportAuditResponse response;
  AuditRecords records;
  absl::Status status = ledger.WithReader([&](store::Connection& connection) -> absl::Status {
    absl::Status read = ReadRecords(connection, rules, now_us, &records);
    for (const SpanRule& rule : kSpanRules) {
      if (read.ok() && wanted(rule.name)) read = RunSpanRule(connection, rule, &response);
    }
    return read;
  });
  if (!status.ok()) return status;
  response.set_subject_count(records.subjects);
  for (const AuditRuleRow& rule : RulesOnStates()) {
    if (!wanted(rule.name)) continue;
    AuditHits hits(AddRule(rule.name, rule.words, &response));
    rule.find(records, rules, &hits);
  }
  if (wanted(kRecallRule)) status = RunRecallRule(ledger, records, &response);
  if (!status.ok()) return status;
  return response;
}

}  // namespace ferrule::trace
