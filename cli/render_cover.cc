#include "cli/render_cover.h"

#include <cstdlib>
#include <vector>

#include "absl/strings/str_cat.h"
#include "cli/render_words.h"
#include "core/fact/counted.h"
#include "core/time/civil.h"

namespace ferrule::cli {
namespace {

constexpr char kCaution[] =
    "The payer decides; check the terms in the settings with it before anything is billed.\n";

std::string Minor(int64_t minor) {
  const int64_t size = std::abs(minor);
  return absl::StrCat(minor < 0 ? "-" : "", size / 100, ".",
                      absl::Dec(size % 100, absl::kZeroPad2));
}

std::string YesNo(bool value) { return value ? "yes" : "no"; }

std::string Span(const google::type::Date& from, const google::type::Date& through) {
  if (Day(from) == Day(through)) return Day(from);
  return absl::StrCat(Day(from), " through ", Day(through));
}

void AppendSpans(const char* what, const google::protobuf::RepeatedPtrField<v1::DaySpan>& spans,
                 std::string* text) {
  for (const v1::DaySpan& span : spans) {
    absl::StrAppend(text, what, Span(span.from_date(), span.through_date()), "\n");
  }
}

std::string OverdueWords(int days) {
  if (days == 0) return "today";
  return days > 0 ? absl::StrCat(fact::Counted(days, "day", "days"), " over")
                  : absl::StrCat("in ", fact::Counted(-days, "day", "days"));
}

void AppendSums(const v1::DayLedger& ledger, std::string* text) {
  const bool monthly = ledger.billing_unit() == v1::BILLING_UNIT_MONTH;
  if (!ledger.reading().empty()) absl::StrAppend(text, "By reading ", ledger.reading(), ": ");
  absl::StrAppend(text, fact::Counted(ledger.touched_count(), "day", "days"), ": ",
                  ledger.covered_count(), " covered, ", ledger.not_covered_count(),
                  " in use and not covered, ", ledger.away_count(), " away, ", ledger.idle_count(),
                  " not used\n");
  if (ledger.has_cover_through_date()) {
    absl::StrAppend(text, "  covered through ", Day(ledger.cover_through_date()), "\n");
  }
  absl::StrAppend(text, "  billable ",
                  monthly ? fact::Counted(ledger.billable_count(), "month", "months")
                          : fact::Counted(ledger.billable_count(), "day", "days"),
                  ", ", Minor(ledger.amount_minor()), "; in the home ",
                  ledger.custody_day_thousandths() / 1000, ".",
                  absl::Dec(ledger.custody_day_thousandths() % 1000, absl::kZeroPad3), " days, ",
                  ledger.touched_count(), " touched\n");
  if (!ledger.source().empty()) absl::StrAppend(text, "  source: ", ledger.source(), "\n");
}

// Days in a row with the same state, reason, payer and units on one line.
void AppendStretches(const v1::DayLedger& ledger, std::string* text) {
  Table table({{"from_date"},
               {"through_date"},
               {"day_count", true},
               {"state"},
               {"reason"},
               {"payer"},
               {"units"}});
  const auto& days = ledger.days();
  for (int i = 0; i < days.size();) {
    int end = i + 1;
    const auto same = [&](const v1::LedgerDay& day) {
      return day.state() == days[i].state() && day.reason() == days[i].reason() &&
             day.payer() == days[i].payer() && Joined(day.units()) == Joined(days[i].units()) &&
             time::ToDay(day.date()) == time::ToDay(days[i].date()) + (end - i);
    };
    while (end < days.size() && same(days[end])) ++end;
    table.Add({Day(days[i].date()), Day(days[end - 1].date()), absl::StrCat(end - i),
               Word(days[i].state()), Word(days[i].reason()), days[i].payer(),
               Joined(days[i].units())});
    i = end;
  }
  absl::StrAppend(text, table.Text());
}

void AppendMonths(const v1::DayLedger& ledger, std::string* text) {
  for (const v1::RentalMonth& month : ledger.months()) {
    absl::StrAppend(text, "rental period ", month.period(), ", month ", month.month(), ": ",
                    Span(month.from_date(), month.through_date()),
                    month.covered() ? "\n" : ", not covered\n");
  }
}

void AppendDifferences(const v1::GetDayLedgerResponse& answer, std::string* text) {
  if (answer.differences().empty()) return;
  absl::StrAppend(text, "The readings differ on ",
                  fact::Counted(answer.differences_size(), "day", "days"), ":\n");
  for (const v1::DayDifference& difference : answer.differences()) {
    absl::StrAppend(text, "  ", Day(difference.date()));
    for (int i = 0; i < difference.states_size(); ++i) {
      absl::StrAppend(text, i == 0 ? ": " : ", ", answer.ledgers(i).reading(), " ",
                      Word(difference.states(i)));
    }
    absl::StrAppend(text, "\n");
  }
}

std::string MissingWords(const google::protobuf::RepeatedPtrField<v1::MissingItem>& missing) {
  std::string words;
  for (const v1::MissingItem& item : missing) {
    absl::StrAppend(&words, words.empty() ? "" : "; ", item.item(), ", from ", item.supplier());
  }
  return words;
}

}  // namespace

Table MissingTable(const v1::AssessOrderResponse& answer) {
  Table table({{"item"}, {"supplier"}, {"to_go_out"}, {"to_bill"}});
  for (const v1::MissingItem& item : answer.missing()) {
    table.Add({item.item(), item.supplier(), YesNo(item.to_go_out()), YesNo(item.to_bill())});
  }
  return table;
}

std::string MissingText(const v1::AssessOrderResponse& answer, const Table& table) {
  const std::string order = BareId(answer.name());
  if (answer.missing().empty()) return order + " is enough to go out and enough to bill\n";
  return absl::StrCat(order, answer.enough_to_go_out() ? " is enough" : " is not enough",
                      " to go out and ", answer.enough_to_bill() ? "enough" : "not enough",
                      " to bill; missing:\n", table.Text());
}

Table EndsTable(const v1::GetRentalEndsResponse& answer) {
  Table table({{"end"}, {"date"}, {"rules"}, {"overdue_days", true}});
  for (const v1::RentalEndRow& end : answer.ends()) {
    table.Add(
        {Word(end.basis()), Day(end.date()), YesNo(end.rules()), absl::StrCat(end.overdue_days())});
  }
  return table;
}

std::string EndsText(const v1::GetRentalEndsResponse& answer, const Table& /*table*/) {
  const std::string order = BareId(answer.name());
  std::string text;
  if (answer.ends().empty()) text = absl::StrCat("no end of ", order, " is known yet\n");
  Table ends({{"end"}, {"date"}, {"due"}, {"distance"}});
  for (const v1::RentalEndRow& end : answer.ends()) {
    ends.Add({Word(end.basis()), Day(end.date()), end.rules() ? "due date" : "",
              OverdueWords(
                  static_cast<int>(time::ToDay(answer.today_date()) - time::ToDay(end.date())))});
  }
  if (!ends.empty()) absl::StrAppend(&text, ends.Text());
  for (const v1::PrescribedSpan& span : answer.spans()) {
    absl::StrAppend(&text, span.paper(), ": ", Span(span.from_date(), span.through_date()),
                    span.cut_by_stop() ? ", cut short by a stop" : "", "\n");
  }
  AppendSpans("hole, prescribed by no paper: ", answer.holes(), &text);
  AppendSpans("prescribed more than once: ", answer.overlaps(), &text);
  for (const v1::LinkedOrder& linked : answer.linked()) {
    absl::StrAppend(&text, "belongs together with ", linked.order(), ", ", Word(linked.side()));
    if (linked.link() != v1::ORDER_LINK_UNSPECIFIED) {
      absl::StrAppend(&text, " (", Word(linked.link()), ")");
    }
    if (linked.has_from_date()) {
      absl::StrAppend(
          &text, ", in the home from ", Day(linked.from_date()),
          linked.has_through_date() ? absl::StrCat(" through ", Day(linked.through_date())) : "");
    }
    absl::StrAppend(&text, "\n");
  }
  return text;
}

Table DaysTable(const v1::GetDayLedgerResponse& answer) {
  std::vector<Table::Column> columns = {{"date"},          {"state"}, {"reason"},
                                        {"payer"},         {"units"}, {"custody_s", true},
                                        {"length_s", true}};
  for (int i = 1; i < answer.ledgers_size(); ++i) {
    columns.push_back({absl::StrCat("state_by_", answer.ledgers(i).reading())});
  }
  Table table(std::move(columns));
  if (answer.ledgers().empty()) return table;
  for (int d = 0; d < answer.ledgers(0).days_size(); ++d) {
    const v1::LedgerDay& day = answer.ledgers(0).days(d);
    std::vector<std::string> cells = {Day(day.date()),
                                      Word(day.state()),
                                      Word(day.reason()),
                                      day.payer(),
                                      Joined(day.units()),
                                      absl::StrCat(day.custody_s()),
                                      absl::StrCat(day.length_s())};
    for (int i = 1; i < answer.ledgers_size(); ++i) {
      cells.push_back(Word(answer.ledgers(i).days(d).state()));
    }
    table.Add(std::move(cells));
  }
  return table;
}

std::string DaysText(const v1::GetDayLedgerResponse& answer, const Table& /*table*/) {
  const std::string order = BareId(answer.name());
  if (answer.ledgers().empty() || answer.ledgers(0).days().empty()) {
    return absl::StrCat("no unit has been in the home with ", order, " yet\n");
  }
  std::string text =
      absl::StrCat(order, ", patient ", answer.patient(), ", ", Word(answer.side()), " ",
                   answer.device_class(), answer.open() ? ", still out" : "", "\n");
  AppendStretches(answer.ledgers(0), &text);
  for (const v1::DayLedger& ledger : answer.ledgers()) AppendSums(ledger, &text);
  AppendMonths(answer.ledgers(0), &text);
  AppendDifferences(answer, &text);
  return absl::StrCat(text, kCaution);
}

Table ClaimsTable(const v1::ReportClaimsResponse& answer) {
  Table table(
      {{"branch"},         {"order"},         {"patient"},          {"payer"},
       {"device_class"},   {"side"},          {"billing_code"},     {"modifiers"},
       {"from_date"},      {"through_date"},  {"unit_count", true}, {"covered_count", true},
       {"amount", true},   {"procedure"},     {"surgery_date"},     {"application_date"},
       {"discharge_date"}, {"authorisation"}, {"reading"},          {"billed_count", true}});
  for (const v1::ClaimRow& row : answer.claims()) {
    table.Add({row.branch(),
               row.order(),
               row.patient(),
               row.payer(),
               row.device_class(),
               Word(row.side()),
               row.billing_code(),
               row.modifiers(),
               Day(row.from_date()),
               Day(row.through_date()),
               absl::StrCat(row.unit_count()),
               absl::StrCat(row.covered_count()),
               Minor(row.amount_minor()),
               row.procedure(),
               Day(row.surgery_date()),
               Day(row.application_date()),
               Day(row.discharge_date()),
               row.authorisation(),
               row.reading(),
               absl::StrCat(row.billed_count())});
  }
  return table;
}

Table RefusedTable(const v1::ReportClaimsResponse& answer) {
  Table table({{"branch"}, {"order"}, {"payer"}, {"missing"}});
  for (const v1::RefusedClaim& row : answer.refused()) {
    table.Add({row.branch(), row.order(), row.payer(), MissingWords(row.missing())});
  }
  return table;
}

std::string ClaimsText(const v1::ReportClaimsResponse& answer, const Table& /*table*/) {
  std::string text = answer.claims().empty() ? "no rental can be claimed\n" : "";
  if (!answer.claims().empty()) absl::StrAppend(&text, ClaimsTable(answer).Text());
  if (!answer.refused().empty()) {
    absl::StrAppend(&text, fact::Counted(answer.refused_size(), "rental", "rentals"),
                    " cannot be claimed:\n", RefusedTable(answer).Text());
  }
  return absl::StrCat(text, kCaution);
}

Table CorrectionsTable(const v1::ReportCorrectionsResponse& answer) {
  Table table({{"order"},
               {"claim"},
               {"date"},
               {"state_then"},
               {"reason_then"},
               {"state_now"},
               {"reason_now"},
               {"cause"},
               {"cause_by"},
               {"cause_entry"}});
  for (const v1::Correction& correction : answer.corrections()) {
    for (const v1::CorrectedDay& day : correction.days()) {
      table.Add({correction.order(), correction.claim(), Day(day.date()), Word(day.state_then()),
                 Word(day.reason_then()), Word(day.state_now()), Word(day.reason_now()),
                 day.cause_text(), day.cause().actor(), day.cause().fact().entry_id()});
    }
  }
  return table;
}

std::string CorrectionsText(const v1::ReportCorrectionsResponse& answer, const Table& table) {
  if (answer.corrections().empty()) return "nothing that was billed has changed\n";
  std::string text;
  for (const v1::Correction& correction : answer.corrections()) {
    absl::StrAppend(&text, correction.order(), ", claim ", correction.claim(), ", ",
                    Span(correction.from_date(), correction.through_date()), ": covered ",
                    correction.covered_then_count(), " as billed, ", correction.covered_now_count(),
                    " now, difference ", Minor(correction.amount_difference_minor()), "\n");
  }
  absl::StrAppend(&text, table.Text());
  return absl::StrCat(
      text, "What was billed stays as it was: ask for it --known-at the time of the claim.\n");
}

}  // namespace ferrule::cli
