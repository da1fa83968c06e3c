#include "cli/render_promise.h"

#include "absl/strings/str_cat.h"
#include "cli/render_findings.h"
#include "cli/render_words.h"
#include "core/fact/counted.h"

namespace ferrule::cli {
namespace {

std::string YesNo(bool yes) { return yes ? "yes" : ""; }

std::string Days(const google::type::Date& from, const google::type::Date& through) {
  return absl::StrCat(Day(from), " to ", Day(through));
}

// The reasons of findings, as they are typed after --override.
std::string RuleWords(const Findings& findings) {
  std::string words;
  for (const v1::Finding& finding : findings) {
    absl::StrAppend(&words, words.empty() ? "" : ", ", RuleWord(finding.reason()));
  }
  return words;
}

std::string SessionWords(const v1::SessionFigures& session) {
  std::string words =
      absl::StrCat(Number(static_cast<double>(session.cycle_ms()) / 1000), " s a cycle, ",
                   Number(session.cycles_per_hour_tenths() / 10.0), " cycles an hour");
  if (session.daily_use_s() > 0) {
    absl::StrAppend(&words, ", ", fact::Counted(session.daily_cycle_count(), "cycle", "cycles"),
                    " in ", Hours(session.daily_use_s()), " h a day");
  }
  return words;
}

}  // namespace

std::string OddsText(int permille) { return absl::StrCat(Number(permille / 10.0), " %"); }

std::string VerdictText(const v1::AssessPromiseResponse& answer) {
  const std::string odds = OddsText(answer.odds_permille());
  const bool later = answer.has_earliest_date();
  switch (answer.verdict()) {
    case v1::PROMISE_VERDICT_YES:
      return absl::StrCat("yes, ", odds);
    case v1::PROMISE_VERDICT_LIKELY:
      return absl::StrCat("likely, ", odds,
                          later ? absl::StrCat("; a yes from ", Day(answer.earliest_date())) : "");
    default:
      return absl::StrCat("no, ", odds,
                          later ? absl::StrCat("; a yes from ", Day(answer.earliest_date()))
                                : "; no day found within the days looked ahead");
  }
}

std::string PromiseText(const v1::AssessPromiseResponse& answer) {
  std::string text =
      absl::StrCat(VerdictText(answer), "\nfor ", answer.branch(), ", ",
                   Days(answer.date(), answer.through_date()), " with the turnaround\n");
  if (!answer.sources().empty()) {
    absl::StrAppend(&text, "Units it rests on, the one that a promise would claim first:\n",
                    SourceTable(answer.sources()).Text());
  }
  if (!answer.claims().empty()) absl::StrAppend(&text, "Before it come:\n");
  for (const v1::PromiseClaim& claim : answer.claims()) {
    absl::StrAppend(&text, "  ", claim.order(), ", ", Days(claim.from_date(), claim.through_date()),
                    claim.unit().empty() ? ", waits" : absl::StrCat(", ", claim.unit()),
                    claim.firm() ? ", firm" : "", "\n");
  }
  for (const v1::PromiseElsewhere& other : answer.elsewhere()) {
    absl::StrAppend(
        &text, "From ", other.branch(), " (", fact::Counted(other.transfer_days(), "day", "days"),
        " on the way): ", OddsText(other.odds_permille()), " for that day",
        other.has_earliest_date() ? absl::StrCat(", a yes from ", Day(other.earliest_date())) : "",
        "\n");
  }
  absl::StrAppend(
      &text,
      answer.learned_rental_count() > 0
          ? absl::StrCat("Odds learned from ",
                         fact::Counted(answer.learned_rental_count(), "rental", "rentals"), ".\n")
          : "Odds are the usual ones: no rental has been recorded yet.\n");
  return text;
}

Table SourceTable(const Rows<v1::PromiseSource>& sources) {
  Table table({{"unit"}, {"model"}, {"odds", true}, {"standing"}, {"claimed_by"}, {"stands_in"}});
  for (const v1::PromiseSource& s : sources) {
    table.Add({s.unit(), s.model(), OddsText(s.odds_permille()), s.standing(), s.claimed_by(),
               YesNo(s.stands_in())});
  }
  return table;
}

std::string MoveText(const v1::AssessMoveResponse& answer) {
  std::string text = absl::StrCat("If the operation of ", BareId(answer.name()), " moves:\n");
  for (const v1::MovedDate& date : answer.moved()) {
    const std::string before = Day(date.before_date());
    const std::string after = Day(date.after_date());
    absl::StrAppend(
        &text, "  ", date.what(), ": ",
        before == after ? absl::StrCat(before, " stays") : absl::StrCat(before, " -> ", after),
        "\n");
  }
  if (answer.promises().empty()) {
    absl::StrAppend(&text, "No other promise changes.\n");
  } else {
    absl::StrAppend(&text, "Other promises that change:\n",
                    MovedPromiseTable(answer.promises()).Text());
  }
  for (const std::string& note : answer.notes()) absl::StrAppend(&text, "Note: ", note, "\n");
  absl::StrAppend(&text, "Nothing has been changed; ferrule move-surgery does it.\n");
  return text;
}

Table MovedPromiseTable(const Rows<v1::MovedPromise>& promises) {
  Table table({{"order"},
               {"unit"},
               {"from"},
               {"before", true},
               {"after", true},
               {"broken"},
               {"other_unit"}});
  for (const v1::MovedPromise& p : promises) {
    table.Add({p.order(), p.unit(), Day(p.from_date()), OddsText(p.before_permille()),
               OddsText(p.after_permille()), YesNo(p.broken()), p.other_unit()});
  }
  return table;
}

std::string FitText(const v1::AssessFitResponse& answer) {
  std::string text;
  if (answer.fits().empty()) {
    absl::StrAppend(&text, "no unit fits ", BareId(answer.name()), "\n");
  } else {
    Table table({{"unit"},
                 {"model"},
                 {"branch"},
                 {"ready"},
                 {"why_not"},
                 {"hours", true},
                 {"promised_to"},
                 {"to_do"}});
    for (const v1::FitRow& row : answer.fits()) {
      table.Add({row.unit(), row.model(), row.branch(), row.not_ready().empty() ? "yes" : "no",
                 RuleWords(row.not_ready()), Hours(row.run_s()), row.promised().order(),
                 row.side_to_be_changed() ? "set up for the side" : ""});
    }
    absl::StrAppend(&text, table.Text());
  }
  for (const v1::FitRow& row : answer.others()) {
    absl::StrAppend(&text, row.unit(), " (", row.model(), ") does not fit:\n",
                    FindingLines(row.unfit()));
  }
  if (!answer.not_judged().empty()) {
    absl::StrAppend(
        &text, "Not judged, since the order does not say: ", Joined(answer.not_judged()), "\n");
  }
  if (!answer.questions().empty()) {
    absl::StrAppend(&text, "To be asked about first:\n", FindingLines(answer.questions()));
  }
  return text;
}

Table FitTable(const v1::AssessFitResponse& answer) {
  Table table({{"unit"},
               {"model"},
               {"branch"},
               {"fits"},
               {"unfit"},
               {"ready"},
               {"not_ready"},
               {"run_hours", true},
               {"promised_to"}});
  for (const auto* rows : {&answer.fits(), &answer.others()}) {
    for (const v1::FitRow& row : *rows) {
      table.Add({row.unit(), row.model(), row.branch(), row.unfit().empty() ? "yes" : "no",
                 RuleWords(row.unfit()), row.not_ready().empty() ? "yes" : "no",
                 RuleWords(row.not_ready()), Hours(row.run_s()), row.promised().order()});
    }
  }
  return table;
}

Table WaitingTable(const Rows<v1::WaitingRow>& rows, const Zones& zones) {
  Table table({{"order"},
               {"branch"},
               {"device_class"},
               {"side"},
               {"surgery"},
               {"needed"},
               {"asked_for"},
               {"waits_since"},
               {"reason"}});
  for (const v1::WaitingRow& row : rows) {
    table.Add({row.order(), row.branch(), row.device_class(), Word(row.side()),
               Day(row.surgery_date()), Day(row.needed_date()), Day(row.waiting().asked_date()),
               Local(row.waiting().noted().time(), zones.OfBranch(row.branch())),
               row.waiting().reason()});
  }
  return table;
}

Table PromiseTable(const Rows<v1::PromiseRow>& rows) {
  Table table({{"order"},
               {"branch"},
               {"device_class"},
               {"unit"},
               {"from"},
               {"through"},
               {"firm"},
               {"told", true},
               {"now", true},
               {"standing"}});
  for (const v1::PromiseRow& row : rows) {
    const v1::StandingPromise& p = row.promise();
    table.Add({p.order(), row.branch(), row.device_class(), p.unit(), Day(p.from_date()),
               Day(p.through_date()), YesNo(p.firm()), OddsText(p.odds_permille()),
               OddsText(row.odds_permille()), row.standing()});
  }
  return table;
}

Fields MotionPlanFields(const v1::GetMotionPlanResponse& plan, absl::TimeZone zone) {
  Fields fields;
  fields.Add("day", Day(plan.date()));
  if (plan.has_day_number()) {
    fields.Add("day number", absl::StrCat(plan.day_number(), " from ", Day(plan.anchor_date()),
                                          " (", Word(plan.anchor()), ")"));
  }
  fields.Add("limits by the order", MotionWords(plan.limits()));
  fields.Add("end of progression", plan.capped() ? "reached" : "");
  fields.Add("ordered", StampWords(plan.motion_ordered(), zone));
  if (plan.has_ordered_session()) fields.Add("a session", SessionWords(plan.ordered_session()));
  fields.Add("set on the device", MotionWords(plan.set()));
  fields.Add("set", StampWords(plan.motion_set(), zone));
  if (plan.has_set_session()) fields.Add("a session as set", SessionWords(plan.set_session()));
  return fields;
}

std::string MotionPlanText(const v1::GetMotionPlanResponse& plan, const Fields& fields) {
  std::string text = absl::StrCat("Motion of ", BareId(plan.name()), "\n", fields.Text());
  if (!plan.beyond().empty()) {
    absl::StrAppend(&text, "What is set goes too far:\n", FindingLines(plan.beyond()));
  }
  for (const std::string& w : plan.warnings()) absl::StrAppend(&text, "Ask: ", w, "\n");
  for (const std::string& m : plan.missing()) absl::StrAppend(&text, "Missing: ", m, "\n");
  return text;
}

std::string UsageText(const v1::GetUsageResponse& usage) {
  if (usage.intervals().empty()) {
    return absl::StrCat("no use of ", BareId(usage.name()), " has been read or told yet\n");
  }
  std::string text = UsageTable(usage).Text();
  if (usage.day_count() > 0) {
    absl::StrAppend(&text, Hours(usage.used_s()), " h in ",
                    fact::Counted(usage.day_count(), "day", "days"), ", ",
                    Hours(usage.daily_use_s()), " h a day");
    if (usage.has_used_permille()) {
      absl::StrAppend(&text, ", ", OddsText(usage.used_permille()), " of the ",
                      Hours(usage.prescribed_daily_use_s()), " h prescribed");
    }
    absl::StrAppend(&text, "\n");
  }
  if (usage.doubtful_count() > 0) {
    absl::StrAppend(&text, usage.doubtful_count(), " set aside as doubtful\n");
  }
  if (usage.low()) {
    absl::StrAppend(&text,
                    "That is low by the settings: call the patient and tell the "
                    "prescriber.\n");
  }
  return text;
}

Table UsageTable(const v1::GetUsageResponse& usage) {
  Table table(
      {{"unit"}, {"from"}, {"through"}, {"days", true}, {"hours", true}, {"source"}, {"doubt"}});
  for (const v1::UsageInterval& i : usage.intervals()) {
    table.Add({i.unit(), Day(i.from_date()), Day(i.through_date()), absl::StrCat(i.day_count()),
               Hours(i.used_s()), Word(i.source()), i.doubt()});
  }
  return table;
}

}  // namespace ferrule::cli
