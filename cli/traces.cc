// Traces: who had what, what met what, proofs, violations, the audit, the survey pack.
#include "absl/strings/match.h"
#include "absl/strings/str_cat.h"
#include "absl/strings/str_format.h"
#include "cli/answer.h"
#include "cli/catalog.h"
#include "cli/look_up.h"
#include "cli/pages.h"
#include "cli/render_words.h"
#include "cli/values.h"
#include "core/fact/counted.h"
#include "core/time/civil.h"
#include "ferrule/v1/trace_service.grpc.pb.h"

namespace ferrule::cli {
namespace {

using Trace = v1::TraceService::StubInterface;

const Flag kFrom{"--from", "TIME", "only what was so after this"};
const Flag kTo{"--to", "TIME", "only what was so before this"};

template <typename Request>
void ReadWindow(Values& values, Request* request) {
  IfGiven(values.Instant("--from"),
          [&](int64_t v) { time::SetMicros(v, request->mutable_from_time()); });
  IfGiven(values.Instant("--to"),
          [&](int64_t v) { time::SetMicros(v, request->mutable_to_time()); });
}

std::string Until(const v1::Span& span, absl::TimeZone zone) {
  if (span.kind() == v1::SPAN_KIND_USE) return "";
  return span.has_to_time() ? Local(span.to_time(), zone) : "still";
}

std::string HolderWords(const std::string& holder) {
  if (absl::StartsWith(holder, "orders/")) {
    return absl::StrCat("home of order ", BareId(holder));
  }
  if (absl::StartsWith(holder, "transfers/")) {
    return absl::StrCat("on the way with ", BareId(holder));
  }
  if (holder == "nobody") return "unaccounted for";
  if (holder == "gone") return "left the fleet";
  return BareId(holder);
}

template <typename Spans>
Table SpanTable(const Spans& spans, absl::TimeZone zone) {
  Table table({{"subject"},
               {"what"},
               {"holder"},
               {"detail"},
               {"lot"},
               {"pieces", true},
               {"from"},
               {"until"}});
  for (const v1::Span& span : spans) {
    table.Add({span.subject(), Word(span.kind()), HolderWords(span.holder()), span.detail(),
               span.lot(), span.piece_count() == 0 ? "" : absl::StrCat(span.piece_count()),
               Local(span.from_time(), zone), Until(span, zone)});
  }
  return table;
}

absl::Status Holders(Session& session, const Line& line) {
  v1::ListHoldersRequest request;
  Values values(session);
  ReadWindow(values, &request);
  if (!values.status().ok()) return values.status();
  const auto known = session.KnownAt();
  if (!known.ok()) return known.status();
  if (known->has_value()) time::SetMicros(**known, request.mutable_known_time());
  const auto name = FullName(session, line.Arg("NAME"));
  if (!name.ok()) return name.status();
  request.set_name(*name);
  v1::ListHoldersResponse all;
  const absl::Status asked =
      AskPages(session, &Trace::ListHolders, request, &all,
               [](v1::ListHoldersResponse& page) { return page.mutable_spans(); });
  if (!asked.ok()) return asked;
  return ShowAnswer(session, all, SpanTable(all.spans(), session.zones().OfBranch("")),
                    "nobody had it then");
}

absl::Status Held(Session& session, const Line& line) {
  if (absl::Status now = OnlyFromNow(session); !now.ok()) return now;
  v1::ListHeldRequest request;
  Values values(session);
  ReadWindow(values, &request);
  if (!values.status().ok()) return values.status();
  request.set_holder(line.Arg("HOLDER"));
  const bool bare = request.holder().find('/') == std::string::npos &&
                    request.holder() != "nobody" && request.holder() != "gone";
  if (bare) {
    // A place is no subject of the records until something of its own is recorded.
    const auto name = FullName(session, request.holder());
    request.set_holder(name.ok() ? *name : "places/" + request.holder());
  }
  v1::ListHeldResponse all;
  const absl::Status asked =
      AskPages(session, &Trace::ListHeld, request, &all,
               [](v1::ListHeldResponse& page) { return page.mutable_spans(); });
  if (!asked.ok()) return asked;
  return ShowAnswer(session, all, SpanTable(all.spans(), session.zones().OfBranch("")),
                    "it had nothing then");
}

absl::Status Path(Session& session, const Line& line) {
  if (absl::Status now = OnlyFromNow(session); !now.ok()) return now;
  v1::ReportPathRequest request;
  const std::string part = line.Arg("PART");
  if (!part.empty()) request.set_name(absl::StartsWith(part, "parts/") ? part : "parts/" + part);
  request.set_part_lot(line.Get("--part-lot").value_or(""));
  v1::ReportPathResponse response;
  const absl::Status asked = session.Ask(&Trace::ReportPath, request, &response);
  if (!asked.ok()) return asked;
  const absl::TimeZone zone = session.zones().OfBranch("");
  Table table({{"part"}, {"lot"}, {"unit"}, {"position"}, {"holder"}, {"from"}, {"until"}});
  for (const v1::PathRow& row : response.rows()) {
    table.Add({row.part(), row.lot(), row.unit(), row.position(), HolderWords(row.holder()),
               Local(row.from_time(), zone),
               row.has_to_time() ? Local(row.to_time(), zone) : "still"});
  }
  std::string below;
  if (response.left_out_count() > 0) {
    below = absl::StrCat(response.left_out_count(), " more rows; name one part.\n");
  }
  return ShowAnswer(session, response, table, "nobody had it", below);
}

absl::Status Exposure(Session& session, const Line& line) {
  if (absl::Status now = OnlyFromNow(session); !now.ok()) return now;
  v1::ReportExposureRequest request;
  Values values(session);
  request.set_name("units/" + BareId(line.Arg("UNIT")));
  IfGiven(values.Instant("--from"),
          [&](int64_t v) { time::SetMicros(v, request.mutable_from_time()); });
  if (!values.status().ok()) return values.status();
  v1::ReportExposureResponse response;
  const absl::Status asked = session.Ask(&Trace::ReportExposure, request, &response);
  if (!asked.ok()) return asked;
  const absl::TimeZone zone = session.zones().OfBranch("");
  const Table table = SpanTable(response.beside(), zone);
  std::string head = absl::StrCat(
      BareId(request.name()), " was soiled from ", Local(response.from_time(), zone),
      response.has_to_time() ? absl::StrCat(" to ", Local(response.to_time(), zone))
                             : " and still is",
      "\nWho had it\n", SpanTable(response.holders(), zone).Text(), "What stood beside it\n");
  session.Show(response, table,
               head + (table.empty() ? "nothing\n" : table.Text()) +
                   "Whether anything must be done is for people who know to judge.\n");
  return absl::OkStatus();
}

void AddLeg(const v1::ProofLeg& leg, absl::TimeZone zone, Table* table) {
  std::string broken;
  for (const v1::Finding& finding : leg.broken()) {
    absl::StrAppend(&broken, broken.empty() ? "" : "; ", finding.text());
  }
  std::string set_aside;
  for (const v1::OverrideUsed& used : leg.overrides()) {
    absl::StrAppend(&set_aside, set_aside.empty() ? "" : "; ", used.authority(), ": ",
                    used.because());
  }
  std::string lots;
  for (const v1::Span& lot : leg.lots()) {
    absl::StrAppend(&lots, lots.empty() ? "" : ", ", lot.piece_count(), " ", lot.detail(), " of ",
                    BareId(lot.subject()));
  }
  table->Add({leg.unit(), leg.order(), StampWords(leg.returned(), zone),
              StampWords(leg.cleaned(), zone), StampWords(leg.erased(), zone),
              StampWords(leg.inspected(), zone), leg.checklist(), StampWords(leg.issued(), zone),
              StampWords(leg.ended(), zone), lots, leg.whole() ? "whole" : "not whole", broken,
              set_aside});
}

Table LegTable() {
  return Table({{"unit"},
                {"order"},
                {"returned"},
                {"cleaned"},
                {"erased"},
                {"inspected"},
                {"checklist"},
                {"issued"},
                {"ended"},
                {"lots"},
                {"chain"},
                {"broken"},
                {"set_aside"}});
}

// One block a unit, for paper.
std::string LegText(const v1::ProofLeg& leg, absl::TimeZone zone) {
  const auto line = [](const char* name, const std::string& value) {
    return absl::StrFormat("  %-11s %s\n", name, value.empty() ? "no record" : value);
  };
  std::string text = absl::StrCat("Unit ", leg.unit(), ", order ", leg.order(), ": chain ",
                                  leg.whole() ? "whole" : "NOT WHOLE", "\n",
                                  line("returned", StampWords(leg.returned(), zone)),
                                  line("cleaned", StampWords(leg.cleaned(), zone)),
                                  line("erased", StampWords(leg.erased(), zone)));
  absl::StrAppend(
      &text,
      line("inspected", leg.has_inspected()
                            ? absl::StrCat(StampWords(leg.inspected(), zone), ", ", leg.checklist())
                            : ""),
      line("handed over", StampWords(leg.issued(), zone)),
      line("came back", leg.has_ended() ? StampWords(leg.ended(), zone) : "still out"));
  for (const v1::Span& lot : leg.lots()) {
    text += line("with it", absl::StrCat(lot.piece_count(), " ", lot.detail(), " of lot ",
                                         BareId(lot.subject())));
  }
  for (const v1::Finding& finding : leg.broken()) text += line("broken", finding.text());
  for (const v1::OverrideUsed& used : leg.overrides()) {
    text += line("set aside", absl::StrCat("by ", used.authority(), ": ", used.because()));
  }
  return text;
}

absl::Status Proof(Session& session, const Line& line) {
  v1::GetProofRequest request;
  request.set_name("orders/" + BareId(line.Arg("ORDER")));
  const auto known = session.KnownAt();
  if (!known.ok()) return known.status();
  if (known->has_value()) time::SetMicros(**known, request.mutable_known_time());
  v1::GetProofResponse response;
  const absl::Status asked = session.Ask(&Trace::GetProof, request, &response);
  if (!asked.ok()) return asked;
  const absl::TimeZone zone = session.zones().OfBranch("");
  Table table = LegTable();
  std::string text;
  for (const v1::ProofLeg& leg : response.legs()) {
    AddLeg(leg, zone, &table);
    text += LegText(leg, zone);
  }
  if (text.empty()) text = absl::StrCat(BareId(request.name()), ": nothing was handed over\n");
  const auto why = session.Explanation();
  if (!why.ok()) return why.status();
  session.Show(response, table, absl::StrCat(text, "Times are local (", zone.name(), ").\n", *why));
  return absl::OkStatus();
}

absl::Status Violations(Session& session, const Line& /*line*/) {
  if (absl::Status now = OnlyFromNow(session); !now.ok()) return now;
  v1::ReportViolationsRequest request;
  Values values(session);
  ReadWindow(values, &request);
  if (!values.status().ok()) return values.status();
  v1::ReportViolationsResponse response;
  const absl::Status asked = session.Ask(&Trace::ReportViolations, request, &response);
  if (!asked.ok()) return asked;
  const absl::TimeZone zone = session.zones().OfBranch("");
  Table table = LegTable();
  std::string text;
  for (const v1::ProofLeg& leg : response.legs()) {
    AddLeg(leg, zone, &table);
    text += LegText(leg, zone);
  }
  absl::StrAppend(&text, response.issue_count(), " hand-overs, ", response.whole_count(),
                  " with a whole chain, ", response.override_count(),
                  " with a rule set aside by name (not counted as whole).\n");
  const auto why = session.Explanation();
  if (!why.ok()) return why.status();
  session.Show(response, table, text + *why);
  return absl::OkStatus();
}

absl::Status Audit(Session& session, const Line& line) {
  if (absl::Status now = OnlyFromNow(session); !now.ok()) return now;
  v1::ReportAuditRequest request;
  for (const std::string& rule : line.All("--rule")) request.add_rules(rule);
  v1::ReportAuditResponse response;
  const absl::Status asked = session.Ask(&Trace::ReportAudit, request, &response);
  if (!asked.ok()) return asked;
  const absl::TimeZone zone = session.zones().OfBranch("");
  Table table({{"rule"}, {"subject"}, {"words"}, {"since"}, {"other"}});
  std::string text;
  for (const v1::AuditRule& rule : response.rules()) {
    absl::StrAppend(&text, rule.hit_count() == 0 ? "ok    " : "LOOK  ", rule.rule(), ": ",
                    rule.words(), "\n");
    for (const v1::AuditHit& hit : rule.hits()) {
      table.Add({rule.rule(), hit.subject(), hit.words(), Local(hit.time(), zone), hit.other()});
      absl::StrAppend(&text, "      ", hit.subject(), " ", Printable(hit.words()),
                      hit.has_time() ? absl::StrCat(", since ", Local(hit.time(), zone)) : "",
                      hit.other().empty() ? "" : absl::StrCat(" (", hit.other(), ")"), "\n");
    }
    if (rule.hit_count() > rule.hits_size()) {
      absl::StrAppend(&text, "      and ", rule.hit_count() - rule.hits_size(), " more\n");
    }
  }
  absl::StrAppend(&text, fact::Counted(response.subject_count(), "subject looked at.\n",
                                       "subjects looked at.\n"));
  const auto why = session.Explanation();
  if (!why.ok()) return why.status();
  session.Show(response, table, text + *why);
  return absl::OkStatus();
}

absl::Status Survey(Session& session, const Line& /*line*/) {
  if (absl::Status now = OnlyFromNow(session); !now.ok()) return now;
  v1::ReportSurveyRequest request;
  Values values(session);
  ReadWindow(values, &request);
  request.set_rental_count(static_cast<int32_t>(values.Whole("--rentals").value_or(0)));
  request.set_seed(values.Whole("--seed").value_or(1));
  if (!values.status().ok()) return values.status();
  v1::ReportSurveyResponse response;
  const absl::Status asked = session.Ask(&Trace::ReportSurvey, request, &response);
  if (!asked.ok()) return asked;
  const absl::TimeZone zone = session.zones().OfBranch("");
  Table table = LegTable();
  std::string text;
  for (const v1::GetProofResponse& proof : response.proofs()) {
    for (const v1::ProofLeg& leg : proof.legs()) {
      AddLeg(leg, zone, &table);
      text += LegText(leg, zone);
    }
  }
  for (int i = 0; i < response.recalls_size(); ++i) {
    const v1::RecallTotals& totals = response.recall_totals(i);
    absl::StrAppend(&text, "Recall ", response.recalls(i).recall(), ": ", totals.done_count(),
                    " of ", fact::Counted(totals.item_count(), "item", "items"), " dealt with\n");
  }
  for (const v1::Span& hold : response.holds()) {
    absl::StrAppend(&text, "Hold on ", BareId(hold.subject()), ": ", hold.detail(), " since ",
                    Local(hold.from_time(), zone), "\n");
  }
  absl::StrAppend(&text, fact::Counted(response.proofs_size(), "rental", "rentals"),
                  " drawn out of ", response.rental_count(), " with seed ", response.seed(),
                  "; the same seed draws the same ones.\n");
  session.Show(response, table, text);
  return absl::OkStatus();
}

}  // namespace

void AddTraceCommands(Catalog* catalog) {
  constexpr auto kGroup = Group::kTrace;
  catalog->push_back({"who-had",
                      kGroup,
                      Kind::kReads,
                      "say who or what had a unit, part or lot, from when to when",
                      {{"NAME", "its id, or its full name such as parts/PEN-88"}},
                      {kFrom, kTo, kLimitFlag},
                      "ferrule who-had K-0417 --from 2026-05-01",
                      Holders});
  catalog->push_back({"what-had",
                      kGroup,
                      Kind::kReads,
                      "say what a place, a home, a van or a unit had, from when to when",
                      {{"HOLDER", "a place, an order, a unit, or nobody"}},
                      {kFrom, kTo, kLimitFlag},
                      "ferrule what-had north-van-dirty --from 2026-05-01",
                      Held});
  catalog->push_back({"path",
                      kGroup,
                      Kind::kReads,
                      "say who had a part, or a lot of parts, through the units it was in",
                      {{"PART", "the part", Arity::kOptional}},
                      {{"--part-lot", "LOT", "a lot of parts instead"}},
                      "ferrule path --part-lot B-77",
                      Path});
  catalog->push_back({"exposure",
                      kGroup,
                      Kind::kReads,
                      "say who and what a soiled unit met until it was cleaned",
                      {{"UNIT", "the unit's tag"}},
                      {{"--from", "TIME", "the return that counts; default the last one"}},
                      "ferrule exposure K-0417",
                      Exposure});
  catalog->push_back({"proof",
                      kGroup,
                      Kind::kReads,
                      "show that a rental's units were cleaned and inspected before they went out",
                      {{"ORDER", "the order's number"}},
                      {},
                      "ferrule proof R-2001",
                      Proof});
  catalog->push_back({"violations",
                      kGroup,
                      Kind::kReads,
                      "list hand-overs without a whole chain, and rules set aside by name",
                      {},
                      {kFrom, kTo},
                      "ferrule violations --from 2026-01-01",
                      Violations});
  catalog->push_back({"audit",
                      kGroup,
                      Kind::kReads,
                      "look for records that contradict each other",
                      {},
                      {{"--rule", "RULE", "only this rule", true}},
                      "ferrule audit --rule serial-on-two-units",
                      Audit});
  catalog->push_back({"survey",
                      kGroup,
                      Kind::kReads,
                      "put together what a surveyor asks for",
                      {},
                      {kFrom,
                       kTo,
                       {"--rentals", "N", "rentals to draw; default 20"},
                       {"--seed", "N", "seed of the draw; default 1"}},
                      "ferrule survey --from 2026-01-01 --seed 7",
                      Survey});
}

}  // namespace ferrule::cli
