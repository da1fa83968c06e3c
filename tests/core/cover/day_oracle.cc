// Reads one rental a line, "THROUGH key=value ...", and writes its ledgers by every reading, one
// line a rental: "FIRST REASONS custody_s thousandths through amount months", ledgers separated by
// "|". day_oracle_test.py holds them against an implementation of its own.
#include <cstdio>
#include <iostream>
#include <string>

#include "absl/strings/str_cat.h"
#include "core/time/civil.h"
#include "tests/core/cover/spec.h"

namespace ferrule {
namespace {

std::string Day(bool known, const google::type::Date& date) {
  return known ? absl::StrCat(time::DayNumber(time::ToDay(date))) : std::string("-");
}

std::string InOneLine(const v1::DayLedger& ledger) {
  std::string reasons;
  int64_t last = 0;
  for (const v1::LedgerDay& day : ledger.days()) {
    const int64_t number = time::DayNumber(time::ToDay(day.date()));
    // A day that is left out shows as a gap.
    if (!reasons.empty()) absl::StrAppend(&reasons, number == last + 1 ? "," : "_");
    absl::StrAppend(&reasons, day.state(), ".", day.reason());
    last = number;
  }
  std::string months;
  for (const v1::RentalMonth& month : ledger.months()) {
    absl::StrAppend(&months, months.empty() ? "" : ",", month.period(), ".", month.month(), ".",
                    Day(true, month.from_date()), ".", month.covered() ? 1 : 0);
  }
  return absl::StrCat(ledger.days().empty() ? "-" : Day(true, ledger.days(0).date()), " ",
                      reasons.empty() ? "-" : reasons, " ", ledger.custody_s(), " ",
                      ledger.custody_day_thousandths(), " ",
                      Day(ledger.has_cover_through_date(), ledger.cover_through_date()), " ",
                      ledger.amount_minor(), " ", months.empty() ? "-" : months);
}

int Run() {
  std::string line;
  while (std::getline(std::cin, line)) {
    const size_t blank = line.find(' ');
    const testing::Rental rental = testing::RentalOf(line.substr(blank + 1));
    std::string out;
    const v1::GetDayLedgerResponse days = testing::CountRental(rental, line.substr(0, blank));
    for (const v1::DayLedger& ledger : days.ledgers()) {
      absl::StrAppend(&out, out.empty() ? "" : "|", InOneLine(ledger));
    }
    std::puts(out.c_str());
  }
  return 0;
}

}  // namespace
}  // namespace ferrule

int main() { return ferrule::Run(); }
