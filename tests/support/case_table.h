// Life-cycle cases as text, one a line: axis, state, event, "->", next state, reason or "-".
#pragma once

#include <fstream>
#include <map>
#include <sstream>
#include <string>
#include <string_view>
#include <tuple>

#include "core/finding/catalog.h"
#include "ferrule/v1/findings.pb.h"

namespace ferrule::testing {

// (axis, state, event) to "next reason".
using CaseTable = std::map<std::tuple<std::string, std::string, std::string>, std::string>;

// "left_fleet" for "CUSTODY_LEFT_FLEET" with the prefix "CUSTODY_"; "never" for the state 0.
inline std::string StateWord(std::string_view name, std::string_view prefix) {
  std::string word(name.substr(prefix.size()));
  if (word == "UNSPECIFIED") return "never";
  for (char& c : word) c = c == '_' ? '_' : static_cast<char>(c | 0x20);
  return word;
}

inline std::string Outcome(const std::string& next, v1::Reason reason) {
  const bool none = reason == v1::REASON_UNSPECIFIED;
  return next + " " + (none ? std::string("-") : std::string(finding::ReasonString(reason)));
}

// Reads the file; `bad_lines` gets the lines that are no case or come twice.
inline CaseTable ReadCases(const std::string& path, std::string* bad_lines) {
  CaseTable cases;
  std::ifstream in(path);
  if (!in) *bad_lines += "no file " + path + "\n";
  std::string line;
  while (std::getline(in, line)) {
    if (line.empty() || line.front() == '#') continue;
    std::istringstream words(line);
    std::string axis, state, event, arrow, next, reason, more;
    words >> axis >> state >> event >> arrow >> next >> reason;
    const bool whole = !reason.empty() && arrow == "->" && !(words >> more);
    if (!whole || !cases.try_emplace({axis, state, event}, next + " " + reason).second) {
      *bad_lines += line + "\n";
    }
  }
  return cases;
}

}  // namespace ferrule::testing
