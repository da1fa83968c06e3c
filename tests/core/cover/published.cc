#include "tests/core/cover/published.h"

#include <gtest/gtest.h>

#include <fstream>
#include <stdexcept>

#include "absl/strings/ascii.h"
#include "absl/strings/numbers.h"
#include "absl/strings/str_cat.h"
#include "absl/strings/str_split.h"
#include "core/time/civil.h"

namespace ferrule::testing {
namespace {

std::string Day(const google::type::Date& date) {
  return time::IsValid(date) ? time::FormatDay(time::ToDay(date)) : "none";
}

size_t Whole(const std::string& text) {
  size_t value = 0;
  if (!absl::SimpleAtoi(text, &value)) throw std::runtime_error("no number: " + text);
  return value;
}

std::string OfMonth(const v1::DayLedger& ledger, size_t number) {
  if (number < 1 || number > static_cast<size_t>(ledger.months_size())) return "no such month";
  const v1::RentalMonth& month = ledger.months(static_cast<int>(number) - 1);
  return absl::StrCat("from ", Day(month.from_date()), ", period ", month.period(),
                      month.covered() ? ", covered" : ", not covered");
}

std::string OfDay(const v1::DayLedger& ledger, const std::string& date) {
  for (const v1::LedgerDay& day : ledger.days()) {
    if (Day(day.date()) != date) continue;
    return absl::StrCat(v1::DayState_Name(day.state()).substr(10), " ",
                        v1::DayReason_Name(day.reason()).substr(11), " ", day.length_s() / 3600,
                        " h");
  }
  return "no such day";
}

// The answer to "what:reading[:which]", with readings from 1 on.
std::string ValueOf(const v1::GetDayLedgerResponse& days, const std::string& asked) {
  if (asked == "readings") return absl::StrCat(days.ledgers_size());
  if (asked == "differ") return absl::StrCat(days.differences_size());
  const std::vector<std::string> parts = absl::StrSplit(asked, ':');
  const size_t reading = Whole(parts.at(1));
  if (reading < 1 || reading > static_cast<size_t>(days.ledgers_size())) return "no such reading";
  const v1::DayLedger& ledger = days.ledgers(static_cast<int>(reading) - 1);
  const std::string& what = parts.at(0);
  if (what == "sums") {
    return absl::StrCat(ledger.covered_count(), "/", ledger.not_covered_count(), " through ",
                        Day(ledger.cover_through_date()));
  }
  if (what == "away") return absl::StrCat(ledger.away_count());
  if (what == "idle") return absl::StrCat(ledger.idle_count());
  if (what == "touched") return absl::StrCat(ledger.touched_count());
  if (what == "billable") return absl::StrCat(ledger.billable_count());
  if (what == "custody") return absl::StrCat(ledger.custody_s() / 3600, " h");
  if (what == "custody-days") return absl::StrCat(ledger.custody_day_thousandths());
  if (what == "service") return Day(ledger.service_date());
  if (what == "amount") return absl::StrCat(ledger.amount_minor());
  if (what == "months") return absl::StrCat(ledger.months_size());
  if (what == "month") return OfMonth(ledger, Whole(parts.at(2)));
  if (what == "day") return OfDay(ledger, parts.at(2));
  throw std::runtime_error("not understood: expect " + asked);
}

void Put(const std::string& word, const std::string& rest, std::vector<PublishedCase>* cases) {
  if (word == "case") {
    cases->push_back({rest, "", "", "", {}});
    return;
  }
  if (cases->empty()) throw std::runtime_error("no case begins with " + word);
  PublishedCase& now = cases->back();
  if (word == "source") {
    absl::StrAppend(&now.source, now.source.empty() ? "" : " ", rest);
  } else if (word == "rental") {
    absl::StrAppend(&now.rental, now.rental.empty() ? "" : " ", rest);
  } else if (word == "through") {
    now.through = rest;
  } else if (word == "expect") {
    const size_t blank = rest.find(' ');
    now.expected.emplace_back(rest.substr(0, blank), rest.substr(blank + 1));
  } else {
    throw std::runtime_error("not understood: " + word);
  }
}

}  // namespace

std::vector<PublishedCase> PublishedCases() {
  std::ifstream file(FERRULE_PUBLISHED_CASES);
  if (!file) throw std::runtime_error("cannot read " FERRULE_PUBLISHED_CASES);
  std::vector<PublishedCase> cases;
  for (std::string line; std::getline(file, line);) {
    const std::string text(absl::StripAsciiWhitespace(line));
    if (text.empty() || text[0] == '#') continue;
    const size_t blank = text.find(' ');
    if (blank == std::string::npos) throw std::runtime_error("not understood: " + text);
    Put(text.substr(0, blank), text.substr(blank + 1), &cases);
  }
  return cases;
}

void ExpectPublished(const PublishedCase& published, const v1::GetDayLedgerResponse& days) {
  EXPECT_FALSE(published.expected.empty()) << published.name;
  for (const auto& [asked, expected] : published.expected) {
    EXPECT_EQ(ValueOf(days, asked), expected) << published.name << ": " << asked;
  }
}

}  // namespace ferrule::testing
