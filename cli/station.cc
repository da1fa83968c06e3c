#include "cli/station.h"

#include <algorithm>
#include <cmath>
#include <initializer_list>

#include "absl/strings/str_cat.h"
#include "absl/strings/str_join.h"
#include "cli/entry_id.h"
#include "cli/failure.h"
#include "cli/look_up.h"
#include "cli/render_unit.h"
#include "cli/render_words.h"
#include "cli/values.h"
#include "cli/when.h"
#include "core/fact/utf8.h"
#include "core/fact/words.h"
#include "core/label/scan.h"
#include "core/label/tag.h"
#include "core/time/civil.h"
#include "ferrule/v1/label_service.grpc.pb.h"

namespace ferrule::cli {
namespace {

using label::Card;
using label::StationLine;

constexpr char kUnitFirst[] = "scan a unit first\n";
constexpr double kDayMinutes = 1440;

std::string Sentence(const absl::Status& status) { return std::string(status.message()) + "\n"; }

// Whether a station away from its server may say so: the depot itself is out of reach.
bool IsAway(const absl::Status& status) { return ExitOf(status) == Exit::kUnavailable; }

// The value under an application identifier, and the day that it means.
const v1::ScanField* Field(const v1::ResolveScanResponse& answer, std::string_view title) {
  for (const v1::ScanField& field : answer.fields()) {
    if (field.title() == title) return &field;
  }
  return nullptr;
}

bool Has(const v1::AssessUnitResponse& answer, std::initializer_list<v1::Reason> reasons) {
  for (const v1::Finding& finding : answer.findings()) {
    if (std::find(reasons.begin(), reasons.end(), finding.reason()) != reasons.end()) return true;
  }
  return false;
}

std::string Help() {
  std::string text = "scan a unit, then cards, a bottle or a place; readings are ITEM=VALUE\n";
  for (const label::CardWord& card : label::Cards()) {
    absl::StrAppend(&text, "  ", std::string(card.use), "\n");
  }
  return text;
}

}  // namespace

Station::Station(Session& session, Journal& journal, const time::Clock& clock, std::string actor)
    : session_(session),
      journal_(journal),
      sender_(session, journal),
      clock_(clock),
      actor_(std::move(actor)) {}

std::string Station::Prompt() const { return unit_.empty() ? "scan> " : unit_ + "> "; }

std::string Station::Begin() {
  ReadRules();
  std::string words = sender_.Drain();
  if (!journal_.waiting().empty()) absl::StrAppend(&words, Queue());
  if (actor_.empty()) absl::StrAppend(&words, "who works here? scan your card, or type /by NAME\n");
  return words;
}

std::string Station::Handle(const std::string& text) {
  if (!fact::IsUtf8(text)) {
    return "this is no text (UTF-8): scan it again, or type what stands below the code\n";
  }
  const absl::StatusOr<StationLine> line = label::ParseStationLine(text);
  if (!line.ok()) return Sentence(line.status());
  ReadRules();
  std::string answer;
  switch (line->kind) {
    case StationLine::Kind::kNothing:
      break;
    case StationLine::Kind::kCard:
      answer = OnCard(*line);
      break;
    case StationLine::Kind::kReadings:
      answer = OnReadings(*line);
      break;
    case StationLine::Kind::kScan:
      answer = OnScan(line->scan);
      break;
  }
  // Between two lines a depot file belongs to whoever wants it.
  if (session_.HasFileOpen()) session_.LetGo();
  return answer;
}

std::string Station::OnCard(const StationLine& line) {
  switch (line.card) {
    case Card::kHelp:
      return Help();
    case Card::kQueue:
      return sender_.Drain() + Queue();
    case Card::kEnd:
      ended_ = true;
      return sender_.Drain();
    case Card::kBy:
      actor_ = line.words[0];
      return absl::StrCat(actor_, " works here now\n");
    case Card::kDrop:
      collected_ = {};
      return "dropped; what was recorded stays\n";
    case Card::kTester:
      tester_ = line.words[0];
      return absl::StrCat("readings are taken with ", tester_, " from now on\n");
    case Card::kProduct:
      return TakeProductCard(line.words);
    default:
      return OnUnitCard(line);
  }
}

std::string Station::OnUnitCard(const StationLine& line) {
  if (unit_.empty()) return kUnitFirst;
  v1::Fact fact = FactAt(clock_.NowMicros());
  switch (line.card) {
    case Card::kClean:
      fact.mutable_cleaning_started()->set_unit(unit_);
      collected_.cleaning = true;
      return Report(fact);
    case Card::kErase:
      fact.mutable_memory_erased()->set_unit(unit_);
      fact.mutable_memory_erased()->set_method(absl::StrJoin(line.words, " "));
      return Report(fact);
    case Card::kMeter: {
      const absl::StatusOr<int64_t> reading = ParseHours(line.words[0]);
      if (!reading.ok()) return Sentence(reading.status());
      fact.mutable_meter_read()->set_unit(unit_);
      fact.mutable_meter_read()->set_reading_s(*reading);
      return Report(fact);
    }
    case Card::kWet:
      return Wet(line.words);
    case Card::kCleaned:
      return Cleaned();
    case Card::kHold:
      return Hold(line.words);
    default:
      return Help();
  }
}

std::string Station::OnScan(const std::string& text) {
  std::string words = sender_.Drain();
  v1::ResolveScanRequest request;
  request.set_text(text);
  v1::ResolveScanResponse answer;
  absl::Status asked =
      session_.Ask(&v1::LabelService::StubInterface::ResolveScan, request, &answer);
  if (IsAway(asked)) {
    session_.LetGo();
    asked = session_.Ask(&v1::LabelService::StubInterface::ResolveScan, request, &answer);
  }
  if (IsAway(asked)) {
    sender_.set_away();
    return words + Offline(text);
  }
  if (!asked.ok()) return words + Sentence(asked);
  for (const std::string& remark : answer.remarks()) absl::StrAppend(&words, remark, "\n");
  if (answer.outcome() != v1::SCAN_OUTCOME_FOUND || answer.matches().empty()) {
    const std::string meant = label::CardMeant(text);
    return absl::StrCat(words, Printable(answer.answer()), "\n",
                        meant.empty() ? "" : absl::StrCat("for the card type ", meant, "\n"));
  }
  const v1::ScanMatch& match = answer.matches(0);
  switch (match.target()) {
    case v1::SCAN_TARGET_UNIT:
      return words + TakeUnit(match.id());
    case v1::SCAN_TARGET_PLACE:
      return words + PutAt(match.id());
    case v1::SCAN_TARGET_CLEANING_PRODUCT: {
      Product product{match.id(), "", std::nullopt};
      if (const v1::ScanField* lot = Field(answer, "lot")) product.lot = lot->value();
      const v1::ScanField* use_by = Field(answer, "use by");
      if (use_by != nullptr && use_by->has_date()) {
        product.expires =
            absl::CivilDay(use_by->date().year(), use_by->date().month(), use_by->date().day());
      }
      return words + TakeProduct(product);
    }
    default:
      return absl::StrCat(words, Printable(answer.answer()), "\n");
  }
}

// Without the server, places and products are known from the settings as they were last read, and
// any other text that can be a tag is taken for one.
std::string Station::Offline(const std::string& text) {
  const int year = static_cast<int>(time::LocalDay(clock_.NowMicros(), absl::UTCTimeZone()).year());
  const absl::StatusOr<label::Scan> scan = label::ParseScan(text, year);
  if (!scan.ok()) return Sentence(scan.status());
  if (FindPlace(scan->text) != nullptr) return PutAt(scan->text);
  if (FindProduct(scan->text) != nullptr) return TakeProduct({scan->text, "", std::nullopt});
  const label::TagRules tags{rules_.tags().check_character(), rules_.tags().gs1_company_prefix()};
  absl::StatusOr<std::string> tag = label::TagFromLabel(scan->text, tags);
  if (const auto own = label::TagOfAsset(scan->asset, tags)) tag = *own;
  if (!tag.ok()) return Sentence(tag.status());
  if (scan->form != label::Form::kPlain && scan->asset.empty()) {
    return "the server is away, and only the depot's own tags can be read without it: scan the "
           "tag\n";
  }
  return TakeUnit(*tag);
}

std::string Station::Unsent() const {
  if (collected_.readings.empty() && !collected_.wet_from_us.has_value()) return "";
  return absl::StrCat(unit_, " has ",
                      collected_.readings.empty() ? "a cleaning that has not ended: /cleaned"
                                                  : "readings that are not complete: go on",
                      ", or /drop it, before another unit is scanned\n");
}

std::string Station::TakeUnit(const std::string& unit) {
  if (unit != unit_) {
    if (std::string unsent = Unsent(); !unsent.empty()) return unsent;
    collected_ = {};
    unit_ = unit;
    state_ = {};
    session_.LetGo();  // with the settings, which are read anew for each unit
    ReadRules();
  }
  return Standing();
}

std::string Station::Standing() {
  v1::AssessUnitRequest request;
  request.set_name("units/" + unit_);
  v1::AssessUnitResponse answer;
  const absl::Status asked =
      session_.Ask(&v1::DepotService::StubInterface::AssessUnit, request, &answer);
  if (IsAway(asked)) {
    sender_.set_away();
    return absl::StrCat(unit_,
                        ": the server is away, so nothing is known of it; what is scanned is "
                        "kept (",
                        journal_.waiting().size(), " waiting)\n");
  }
  if (!asked.ok()) return absl::StrCat(Sentence(asked));
  state_ = answer.state().unit();
  return absl::StrCat(unit_, ": ", AxesWords(state_), ". ", Next(answer), "\n");
}

std::string Station::Next(const v1::AssessUnitResponse& answer) {
  if (answer.ready()) return "It is ready to go.";
  const v1::Place* place = FindPlace(state_.place());
  const bool in_van = place != nullptr && (place->kind() == v1::PLACE_KIND_VAN_DIRTY ||
                                           place->kind() == v1::PLACE_KIND_VAN_CLEAN);
  if (state_.custody() != v1::CUSTODY_PLACE || in_van) {
    return "Next: receive it, scan the place where it stands.";
  }
  for (const v1::Finding& finding : answer.findings()) {
    const bool blocks =
        finding.reason() == v1::REASON_ON_HOLD || finding.reason() == v1::REASON_CONTAMINATED;
    if (blocks) return absl::StrCat("Stop: ", finding.text(), "; ", finding.remedy(), ".");
  }
  if (state_.hygiene() == v1::HYGIENE_CLEANING) {
    return "Next: scan the bottle, then /wet, and /cleaned when it has been wet long enough.";
  }
  if (state_.hygiene() == v1::HYGIENE_SOILED) return "Next: clean it, scan /clean.";
  if (Has(answer, {v1::REASON_MEMORY_NOT_ERASED})) {
    return "Next: erase the patient data, scan /erase.";
  }
  const bool work_first = Has(answer, {v1::REASON_INSPECTION_FAILED, v1::REASON_UNDER_REPAIR,
                                       v1::REASON_PART_MISSING, v1::REASON_SERVICE_DUE});
  const v1::Checklist* checklist = FindChecklist();
  if (!work_first && state_.condition() == v1::CONDITION_UNTESTED && checklist != nullptr) {
    std::vector<std::string> items;
    for (const v1::ChecklistItem& item : checklist->items()) items.push_back(item.id() + "=");
    return absl::StrCat("Next: inspect it and give the readings: ", absl::StrJoin(items, " "));
  }
  if (answer.findings_size() == 1 && Has(answer, {v1::REASON_NOT_AT_CLEAN_PLACE})) {
    return "Next: put it away, scan the clean shelf.";
  }
  if (answer.steps_size() > 0) return absl::StrCat("Next: ", answer.steps(0), ".");
  return absl::StrCat("Not ready: ", answer.findings(0).text(), ".");
}

std::string Station::Report(const std::vector<v1::Fact>& facts) {
  if (actor_.empty()) return "not recorded, for nobody is named: scan your card, then scan again\n";
  v1::Entry entry;
  entry.set_entry_id(NewEntryId());
  entry.set_actor(actor_);
  entry.set_channel("station");
  time::SetMicros(clock_.NowMicros(), entry.mutable_device_time());
  for (const v1::Fact& fact : facts) *entry.add_facts() = fact;
  std::string words;
  if (!sender_.Send(std::move(entry), &words)) return words;
  if (sender_.away()) return words;
  return words + Standing();
}

v1::Fact Station::FactAt(int64_t us) const {
  v1::Fact fact;
  time::SetMicros(us, fact.mutable_happened_time());
  return fact;
}

// A return that stands at a place for the first time is received; anything else is moved.
std::string Station::PutAt(const std::string& place_id) {
  if (unit_.empty()) return absl::StrCat(place_id, " is a place; ", kUnitFirst);
  const v1::Place* to = FindPlace(place_id);
  const v1::Place* from = FindPlace(state_.place());
  const bool known = !state_.unit().empty();
  const bool from_outside = state_.custody() == v1::CUSTODY_HOME ||
                            (from != nullptr && from->kind() == v1::PLACE_KIND_VAN_DIRTY);
  const bool dock = to != nullptr && to->kind() == v1::PLACE_KIND_DOCK;
  v1::Fact fact = FactAt(clock_.NowMicros());
  if (dock && (from_outside || !known)) {
    fact.mutable_received_back()->set_unit(unit_);
    fact.mutable_received_back()->set_place(place_id);
  } else {
    fact.mutable_unit_moved()->set_unit(unit_);
    fact.mutable_unit_moved()->set_to_place(place_id);
  }
  return Report(fact);
}

std::string Station::TakeProductCard(const std::vector<std::string>& words) {
  Product product{words[0], "", std::nullopt};
  for (size_t i = 1; i < words.size(); ++i) {
    const auto pair = ParsePair(words[i]);
    if (!pair.ok()) return Sentence(pair.status());
    if (pair->first == "lot") {
      product.lot = pair->second;
    } else if (pair->first == "expires") {
      const auto day = ParseDayWord(pair->second, clock_.NowMicros(), Zone());
      if (!day.ok()) return Sentence(day.status());
      product.expires = *day;
    } else {
      return absl::StrCat("behind /product stand lot=LOT and expires=YYYY-MM-DD, not ", words[i],
                          "\n");
    }
  }
  return TakeProduct(product);
}

std::string Station::TakeProduct(const Product& product) {
  const v1::CleaningProduct* known = FindProduct(product.id);
  if (known == nullptr) {
    return absl::StrCat("the settings have no cleaning product ", product.id,
                        ": compare the name, or have it put into the settings\n");
  }
  product_ = product;
  return absl::StrCat(
      "cleaned with ", product.id, product.lot.empty() ? "" : absl::StrCat(", lot ", product.lot),
      product.expires.has_value()
          ? absl::StrCat(", to be used by ", absl::FormatCivilTime(*product.expires))
          : "",
      ": keep it wet for ", known->contact_time_s(),
      " s at least; the product's label and the maker's instructions rule\n");
}

std::string Station::Wet(const std::vector<std::string>& words) {
  const int64_t now_us = clock_.NowMicros();
  if (words.empty()) {
    collected_.wet_from_us = now_us;
    collected_.wet_to_us.reset();
    const v1::CleaningProduct* product = FindProduct(product_.id);
    if (product == nullptr) return "wet from now on; scan the bottle too\n";
    return absl::StrCat("wet from now on, until ",
                        time::FormatLocal(now_us + product->contact_time_s() * 1'000'000, Zone()),
                        " at least; then /cleaned\n");
  }
  const absl::StatusOr<double> minutes = ParseNumber(words[0]);
  if (!minutes.ok() || !(*minutes >= 0 && *minutes <= kDayMinutes)) {
    return "write minutes from 0 to 1440 behind /wet\n";
  }
  collected_.wet_from_us = now_us - std::llround(*minutes * 60e6);
  collected_.wet_to_us = now_us;
  return absl::StrCat("wet for ", words[0], " min until now; then /cleaned\n");
}

std::string Station::Cleaned() {
  if (product_.id.empty()) return "scan the bottle first: what was it cleaned with?\n";
  if (!collected_.wet_from_us.has_value()) return "say first since when it is wet: /wet\n";
  const int64_t now_us = clock_.NowMicros();
  std::vector<v1::Fact> facts;
  if (!collected_.cleaning && state_.hygiene() != v1::HYGIENE_CLEANING) {
    facts.push_back(FactAt(*collected_.wet_from_us));
    facts.back().mutable_cleaning_started()->set_unit(unit_);
  }
  facts.push_back(FactAt(now_us));
  v1::CleaningFinished& done = *facts.back().mutable_cleaning_finished();
  done.set_unit(unit_);
  done.set_product(product_.id);
  done.set_product_lot(product_.lot);
  if (product_.expires.has_value()) {
    *done.mutable_product_expiry_date() = time::FromDay(*product_.expires);
  }
  time::SetMicros(*collected_.wet_from_us, done.mutable_wet_from_time());
  time::SetMicros(collected_.wet_to_us.value_or(now_us), done.mutable_wet_to_time());
  const std::string words = Report(facts);
  // Refused, for instance as too short: it stays wet, and the card can be scanned again later.
  if (state_.hygiene() == v1::HYGIENE_CLEANED || sender_.away()) {
    collected_.wet_from_us.reset();
    collected_.wet_to_us.reset();
    collected_.cleaning = false;
  }
  return words;
}

std::string Station::Hold(const std::vector<std::string>& words) {
  const absl::StatusOr<int> kind = ParseEnum(v1::HoldKind_descriptor(), words[0]);
  if (!kind.ok()) return Sentence(kind.status());
  v1::Fact fact = FactAt(clock_.NowMicros());
  v1::HoldPlaced& hold = *fact.mutable_hold_placed();
  hold.set_unit(unit_);
  hold.set_kind(static_cast<v1::HoldKind>(*kind));
  hold.set_reason(absl::StrJoin(words.begin() + 1, words.end(), " "));
  return Report(fact);
}

std::string Station::OnReadings(const StationLine& line) {
  if (unit_.empty()) return kUnitFirst;
  std::string words = sender_.Drain();
  if (state_.unit().empty()) words += Standing();
  const v1::Checklist* checklist = FindChecklist();
  if (checklist == nullptr) {
    return words +
           "it is not known which checklist goes for this unit; scan it again when the server "
           "is there, or report it with ferrule inspect\n";
  }
  std::map<std::string, double> readings = collected_.readings;
  for (const auto& [item, text] : line.readings) {
    bool known = false;
    std::vector<std::string> items;
    for (const v1::ChecklistItem& one : checklist->items()) {
      items.push_back(one.id());
      known = known || one.id() == item;
    }
    if (!known) {
      return absl::StrCat(words, "the checklist ", checklist->id(), " has no item ", item,
                          "; it has ", absl::StrJoin(items, ", "), "\n");
    }
    const absl::StatusOr<double> value = ParseReading(text);
    if (!value.ok()) {
      return absl::StrCat(words, item, ": ", std::string(value.status().message()),
                          ", yes or no\n");
    }
    readings[item] = *value;
  }
  collected_.readings = readings;
  std::vector<std::string> missing;
  for (const v1::ChecklistItem& one : checklist->items()) {
    if (!readings.contains(one.id())) missing.push_back(one.id());
  }
  if (missing.empty()) return words + Inspected(*checklist);
  return absl::StrCat(words, "noted; still to read: ", absl::StrJoin(missing, ", "), "\n");
}

std::string Station::Inspected(const v1::Checklist& checklist) {
  v1::Fact fact = FactAt(clock_.NowMicros());
  v1::InspectionDone& done = *fact.mutable_inspection_done();
  done.set_unit(unit_);
  done.set_checklist(checklist.id());
  done.set_checklist_version(checklist.version());
  done.set_tester(tester_);
  for (const v1::ChecklistItem& item : checklist.items()) {
    v1::Reading& reading = *done.add_readings();
    reading.set_item(item.id());
    reading.set_value(collected_.readings.at(item.id()));
  }
  if (!actor_.empty()) collected_.readings.clear();
  return absl::StrCat(Report(fact),
                      "Limits are the depot's settings; the maker's instructions, local codes and "
                      "licensed practice rule.\n");
}

std::string Station::Queue() {
  if (journal_.waiting().empty()) return "nothing waits\n";
  std::string text = absl::StrCat(journal_.waiting().size(), " waiting for the server in ",
                                  journal_.path(), ":\n");
  for (const v1::Entry& entry : journal_.waiting()) {
    for (const v1::Fact& fact : entry.facts()) {
      absl::StrAppend(&text, "  ", Local(fact.happened_time(), Zone()), " ",
                      Printable(fact::Describe(fact)), "\n");
    }
  }
  return text;
}

// The settings may change while a station runs; while its server is away the last ones go on.
void Station::ReadRules() {
  if (sender_.away()) return;
  const auto version = session_.Settings();
  if (version.ok()) {
    rules_ = (*version)->settings();
  } else if (IsAway(version.status())) {
    session_.LetGo();
    sender_.set_away();
  }
}

const v1::Place* Station::FindPlace(const std::string& id) {
  for (const v1::Branch& branch : rules_.branches()) {
    for (const v1::Place& place : branch.places()) {
      if (place.id() == id) return &place;
    }
  }
  return nullptr;
}

const v1::CleaningProduct* Station::FindProduct(const std::string& id) {
  for (const v1::CleaningProduct& product : rules_.cleaning_products()) {
    if (product.id() == id) return &product;
  }
  return nullptr;
}

const v1::Checklist* Station::FindChecklist() {
  for (const v1::Model& model : rules_.models()) {
    if (model.id() != state_.model()) continue;
    for (const v1::Checklist& checklist : rules_.checklists()) {
      if (checklist.id() == model.checklist()) return &checklist;
    }
  }
  return nullptr;
}

absl::TimeZone Station::Zone() {
  const std::string branch = session_.line().GetOrEnv("--branch", "FERRULE_BRANCH").value_or("");
  return Zones(rules_).ForTyping(branch).value_or(absl::UTCTimeZone());
}

}  // namespace ferrule::cli
