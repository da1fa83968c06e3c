// Stocktakes: opened with a cut-off, counted blind, compared, approved.
#include <map>

#include "absl/strings/match.h"
#include "absl/strings/str_cat.h"
#include "absl/strings/str_format.h"
#include "cli/answer.h"
#include "cli/catalog.h"
#include "cli/goods_flags.h"
#include "cli/look_up.h"
#include "cli/pages.h"
#include "cli/render_words.h"
#include "cli/report.h"
#include "cli/values.h"
#include "core/fact/counted.h"
#include "core/fact/words.h"
#include "core/time/civil.h"
#include "ferrule/v1/stock_service.grpc.pb.h"

namespace ferrule::cli {
namespace {

using Stock = v1::StockService::StubInterface;

const Positional kCount{"COUNT", "the stocktake's number"};

absl::Status Open(Session& session, const Line& line) {
  absl::StatusOr<Report> report = Report::Begin(session);
  if (!report.ok()) return report.status();
  Values values(session);
  v1::CountOpened& fact = *report->Add()->mutable_count_opened();
  fact.set_count(line.Arg("COUNT"));
  for (const std::string& place : line.Args("PLACE")) fact.add_places(place);
  time::SetMicros(values.Instant("--cut-off").value_or(report->at_us()),
                  fact.mutable_cut_off_time());
  if (!values.status().ok()) return values.status();
  return report->Send();
}

absl::Status Tally(Session& session, const Line& line) {
  absl::StatusOr<Report> report = Report::Begin(session);
  if (!report.ok()) return report.status();
  Values values(session);
  v1::CountTallied& fact = *report->Add()->mutable_count_tallied();
  fact.set_count(line.Arg("COUNT"));
  fact.set_place(line.Arg("PLACE"));
  fact.set_round(static_cast<int32_t>(values.Whole("--round").value_or(1)));
  for (const std::string& unit : line.All("--unit")) fact.add_units(unit);
  ReadGoods(line, values, fact.mutable_lines());
  for (const std::string& words : line.All("--unreadable")) fact.add_unreadable(words);
  if (!values.status().ok()) return values.status();
  return report->Send();
}

absl::StatusOr<v1::GetCountResponse> AskCount(Session& session, const std::string& count) {
  v1::GetCountRequest request;
  request.set_name("counts/" + count);
  v1::GetCountResponse response;
  const absl::Status asked = session.Ask(&Stock::GetCount, request, &response);
  if (!asked.ok()) return asked;
  return response;
}

// What the books follow when nothing explains a difference. A unit that is there and was never
// received stays a question for people: it has no record to follow.
absl::Status AddAdjustment(Session& session, const v1::CountDifference& difference,
                           const std::string& approved_by, const std::string& count,
                           Report* report) {
  const std::string id = BareId(difference.subject());
  const int64_t change = difference.counted_count() - difference.expected_count();
  if (absl::StartsWith(difference.subject(), "units/")) {
    if (change < 0) {
      v1::UnitMissing& missing = *report->Add()->mutable_unit_missing();
      missing.set_unit(id);
      missing.set_evidence(absl::StrCat("not seen at ", difference.place(), " in stocktake ", count,
                                        ", approved by ", approved_by));
      return absl::OkStatus();
    }
    const auto unit = LookUpUnit(session, id);
    if (!unit.ok()) return absl::OkStatus();
    if (unit->custody() == v1::CUSTODY_UNACCOUNTED || unit->custody() == v1::CUSTODY_LEFT_FLEET) {
      v1::UnitFound& found = *report->Add()->mutable_unit_found();
      found.set_unit(id);
      found.set_place(difference.place());
    }
    return absl::OkStatus();
  }
  v1::StockAdjusted& adjusted = *report->Add()->mutable_stock_adjusted();
  if (absl::StartsWith(difference.subject(), "lots/")) {
    v1::GetSubjectRequest request;
    request.set_name(difference.subject());
    v1::GetSubjectResponse response;
    const absl::Status asked =
        session.Ask(&v1::DepotService::StubInterface::GetSubject, request, &response);
    if (!asked.ok()) return asked;
    adjusted.set_lot(id);
    adjusted.set_item(response.state().lot().item());
  } else {
    adjusted.set_item(id);
  }
  adjusted.set_place(difference.place());
  adjusted.set_change_count(static_cast<int32_t>(change));
  adjusted.set_count(count);
  adjusted.set_approved_by(approved_by);
  return absl::OkStatus();
}

struct Explained {
  v1::CountExplanation explanation;
  std::string words;
};

// --explain-difference SUBJECT=KIND or SUBJECT=KIND:words.
absl::StatusOr<std::map<std::string, Explained>> ReadExplanations(const Line& line) {
  std::map<std::string, Explained> out;
  for (const std::string& text : line.All("--because-of")) {
    const auto pair = ParsePair(text);
    if (!pair.ok()) return pair.status();
    const size_t colon = pair->second.find(':');
    const auto kind = ParseEnum(v1::CountExplanation_descriptor(), pair->second.substr(0, colon));
    if (!kind.ok()) return kind.status();
    out[pair->first] = {static_cast<v1::CountExplanation>(*kind),
                        colon == std::string::npos ? "" : pair->second.substr(colon + 1)};
  }
  return out;
}

absl::Status Close(Session& session, const Line& line) {
  absl::StatusOr<Report> report = Report::Begin(session);
  if (!report.ok()) return report.status();
  const std::string approved_by = line.Get("--approved-by").value_or("");
  if (approved_by.empty()) {
    return absl::InvalidArgumentError(
        "a stocktake is closed with an approval; add --approved-by NAME");
  }
  auto explanations = ReadExplanations(line);
  if (!explanations.ok()) return explanations.status();
  const std::string number = line.Arg("COUNT");
  const auto count = AskCount(session, number);
  if (!count.ok()) return count.status();
  v1::CountClosed closed;
  closed.set_count(number);
  closed.set_approved_by(approved_by);
  for (const v1::CountLine& found : count->differences()) {
    v1::CountDifference difference = found.difference();
    for (const std::string& key : {difference.subject(), BareId(difference.subject())}) {
      const auto said = explanations->find(key);
      if (said == explanations->end()) continue;
      difference.set_explanation(said->second.explanation);
      difference.set_words(said->second.words);
      explanations->erase(said);
      break;
    }
    if (difference.explanation() == v1::COUNT_EXPLANATION_NONE) {
      absl::Status added = AddAdjustment(session, difference, approved_by, number, &*report);
      if (!added.ok()) return added;
    }
    *closed.add_differences() = std::move(difference);
  }
  if (!explanations->empty()) {
    return absl::InvalidArgumentError(
        absl::StrCat("--because-of: stocktake ", number, " has no difference of ",
                     explanations->begin()->first, "; ferrule count ", number, " lists them"));
  }
  *report->Add()->mutable_count_closed() = std::move(closed);
  return report->Send();
}

absl::Status Show(Session& session, const Line& line) {
  if (absl::Status now = OnlyFromNow(session); !now.ok()) return now;
  const auto count = AskCount(session, line.Arg("COUNT"));
  if (!count.ok()) return count.status();
  const absl::TimeZone zone =
      session.zones().OfPlace(count->count().places().empty() ? "" : count->count().places(0));
  Table table({{"place"},
               {"subject"},
               {"expected", true},
               {"counted", true},
               {"recounted"},
               {"explanation"},
               {"words"}});
  for (const v1::CountLine& found : count->differences()) {
    const v1::CountDifference& difference = found.difference();
    table.Add({difference.place(), BareId(difference.subject()),
               absl::StrCat(difference.expected_count()), absl::StrCat(difference.counted_count()),
               found.recounted() ? "yes" : "no",
               std::string(fact::CountExplanationWords(difference.explanation())),
               difference.words()});
  }
  const v1::CountState& state = count->count();
  std::string below = absl::StrCat("Cut-off ", Local(state.cut_off_time(), zone), ", opened ",
                                   StampWords(state.opened(), zone), ".\n");
  if (!count->untallied_places().empty()) {
    absl::StrAppend(&below, "Still to be counted, and nothing is shown before: ",
                    Joined(count->untallied_places()), "\n");
    return ShowAnswer(session, *count, table, "the count goes on", below);
  }
  absl::StrAppend(&below, count->expected_count(), " expected at the cut-off, ",
                  fact::Counted(count->agreeing_count(), "line agrees", "lines agree"), ", ",
                  count->plus_count(), " more and ", count->minus_count(),
                  " fewer (not set off); records right ",
                  absl::StrFormat("%.2f", count->accuracy_basis_points() / 100.0), " %.\n");
  for (const std::string& move : count->moves()) {
    absl::StrAppend(&below, "No difference: ", move, "\n");
  }
  if (state.has_closed()) {
    absl::StrAppend(&below, "Closed ", StampWords(state.closed(), zone), ", approved by ",
                    state.approved_by(), "; books adjusted by ", state.gained_count(), " more and ",
                    state.lost_count(), " fewer.\n");
  }
  return ShowAnswer(session, *count, table, "no difference", below);
}

absl::Status Counts(Session& session, const Line& line) {
  if (absl::Status now = OnlyFromNow(session); !now.ok()) return now;
  v1::ListCountsRequest request;
  request.set_include_closed(line.Has("--all"));
  v1::ListCountsResponse all;
  const absl::Status asked =
      AskPages(session, &Stock::ListCounts, request, &all,
               [](v1::ListCountsResponse& page) { return page.mutable_counts(); });
  if (!asked.ok()) return asked;
  const absl::TimeZone zone = session.zones().OfBranch("");
  Table table({{"count"}, {"places"}, {"cut_off"}, {"opened"}, {"closed"}, {"approved_by"}});
  for (const v1::CountState& count : all.counts()) {
    table.Add({count.count(), Joined(count.places()), Local(count.cut_off_time(), zone),
               StampWords(count.opened(), zone), StampWords(count.closed(), zone),
               count.approved_by()});
  }
  return ShowAnswer(session, all, table, "no stocktake is open");
}

}  // namespace

void AddStocktakeCommands(Catalog* catalog) {
  constexpr auto kGroup = Group::kStores;
  catalog->push_back({"count-open",
                      kGroup,
                      Kind::kRecords,
                      "begin a stocktake",
                      {kCount, {"PLACE", "places that are counted", Arity::kMany}},
                      {{"--cut-off", "TIME", "what stood there at this time; default now"}},
                      "ferrule count-open C-7 north-shelf north-closet",
                      Open});
  catalog->push_back({"count-tally",
                      kGroup,
                      Kind::kRecords,
                      "say what was seen at one place; the books are not shown before",
                      {kCount, {"PLACE", "the place"}},
                      {kUnitsFlag,
                       kGoodsFlag,
                       {"--round", "N", "1 for the first count, 2 and more for recounts"},
                       {"--unreadable", "TEXT", "something whose tag could not be read", true}},
                      "ferrule count-tally C-7 north-shelf --unit K-0417 --goods pad-set=L5*12",
                      Tally});
  catalog->push_back({"count-close",
                      kGroup,
                      Kind::kRecords,
                      "approve a stocktake; the books follow what nothing explains",
                      {kCount},
                      {{"--approved-by", "NAME", "who approved it; nobody who counted"},
                       {"--because-of", "SUBJECT=WORD",
                        "what explains a difference: K-0417=later-scan:on van 3", true}},
                      "ferrule count-close C-7 --approved-by lead-eve",
                      Close});
  catalog->push_back({"count",
                      kGroup,
                      Kind::kReads,
                      "compare a stocktake with the books of its cut-off",
                      {kCount},
                      {},
                      "ferrule count C-7",
                      Show});
  catalog->push_back({"counts",
                      kGroup,
                      Kind::kReads,
                      "list stocktakes",
                      {},
                      {{"--all", "", "closed ones as well"}, kLimitFlag},
                      "ferrule counts",
                      Counts});
}

}  // namespace ferrule::cli
