#include "cli/render_bench.h"

#include "absl/strings/str_cat.h"
#include "absl/strings/str_format.h"
#include "absl/strings/str_join.h"
#include "cli/render_findings.h"
#include "cli/render_words.h"
#include "core/fact/words.h"

namespace ferrule::cli {
namespace {

std::string Minor(int64_t minor) {
  return absl::StrFormat("%s%d.%02d", minor < 0 ? "-" : "", (minor < 0 ? -minor : minor) / 100,
                         (minor < 0 ? -minor : minor) % 100);
}

std::string Optional(bool known, double value, int digits) {
  return known ? Rounded(value, digits) : std::string();
}

std::string FailedWords(const v1::InspectionRow& row) {
  std::string words;
  for (const v1::FailedItem& item : row.failed()) {
    absl::StrAppend(&words, words.empty() ? "" : "; ", item.item(), " ", Number(item.value()), ", ",
                    item.limit());
  }
  if (words.empty() && row.no_verdict_because() != v1::REASON_UNSPECIFIED) {
    words = "no verdict: " + RuleWord(row.no_verdict_because());
  }
  return words;
}

}  // namespace

std::string Rounded(double value, int digits) {
  std::string text = absl::StrFormat("%.*f", digits, value);
  if (text.find('.') == std::string::npos) return text;
  while (text.back() == '0') text.pop_back();
  if (text.back() == '.') text.pop_back();
  return text;
}

Table BenchTable(const v1::ReportBenchResponse& bench, const Zones& zones) {
  Table table({{"unit"},
               {"device_class"},
               {"place"},
               {"next"},
               {"minutes", true},
               {"order"},
               {"held"},
               {"needed"},
               {"slack_minutes", true},
               {"steps"},
               {"blocked"}});
  for (const v1::BenchRow& row : bench.rows()) {
    table.Add({row.unit(), row.device_class(), row.place(), Word(row.next()),
               absl::StrCat(row.minutes()), row.order(), row.held() ? "held" : "",
               Local(row.needed_time(), zones.OfBranch(row.branch())),
               row.has_needed_time() ? absl::StrCat(row.slack_minutes()) : "",
               absl::StrJoin(row.steps(), ", "), row.blocked()});
  }
  return table;
}

Table ServiceTable(const v1::ReportServiceResponse& service) {
  Table table({{"standing"},
               {"unit"},
               {"branch"},
               {"plan"},
               {"basis"},
               {"due_date"},
               {"overdue_days", true},
               {"run_hours", true},
               {"turns", true},
               {"hours_a_day", true},
               {"custody"},
               {"place"},
               {"order"},
               {"deferred_until"},
               {"deferred_by"}});
  for (const v1::ServiceRow& row : service.rows()) {
    table.Add({Word(row.standing()), row.unit(), row.branch(), row.plan(), row.basis(),
               Day(row.due_date()), row.has_due_date() ? absl::StrCat(row.overdue_days()) : "",
               Hours(row.run_since_s()), absl::StrCat(row.turns_since_count()),
               row.daily_use_s() > 0 ? Hours(row.daily_use_s()) : "", Word(row.custody()),
               row.place(), row.order(), Day(row.deferred_until_date()), row.deferred_by()});
  }
  return table;
}

Table DoubtTable(const v1::ReportDoubtsResponse& doubts, const Zones& zones) {
  Table table({{"rank", true},
               {"unit"},
               {"doubt"},
               {"result"},
               {"tester"},
               {"beside"},
               {"custody"},
               {"place"},
               {"order"},
               {"orders_since"},
               {"settled"},
               {"margin", true}});
  for (const v1::DoubtRow& row : doubts.rows()) {
    const absl::TimeZone zone = zones.OfPlace(row.place());
    table.Add({absl::StrCat(row.rank()), row.unit(), Word(row.kind()),
               StampWords(row.result(), zone), row.tester(), row.beside_unit(), Word(row.custody()),
               row.place(), row.order(), absl::StrJoin(row.orders_since(), " "),
               StampWords(row.settled(), zone),
               Optional(row.has_margin_share(), row.margin_share(), 3)});
  }
  return table;
}

Table CleaningTable(const v1::ReportCleaningsResponse& cleanings, absl::TimeZone zone) {
  Table table({{"unit"},
               {"done"},
               {"product"},
               {"lot"},
               {"expiry_date"},
               {"wet_s", true},
               {"label_s", true},
               {"minutes", true},
               {"extra"},
               {"counted"},
               {"because"}});
  for (const v1::CleaningRow& row : cleanings.rows()) {
    table.Add({row.unit(), StampWords(row.done(), zone), row.product(), row.product_lot(),
               Day(row.expiry_date()), absl::StrCat(row.wet_s()),
               row.label_s() > 0 ? absl::StrCat(row.label_s()) : "",
               row.minutes() > 0 ? absl::StrCat(row.minutes()) : "",
               absl::StrJoin(row.extra(), " "), row.counted() ? "yes" : "no",
               row.counted() ? "" : RuleWord(row.because())});
  }
  return table;
}

Table InspectionTable(const v1::AssessFailureResponse& failure, absl::TimeZone zone) {
  Table table({{"done"}, {"checklist"}, {"version"}, {"tester"}, {"result"}, {"why"}});
  for (const v1::InspectionRow& row : failure.inspections()) {
    table.Add({StampWords(row.done(), zone), row.checklist(), row.checklist_version(), row.tester(),
               row.passed()            ? "passed"
               : row.failed_size() > 0 ? "failed"
                                       : "no verdict",
               FailedWords(row)});
  }
  return table;
}

Table TrendTable(const google::protobuf::RepeatedPtrField<v1::Trend>& trends) {
  constexpr int kShown = 8;
  Table table({{"unit"},
               {"item"},
               {"readings"},
               {"measure"},
               {"habit_low", true},
               {"habit_mean", true},
               {"habit_high", true},
               {"limit_min", true},
               {"limit_max", true},
               {"drifting"}});
  for (const v1::Trend& trend : trends) {
    std::string readings;
    const int first = std::max(0, trend.points_size() - kShown);
    for (int i = first; i < trend.points_size(); ++i) {
      absl::StrAppend(&readings, readings.empty() ? "" : " ",
                      Number(trend.points(i).value_reading()));
    }
    table.Add({trend.unit(), trend.item(), readings, trend.measure(),
               Optional(trend.has_low_reading(), trend.low_reading(), 3),
               Optional(trend.has_center_reading(), trend.center_reading(), 3),
               Optional(trend.has_high_reading(), trend.high_reading(), 3),
               Optional(trend.has_min_reading(), trend.min_reading(), 3),
               Optional(trend.has_max_reading(), trend.max_reading(), 3), trend.because()});
  }
  return table;
}

Table RepairTable(const v1::AssessFailureResponse& failure, absl::TimeZone zone) {
  Table table({{"opened"},
               {"closed"},
               {"complaint"},
               {"cause"},
               {"work"},
               {"no_fault"},
               {"parts_out"},
               {"parts_in"},
               {"run_hours", true},
               {"labour_hours", true},
               {"cost", true},
               {"retest"},
               {"repeat"}});
  for (const v1::RepairRow& row : failure.repairs()) {
    table.Add({StampWords(row.opened(), zone), StampWords(row.closed(), zone), row.complaint(),
               row.cause(), row.work(), row.no_fault_found() ? "nothing found" : "",
               absl::StrJoin(row.parts_out(), " "), absl::StrJoin(row.parts_in(), " "),
               Hours(row.run_s()), row.labour_s() > 0 ? Hours(row.labour_s()) : "",
               row.cost_minor() > 0 ? Minor(row.cost_minor()) : "", StampWords(row.retest(), zone),
               row.repeat() ? "repeat" : ""});
  }
  return table;
}

Table MissingTable(const v1::ReportMissingAccessoriesResponse& missing, const Zones& zones) {
  Table table({{"unit"}, {"position"}, {"lost"}, {"order"}, {"since"}, {"required"}});
  for (const v1::MissingAccessory& row : missing.rows()) {
    table.Add({row.unit(), row.position(), Word(row.lost()), row.order(),
               StampWords(row.since(), zones.OfBranch("")), row.required() ? "required" : ""});
  }
  return table;
}

Table SegmentTable(const v1::GetRunHoursResponse& hours, absl::TimeZone zone) {
  Table table({{"began"},
               {"first_hours", true},
               {"last_hours", true},
               {"run_hours", true},
               {"end"},
               {"last_read"}});
  for (const v1::MeterSegment& row : hours.segments()) {
    table.Add({StampWords(row.began(), zone), Hours(row.first_s()), Hours(row.last_s()),
               Hours(row.run_s()), Word(row.end()), StampWords(row.ended(), zone)});
  }
  return table;
}

Table FailingTable(const v1::ReportFailingUnitsResponse& failing) {
  Table table({{"unit"},
               {"model"},
               {"failures", true},
               {"expected", true},
               {"run_hours", true},
               {"chance", true},
               {"corrected", true},
               {"beyond_chance"}});
  for (const v1::FailingUnit& row : failing.units()) {
    table.Add({row.unit(), row.model(), absl::StrCat(row.failure_count()),
               Rounded(row.expected_failures(), 2), Rounded(row.run_hours(), 1),
               Rounded(row.chance_probability(), 6), Rounded(row.corrected_probability(), 6),
               row.beyond_chance() ? "beyond chance" : ""});
  }
  return table;
}

Table ReliabilityTable(const v1::ReportReliabilityResponse& reliability) {
  Table table({{"model"},
               {"units", true},
               {"run_hours", true},
               {"failures", true},
               {"no_fault", true},
               {"repeats", true},
               {"hours_between", true},
               {"low", true},
               {"high", true},
               {"shape", true},
               {"scale_hours", true},
               {"growth_slope", true},
               {"trend_chance", true},
               {"first_inspections", true},
               {"first_passed", true}});
  for (const v1::ReliabilityRow& row : reliability.rows()) {
    table.Add({row.model(), absl::StrCat(row.unit_count()), Rounded(row.run_hours(), 1),
               absl::StrCat(row.failure_count()), absl::StrCat(row.no_fault_found_count()),
               absl::StrCat(row.repeat_count()),
               Optional(row.has_between_failures_hours(), row.between_failures_hours(), 1),
               Optional(row.has_low_hours(), row.low_hours(), 1),
               Optional(row.has_high_hours(), row.high_hours(), 1),
               Optional(row.has_weibull_shape(), row.weibull_shape(), 3),
               Optional(row.has_weibull_scale_hours(), row.weibull_scale_hours(), 1),
               Optional(row.has_growth_slope(), row.growth_slope(), 3),
               Optional(row.has_trend_probability(), row.trend_probability(), 4),
               absl::StrCat(row.first_inspection_count()), absl::StrCat(row.first_passed_count())});
  }
  return table;
}

Table SpareTable(const v1::ReportSparesResponse& spares) {
  Table table({{"position"},
               {"fitted", true},
               {"lost", true},
               {"lacking", true},
               {"lead_time_days", true},
               {"expected", true},
               {"wanted", true},
               {"keep", true},
               {"reached", true}});
  for (const v1::SpareRow& row : spares.rows()) {
    table.Add({row.position(), absl::StrCat(row.fitted_count()), absl::StrCat(row.lost_count()),
               absl::StrCat(row.lacking_count()), absl::StrCat(row.lead_time_days()),
               Rounded(row.expected_in_lead_time(), 2), Rounded(row.wanted_probability(), 3),
               absl::StrCat(row.keep_count()), Rounded(row.reached_probability(), 3)});
  }
  return table;
}

Table ProposalTable(const google::protobuf::RepeatedPtrField<v1::Proposal>& proposals) {
  Table table({{"kind"}, {"text"}, {"facts"}});
  for (const v1::Proposal& proposal : proposals) {
    std::string facts;
    for (const v1::Fact& fact : proposal.facts()) {
      absl::StrAppend(&facts, facts.empty() ? "" : "; ", fact::Describe(fact));
    }
    table.Add({Word(proposal.kind()), proposal.text(), facts});
  }
  return table;
}

std::string ProposalLines(const google::protobuf::RepeatedPtrField<v1::Proposal>& proposals) {
  std::string lines;
  for (const v1::Proposal& proposal : proposals) {
    absl::StrAppend(&lines, "     perhaps: ", Printable(proposal.text()), "\n");
    for (const v1::Fact& fact : proposal.facts()) {
      absl::StrAppend(&lines, "       to record then: ", Printable(fact::Describe(fact)), "\n");
    }
  }
  return lines;
}

}  // namespace ferrule::cli
