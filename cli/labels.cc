// Labels to print: a unit's own tag, clean, soiled, quarantine, transfer, and the station's cards.
#include <fstream>

#include "absl/strings/match.h"
#include "absl/strings/str_cat.h"
#include "absl/strings/str_join.h"
#include "cli/catalog.h"
#include "cli/label_pdf.h"
#include "cli/label_sheet.h"
#include "cli/look_up.h"
#include "cli/render_findings.h"
#include "cli/render_words.h"
#include "core/fact/counted.h"
#include "core/label/card.h"
#include "core/time/civil.h"
#include "nlohmann/json.hpp"

namespace ferrule::cli {
namespace {

// One sheet on its way: what it needs to know of the depot.
struct Sheet {
  Session& session;
  const v1::Settings& settings;
  label::TagRules rules;
  std::vector<LabelText> labels;
};

absl::StatusOr<Sheet> Begin(Session& session) {
  const auto version = session.Settings();
  if (!version.ok()) return version.status();
  const v1::Settings& settings = (*version)->settings();
  return Sheet{session,
               settings,
               {settings.tags().check_character(), settings.tags().gs1_company_prefix()},
               {}};
}

const char* KindWord(LabelKind kind) {
  constexpr const char* kWords[] = {"unit", "clean", "soiled", "quarantine", "transfer", "card"};
  return kWords[static_cast<int>(kind)];
}

// The same without a layout, for a label printer's own program.
std::string SheetJson(const std::vector<LabelText>& labels) {
  nlohmann::ordered_json json = {{"labels", nlohmann::ordered_json::array()}};
  for (const LabelText& label : labels) {
    nlohmann::ordered_json one = {{"kind", KindWord(label.kind)},
                                  {"heading", label.heading},
                                  {"title", label.title},
                                  {"gs1", label.code.gs1},
                                  {"payload", label.code.payload},
                                  {"payloadText", label.code.people},
                                  {"lines", nlohmann::ordered_json::array()},
                                  {"toFillIn", label.to_fill_in},
                                  {"footing", label.footing}};
    for (const auto& [name, value] : label.lines) {
      if (!value.empty()) one["lines"].push_back({{"name", name}, {"value", value}});
    }
    json["labels"].push_back(std::move(one));
  }
  return json.dump(2, ' ', false, nlohmann::json::error_handler_t::replace) + "\n";
}

std::string SheetCsv(const std::vector<LabelText>& labels) {
  Table table({{"kind"}, {"title"}, {"gs1"}, {"payload"}});
  for (const LabelText& label : labels) {
    table.Add({KindWord(label.kind), label.title, label.code.gs1 ? "1" : "0", label.code.payload});
  }
  return table.Csv();
}

absl::Status WriteSheet(const std::string& path, const std::string& sheet) {
  std::ofstream file(path, std::ios::binary | std::ios::trunc);
  file << sheet;
  file.close();
  if (file) return absl::OkStatus();
  return absl::UnavailableError(absl::StrCat(
      path, " cannot be written: choose another file with --out, or see whether the disk is full"));
}

absl::Status Finish(const Sheet& sheet) {
  Session& session = sheet.session;
  if (session.format() == Format::kJson) {
    session.out().Write(SheetJson(sheet.labels));
    return absl::OkStatus();
  }
  if (session.format() == Format::kCsv) {
    session.out().Write(SheetCsv(sheet.labels));
    return absl::OkStatus();
  }
  const std::optional<std::string> path = session.line().Get("--out");
  const bool pdf = path.has_value() && absl::EndsWithIgnoreCase(*path, ".pdf");
  const absl::StatusOr<std::string> drawn = pdf ? SheetPdf(sheet.labels) : SheetHtml(sheet.labels);
  if (!drawn.ok()) return drawn.status();
  if (!path.has_value()) {
    session.out().Write(*drawn);
    return absl::OkStatus();
  }
  if (absl::Status written = WriteSheet(*path, *drawn); !written.ok()) return written;
  session.out().Write(absl::StrCat(
      "wrote ", *path, ": ",
      fact::Counted(static_cast<int64_t>(sheet.labels.size()), "label", "labels"),
      pdf ? "; print it at 100 %\n" : "; open it in a browser and print it at 100 %\n"));
  return absl::OkStatus();
}

// What every label of a unit has.
LabelText LabelOf(const Sheet& sheet, LabelKind kind, std::string heading,
                  const v1::UnitState& unit) {
  LabelText label;
  label.kind = kind;
  label.heading = std::move(heading);
  label.title = label::TagOnLabel(unit.unit(), sheet.rules);
  label.code = label::CodeOfTag(unit.unit(), sheet.rules);
  label.lines = {{"model", unit.model()}, {"serial", unit.serial()}};
  return label;
}

std::string PrintedAt(const Sheet& sheet, absl::TimeZone zone) {
  return time::FormatLocal(sheet.session.now_us(), zone);
}

std::string HoldWords(const v1::UnitState& unit, absl::TimeZone zone) {
  std::vector<std::string> words;
  for (const v1::Hold& hold : unit.holds()) {
    words.push_back(absl::StrCat(Word(hold.kind()), ": ", hold.reason(), " (",
                                 StampWords(hold.placed(), zone), ")"));
  }
  return absl::StrJoin(words, "; ");
}

absl::Status NoLabel(const v1::UnitState& unit, const std::string& kind, const std::string& why) {
  return absl::FailedPreconditionError(
      absl::StrCat("no ", kind, " label for ", unit.unit(), ": ", why));
}

// Fills the labels of all the units named; the first that must not have one stops the sheet.
using Fill = absl::Status (*)(Sheet&, const v1::UnitState&);
absl::Status PrintUnits(Session& session, const Line& line, Fill fill) {
  absl::StatusOr<Sheet> sheet = Begin(session);
  if (!sheet.ok()) return sheet.status();
  for (const std::string& name : line.Args("UNIT")) {
    const auto unit = LookUpUnit(session, name);
    if (!unit.ok()) return unit.status();
    if (absl::Status filled = fill(*sheet, *unit); !filled.ok()) return filled;
  }
  return Finish(*sheet);
}

absl::Status FillUnit(Sheet& sheet, const v1::UnitState& unit) {
  LabelText label = LabelOf(sheet, LabelKind::kUnit, "PROPERTY OF THE DEPOT", unit);
  if (unit.side() != v1::SIDE_UNSPECIFIED) label.lines.emplace_back("side", Word(unit.side()));
  label.footing = "Found or no longer needed? Ask the depot to collect it.";
  sheet.labels.push_back(std::move(label));
  return absl::OkStatus();
}

// A clean label is for a unit that lacks nothing but its place on a clean shelf.
absl::Status FillClean(Sheet& sheet, const v1::UnitState& unit) {
  v1::AssessUnitRequest request;
  request.set_name("units/" + unit.unit());
  request.set_order(unit.order());
  v1::AssessUnitResponse answer;
  const absl::Status asked =
      sheet.session.Ask(&v1::DepotService::StubInterface::AssessUnit, request, &answer);
  if (!asked.ok()) return asked;
  for (const v1::Finding& finding : answer.findings()) {
    if (finding.reason() == v1::REASON_NOT_AT_CLEAN_PLACE) continue;
    return NoLabel(unit, "clean", absl::StrCat(finding.text(), " -> ", finding.remedy()));
  }
  const absl::TimeZone zone = sheet.session.zones().OfPlace(unit.place());
  LabelText label = LabelOf(sheet, LabelKind::kClean, "CLEAN, CHECKED", unit);
  label.lines.emplace_back("cleaned", StampWords(unit.cleaned(), zone));
  label.lines.emplace_back("inspected", StampWords(unit.inspection().done(), zone));
  label.lines.emplace_back("checklist", absl::StrCat(unit.inspection().checklist(), " version ",
                                                     unit.inspection().checklist_version()));
  label.lines.emplace_back("seal", unit.seal());
  label.lines.emplace_back("printed", PrintedAt(sheet, zone));
  label.to_fill_in = {"bagged by", "seal no."};
  label.footing = "Only while the seal is whole. Seal broken: treat as soiled.";
  sheet.labels.push_back(std::move(label));
  return absl::OkStatus();
}

absl::Status FillSoiled(Sheet& sheet, const v1::UnitState& unit) {
  const absl::TimeZone zone = sheet.session.zones().OfPlace(unit.place());
  LabelText label = LabelOf(sheet, LabelKind::kSoiled, "SOILED", unit);
  label.lines.emplace_back("at", unit.place());
  label.lines.emplace_back("returned", StampWords(unit.returned(), zone));
  label.lines.emplace_back("soiled since", StampWords(unit.soiled(), zone));
  if (unit.meter().segment_count() > 0) {
    label.lines.emplace_back("meter", absl::StrCat(Hours(unit.meter().reading_s()), " h"));
  }
  label.lines.emplace_back("missing", Joined(unit.missing()));
  label.lines.emplace_back("held", HoldWords(unit, zone));
  label.to_fill_in = {"contaminated with", "parts concerned", "damage", "sealed by, at"};
  label.footing = "Do not use. Gloves; clean before inspection or repair.";
  sheet.labels.push_back(std::move(label));
  return absl::OkStatus();
}

absl::Status FillQuarantine(Sheet& sheet, const v1::UnitState& unit) {
  if (unit.holds().empty()) {
    return NoLabel(unit, "quarantine",
                   "nothing holds it; place a hold first with ferrule hold UNIT KIND 'WHY'");
  }
  const absl::TimeZone zone = sheet.session.zones().OfPlace(unit.place());
  LabelText label = LabelOf(sheet, LabelKind::kQuarantine, "QUARANTINE: DO NOT TOUCH", unit);
  label.footing =
      "Do not use, clean, open or move. Released by name only; waiting releases nothing.";
  for (const v1::Hold& hold : unit.holds()) {
    label.lines.emplace_back(Word(hold.kind()), hold.reason());
    label.lines.emplace_back("since", StampWords(hold.placed(), zone));
  }
  label.lines.emplace_back("at", unit.place());
  label.to_fill_in = {"sealed by, at", "released by, at"};
  sheet.labels.push_back(std::move(label));
  return absl::OkStatus();
}

absl::Status FillTransfer(Sheet& sheet, const v1::UnitState& unit) {
  const std::string to = sheet.session.line().Get("--to").value_or("");
  const absl::TimeZone zone = sheet.session.zones().OfPlace(unit.place());
  if (unit.custody() != v1::CUSTODY_PLACE) {
    return NoLabel(unit, "transfer", "it stands at no place of the depot on the records");
  }
  if (to == unit.place()) return NoLabel(unit, "transfer", "it stands there already");
  LabelText label = LabelOf(sheet, LabelKind::kTransfer, "TRANSFER", unit);
  label.lines.emplace_back("from", unit.place());
  label.lines.emplace_back("to", to);
  label.lines.emplace_back("state",
                           absl::StrCat(Word(unit.hygiene()), ", ", Word(unit.condition())));
  label.lines.emplace_back("held", HoldWords(unit, zone));
  label.lines.emplace_back("printed", PrintedAt(sheet, zone));
  label.to_fill_in = {"sent by, at", "pieces", "received by, at"};
  label.footing = "Receiver: scan this code on arrival; until then it is in transit.";
  sheet.labels.push_back(std::move(label));
  return absl::OkStatus();
}

absl::Status PrintUnit(Session& session, const Line& line) {
  return PrintUnits(session, line, FillUnit);
}
absl::Status PrintClean(Session& session, const Line& line) {
  return PrintUnits(session, line, FillClean);
}
absl::Status PrintSoiled(Session& session, const Line& line) {
  return PrintUnits(session, line, FillSoiled);
}
absl::Status PrintQuarantine(Session& session, const Line& line) {
  return PrintUnits(session, line, FillQuarantine);
}

absl::Status PrintTransfer(Session& session, const Line& line) {
  const auto settings = session.Settings();
  if (!settings.ok()) return settings.status();
  const std::string to = line.Get("--to").value_or("");
  for (const v1::Branch& branch : (*settings)->settings().branches()) {
    for (const v1::Place& place : branch.places()) {
      if (place.id() == to) return PrintUnits(session, line, FillTransfer);
    }
  }
  return absl::InvalidArgumentError(
      to.empty() ? "say where it goes with --to PLACE"
                 : absl::StrCat("the settings in force have no place '", to,
                                "'; compare its name with ferrule settings show"));
}

void AddCard(Sheet& sheet, const std::string& heading, const std::string& payload,
             const std::string& words) {
  LabelText card;
  card.kind = LabelKind::kCard;
  card.heading = heading;
  card.title = words;
  card.code = {false, payload, payload};
  sheet.labels.push_back(std::move(card));
}

// Cards that stand for themselves: those that need words behind them are typed.
absl::Status PrintCards(Session& session, const Line& line) {
  absl::StatusOr<Sheet> sheet = Begin(session);
  if (!sheet.ok()) return sheet.status();
  for (const label::CardWord& card : label::Cards()) {
    if (card.least > 0) continue;
    const std::string word(card.word);
    AddCard(*sheet, "ACTION", "/" + word, word);
  }
  const std::string branch = line.GetOrEnv("--branch", "FERRULE_BRANCH").value_or("");
  for (const v1::Branch& one : sheet->settings.branches()) {
    if (!branch.empty() && one.id() != branch) continue;
    for (const v1::Place& place : one.places()) AddCard(*sheet, "PLACE", place.id(), place.id());
  }
  for (const v1::CleaningProduct& product : sheet->settings.cleaning_products()) {
    AddCard(*sheet, "PRODUCT", "/product " + product.id(), product.id());
  }
  for (const std::string& person : line.All("--person")) {
    AddCard(*sheet, "PERSON", "/by " + person, person);
  }
  return Finish(*sheet);
}

const Positional kUnits{"UNIT", "the unit's tag; several may be given", Arity::kMany};
const Flag kOut{"--out", "FILE",
                "file to write to: a page for the browser, or a PDF when it ends in .pdf; default "
                "the page on standard output"};

}  // namespace

void AddLabelCommands(Catalog* catalog) {
  constexpr auto kGroup = Group::kWarehouse;
  const auto add = [&](std::string_view name, std::string_view summary,
                       std::vector<Positional> positionals, std::vector<Flag> flags,
                       std::string_view example, absl::Status (*run)(Session&, const Line&)) {
    flags.push_back(kOut);
    catalog->push_back({name, kGroup, Kind::kWorks, summary, std::move(positionals),
                        std::move(flags), example, run});
  };
  add("labels unit", "print the depot's own tags with their code, as a page for the browser",
      {kUnits}, {}, "ferrule labels unit K-0417 --out tags.html", PrintUnit);
  add("labels clean", "print clean labels, for units that only need to be put away", {kUnits}, {},
      "ferrule labels clean K-0417 --out clean.html", PrintClean);
  add("labels soiled", "print soiled labels for returns", {kUnits}, {},
      "ferrule labels soiled K-0417 K-0418 --out soiled.html", PrintSoiled);
  add("labels quarantine", "print quarantine labels for units on hold", {kUnits}, {},
      "ferrule labels quarantine K-0417 --out quarantine.html", PrintQuarantine);
  add("labels transfer", "print labels for units on their way to another place", {kUnits},
      {{"--to", "PLACE", "where they go"}},
      "ferrule labels transfer K-0417 --to south-dock --out transfer.html", PrintTransfer);
  add("labels cards", "print the station's cards: actions, places, products, people", {},
      {{"--person", "NAME", "a card for this person", true}},
      "ferrule labels cards --person tech-ada --out cards.html", PrintCards);
}

}  // namespace ferrule::cli
