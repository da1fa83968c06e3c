#include "cli/render_findings.h"

#include <cctype>

#include "absl/strings/str_cat.h"
#include "cli/render_words.h"

namespace ferrule::cli {

std::string RuleWord(v1::Reason reason) {
  std::string word = Word(reason);
  for (char& c : word) {
    if (c == ' ') c = '-';
  }
  return word;
}

v1::Reason RuleOf(const std::string& word) {
  std::string name = word;
  for (char& c : name) {
    c = c == '-' ? '_' : static_cast<char>(std::toupper(static_cast<unsigned char>(c)));
  }
  if (name.rfind("REASON_", 0) != 0) name = "REASON_" + name;
  v1::Reason reason = v1::REASON_UNSPECIFIED;
  if (!v1::Reason_Parse(name, &reason)) return v1::REASON_UNSPECIFIED;
  return reason;
}

std::string FindingLines(const Findings& findings) {
  std::string lines;
  int number = 0;
  for (const v1::Finding& finding : findings) {
    const std::string text = finding.text().empty() ? Word(finding.reason()) : finding.text();
    absl::StrAppend(&lines, "  ", ++number, ". ", Printable(text), "  [",
                    RuleWord(finding.reason()), "]\n");
    if (!finding.remedy().empty()) {
      absl::StrAppend(&lines, "     -> ", Printable(finding.remedy()), "\n");
    }
  }
  return lines;
}

Table FindingTable(const Findings& findings, absl::TimeZone zone) {
  Table table(
      {{"subject"}, {"rule"}, {"time"}, {"text"}, {"remedy"}, {"entry_id"}, {"index", true}});
  for (const v1::Finding& finding : findings) {
    table.Add({finding.subject(), RuleWord(finding.reason()), Local(finding.time(), zone),
               finding.text(), finding.remedy(), finding.fact().entry_id(),
               finding.has_fact() ? absl::StrCat(finding.fact().index()) : std::string()});
  }
  return table;
}

}  // namespace ferrule::cli
