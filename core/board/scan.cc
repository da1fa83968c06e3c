#include "core/board/scan.h"

#include <algorithm>
#include <string>
#include <vector>

#include "absl/strings/str_cat.h"
#include "absl/strings/str_join.h"
#include "core/board/queries.h"
#include "core/fact/subject.h"
#include "core/label/card.h"
#include "core/label/scan.h"
#include "core/label/tag.h"
#include "core/time/civil.h"

namespace ferrule::board {
namespace {

using label::Form;
using store::Value;

v1::ScanKind KindOf(Form form) {
  switch (form) {
    case Form::kPlain:
      return v1::SCAN_KIND_PLAIN;
    case Form::kGs1Elements:
      return v1::SCAN_KIND_GS1_ELEMENTS;
    case Form::kGs1Bracketed:
      return v1::SCAN_KIND_GS1_BRACKETED;
    case Form::kGtin:
      return v1::SCAN_KIND_GTIN;
    case Form::kHibc:
      return v1::SCAN_KIND_HIBC;
    case Form::kCard:
      return v1::SCAN_KIND_CARD;
    case Form::kGs1Link:
      return v1::SCAN_KIND_GS1_LINK;
  }
  return v1::SCAN_KIND_UNSPECIFIED;
}

std::string TargetWords(v1::ScanTarget target) {
  switch (target) {
    case v1::SCAN_TARGET_UNIT:
      return "unit";
    case v1::SCAN_TARGET_PART:
      return "part";
    case v1::SCAN_TARGET_LOT:
      return "lot";
    case v1::SCAN_TARGET_ORDER:
      return "order";
    case v1::SCAN_TARGET_PLACE:
      return "place";
    case v1::SCAN_TARGET_CLEANING_PRODUCT:
      return "cleaning product";
    default:
      return "thing";
  }
}

std::string ByWords(const v1::ScanMatch& match) {
  switch (match.by()) {
    case v1::SCAN_MATCH_BY_ALIAS:
      return "by another name noted for it";
    case v1::SCAN_MATCH_BY_UDI:
      return "by its UDI";
    case v1::SCAN_MATCH_BY_SERIAL:
      return "by the maker's serial number";
    default:
      return match.target() == v1::SCAN_TARGET_UNIT ? "by its own tag" : "by its name";
  }
}

std::string UnitWords(const v1::UnitState& unit) {
  std::string text = unit.model().empty() ? "never received" : unit.model();
  if (!unit.serial().empty()) absl::StrAppend(&text, ", serial ", unit.serial());
  if (unit.custody() == v1::CUSTODY_PLACE) absl::StrAppend(&text, ", at ", unit.place());
  if (unit.custody() == v1::CUSTODY_HOME) {
    absl::StrAppend(&text, ", at the home of order ", unit.order());
  }
  if (unit.custody() == v1::CUSTODY_UNACCOUNTED) absl::StrAppend(&text, ", nobody knows where");
  if (unit.custody() == v1::CUSTODY_LEFT_FLEET) absl::StrAppend(&text, ", written off");
  return text;
}

std::string PartWords(const v1::PartState& part) {
  if (part.unit().empty()) return "in no unit";
  return absl::StrCat("in unit ", part.unit(), " as ", part.position());
}

// One scan on its way to its answer.
class Resolver {
 public:
  Resolver(ledger::Ledger& ledger, NameIndex& index, int64_t now_us)
      : ledger_(ledger), index_(index), book_(ledger.Book()), rules_(book_->At(now_us)) {
    tags_.check_character = rules_.settings().tags().check_character();
    tags_.company_prefix = rules_.settings().tags().gs1_company_prefix();
    year_ = static_cast<int>(time::LocalDay(now_us, absl::UTCTimeZone()).year());
  }

  absl::StatusOr<v1::ResolveScanResponse> Resolve(std::string_view text) {
    absl::StatusOr<label::Scan> scan = label::ParseScan(text, year_);
    if (!scan.ok()) {
      response_.set_outcome(v1::SCAN_OUTCOME_UNREADABLE);
      response_.set_answer(std::string(scan.status().message()));
      return std::move(response_);
    }
    scan_ = *std::move(scan);
    Describe();
    if (scan_.form == Form::kCard) return CardAnswer();
    if (absl::Status found = Find(); !found.ok()) return found;
    Decide();
    return std::move(response_);
  }

 private:
  void Describe() {
    response_.set_kind(KindOf(scan_.form));
    response_.set_symbology(scan_.symbology);
    for (const label::Element& element : scan_.elements) {
      v1::ScanField* field = response_.add_fields();
      field->set_code(element.code);
      field->set_title(element.title);
      field->set_value(element.value);
      if (element.date.has_value()) *field->mutable_date() = time::FromDay(*element.date);
    }
    if (scan_.elements.empty()) {
      v1::ScanField* field = response_.add_fields();
      field->set_title("text");
      field->set_value(scan_.text);
    }
    for (const std::string& remark : scan_.remarks) response_.add_remarks(remark);
  }

  absl::StatusOr<v1::ResolveScanResponse> CardAnswer() {
    response_.set_outcome(v1::SCAN_OUTCOME_FOUND);
    response_.set_answer("this is a card of the station: use it with ferrule station");
    return std::move(response_);
  }

  absl::Status Find() {
    if (absl::Status fresh = index_.Refresh(ledger_); !fresh.ok()) return fresh;
    if (scan_.form == Form::kPlain || scan_.guessed) {
      if (absl::Status found = FindText(scan_.text); !found.ok()) return found;
    }
    if (!scan_.asset.empty()) {
      if (absl::Status found = FindAsset(); !found.ok()) return found;
    }
    if (!scan_.device_identifier.empty()) FindItem();
    if (!scan_.serial.empty()) {
      if (absl::Status found = FindSerialized(); !found.ok()) return found;
    }
    if (!scan_.lot.empty() && response_.matches().empty()) {
      return FindSubject(v1::SCAN_TARGET_LOT, scan_.lot);
    }
    return absl::OkStatus();
  }

  // A tag, another name, a serial number, or the id of something else.
  absl::Status FindText(const std::string& text) {
    const absl::StatusOr<std::string> tag = label::TagFromLabel(text, tags_);
    if (tag.ok()) {
      if (absl::Status found = FindSubject(v1::SCAN_TARGET_UNIT, *tag); !found.ok()) return found;
    } else {
      tag_problem_ = std::string(tag.status().message());
    }
    for (v1::ScanTarget target :
         {v1::SCAN_TARGET_PART, v1::SCAN_TARGET_LOT, v1::SCAN_TARGET_ORDER}) {
      if (absl::Status found = FindSubject(target, text); !found.ok()) return found;
    }
    FindInSettings(text);
    for (const std::string& unit : index_.ByAlias(text)) {
      absl::Status found = FindUnit(unit, v1::SCAN_MATCH_BY_ALIAS, [&](const v1::UnitState& state) {
        return HasAlias(state, text);
      });
      if (!found.ok()) return found;
    }
    return FindSerial(text);
  }

  void FindInSettings(const std::string& text) {
    if (rules_.FindPlace(text) != nullptr) {
      const v1::Branch* branch = rules_.BranchOfPlace(text);
      Add(v1::SCAN_TARGET_PLACE, text, v1::SCAN_MATCH_BY_TAG,
          branch == nullptr ? "" : absl::StrCat("of branch ", branch->id()));
    }
    if (rules_.FindProduct(text) != nullptr) {
      Add(v1::SCAN_TARGET_CLEANING_PRODUCT, text, v1::SCAN_MATCH_BY_TAG, "from the settings");
    }
  }

  absl::Status FindAsset() {
    if (const auto tag = label::TagOfAsset(scan_.asset, tags_)) {
      return FindSubject(v1::SCAN_TARGET_UNIT, *tag);
    }
    response_.add_remarks("This asset identifier is not the depot's own: another company's label.");
    for (const std::string& unit : index_.ByAlias(scan_.asset)) {
      absl::Status found = FindUnit(unit, v1::SCAN_MATCH_BY_ALIAS, [&](const v1::UnitState& state) {
        return HasAlias(state, scan_.asset);
      });
      if (!found.ok()) return found;
    }
    return FindSerial(scan_.asset);
  }

  // The model and the cleaning product that the item number names.
  void FindItem() {
    const std::string& item = scan_.device_identifier;
    for (const v1::CleaningProduct& product : rules_.settings().cleaning_products()) {
      for (const std::string& number : product.trade_item_numbers()) {
        if (label::Gtin14(number).value_or(number) != item) continue;
        Add(v1::SCAN_TARGET_CLEANING_PRODUCT, product.id(), v1::SCAN_MATCH_BY_TAG,
            "by the item number in the settings");
      }
    }
    for (const v1::Model& model : rules_.settings().models()) {
      for (const std::string& identifier : model.device_identifiers()) {
        if (label::Gtin14(identifier).value_or(identifier) == item) model_ = model.id();
      }
    }
    if (!model_.empty()) {
      response_.add_remarks(absl::StrCat("The item number names the model ", model_, "."));
    }
  }

  absl::Status FindSerialized() {
    const UdiKey key{scan_.device_identifier, scan_.serial};
    for (const std::string& unit : index_.ByUdi(key)) {
      absl::Status found = FindUnit(unit, v1::SCAN_MATCH_BY_UDI,
                                    [&](const v1::UnitState& state) { return HasUdi(state, key); });
      if (!found.ok()) return found;
    }
    return FindSerial(scan_.serial);
  }

  absl::Status FindSerial(const std::string& serial) {
    std::vector<std::string> units;
    const Value parameters[] = {Value::Text(serial)};
    absl::Status asked = ledger_.WithReader([&](store::Connection& connection) {
      return connection.Run(sql::kUnitsOfSerial, parameters, [&](const store::Row& row) {
        const std::string_view name = row.Bytes(0);
        units.emplace_back(name.substr(name.find('/') + 1));
      });
    });
    if (!asked.ok()) return asked;
    for (const std::string& unit : units) {
      absl::Status found = FindUnit(unit, v1::SCAN_MATCH_BY_SERIAL, [&](const v1::UnitState& s) {
        if (s.serial() != serial) return false;
        // Two makers may number alike: the item number says which model it is.
        if (model_.empty() || s.model() == model_) return true;
        response_.add_remarks(
            absl::StrCat("Unit ", unit, " has this serial number too, but is a ", s.model(), "."));
        return false;
      });
      if (!found.ok()) return found;
    }
    return absl::OkStatus();
  }

  // A unit, if it fits.
  template <typename Fits>
  absl::Status FindUnit(const std::string& unit, v1::ScanMatchBy by, Fits fits) {
    const auto state = ledger_.Get(fact::SubjectName(fact::SubjectKind::kUnit, unit));
    if (absl::IsNotFound(state.status())) return absl::OkStatus();
    if (!state.ok()) return state.status();
    if (fits((*state)->unit())) Add(v1::SCAN_TARGET_UNIT, unit, by, UnitWords((*state)->unit()));
    return absl::OkStatus();
  }

  // A subject by its own id.
  absl::Status FindSubject(v1::ScanTarget target, const std::string& id) {
    if (!fact::IsValidId(id)) return absl::OkStatus();
    const fact::SubjectKind kind = target == v1::SCAN_TARGET_UNIT   ? fact::SubjectKind::kUnit
                                   : target == v1::SCAN_TARGET_PART ? fact::SubjectKind::kPart
                                   : target == v1::SCAN_TARGET_LOT  ? fact::SubjectKind::kLot
                                                                    : fact::SubjectKind::kOrder;
    const absl::StatusOr<ledger::StatePtr> state = ledger_.Get(fact::SubjectName(kind, id));
    if (absl::IsNotFound(state.status())) return absl::OkStatus();
    if (!state.ok()) return state.status();
    std::string words;
    if (target == v1::SCAN_TARGET_UNIT) words = UnitWords((*state)->unit());
    if (target == v1::SCAN_TARGET_PART) words = PartWords((*state)->part());
    if (target == v1::SCAN_TARGET_LOT) words = absl::StrCat("of ", (*state)->lot().item());
    if (target == v1::SCAN_TARGET_ORDER) {
      words = absl::StrCat("for ", (*state)->order().details().device_class());
    }
    Add(target, id, v1::SCAN_MATCH_BY_TAG, words);
    return absl::OkStatus();
  }

  // Each thing once, by its surest name.
  void Add(v1::ScanTarget target, const std::string& id, v1::ScanMatchBy by,
           const std::string& words) {
    for (v1::ScanMatch& known : *response_.mutable_matches()) {
      if (known.target() != target || known.id() != id) continue;
      if (by < known.by()) known.set_by(by);
      return;
    }
    v1::ScanMatch* match = response_.add_matches();
    match->set_target(target);
    match->set_id(id);
    match->set_by(by);
    match->set_text(words);
  }

  void Decide() {
    auto& matches = *response_.mutable_matches();
    std::stable_sort(matches.begin(), matches.end(),
                     [](const auto& a, const auto& b) { return a.by() < b.by(); });
    if (matches.empty()) return Unknown();
    const v1::ScanMatchBy surest = matches[0].by();
    const bool alone = matches.size() == 1 || matches[1].by() != surest;
    const bool sure = surest == v1::SCAN_MATCH_BY_TAG || surest == v1::SCAN_MATCH_BY_UDI;
    if (matches.size() == 1 || (alone && sure)) return Found();
    Ambiguous();
  }

  static std::string Name(const v1::ScanMatch& match) {
    return absl::StrCat(TargetWords(match.target()), " ", match.id());
  }

  void Found() {
    response_.set_outcome(v1::SCAN_OUTCOME_FOUND);
    const v1::ScanMatch& found = response_.matches(0);
    response_.set_answer(absl::StrCat("this is ", Name(found), ", ", ByWords(found),
                                      found.text().empty() ? "" : ": ", found.text()));
    for (int i = 1; i < response_.matches_size(); ++i) {
      const v1::ScanMatch& other = response_.matches(i);
      response_.add_remarks(absl::StrCat("The same text finds ", Name(other), " ", ByWords(other),
                                         ": look at the tag in your hand."));
    }
  }

  void Ambiguous() {
    response_.set_outcome(v1::SCAN_OUTCOME_AMBIGUOUS);
    std::vector<std::string> names;
    for (const v1::ScanMatch& match : response_.matches()) {
      names.push_back(absl::StrCat(Name(match), " (", ByWords(match), "; ", match.text(), ")"));
    }
    response_.set_answer(
        absl::StrCat("this may be ", absl::StrJoin(names, " or "),
                     ": scan or type the depot's own tag of the one in your hand"));
  }

  void Unknown() {
    response_.set_outcome(v1::SCAN_OUTCOME_UNKNOWN);
    if (!tag_problem_.empty()) {
      // With check characters on tags, a slip of the finger is likelier than a new label.
      response_.set_outcome(v1::SCAN_OUTCOME_UNREADABLE);
      response_.set_answer(tag_problem_);
      return;
    }
    std::string what = scan_.text;
    if (!scan_.serial.empty()) what = absl::StrCat("serial number ", scan_.serial);
    if (!scan_.asset.empty()) what = absl::StrCat("asset ", scan_.asset);
    std::replace(what.begin(), what.end(), label::kSeparator, ' ');
    response_.set_answer(absl::StrCat(
        "nothing is recorded under ", what,
        ": compare the text with the label; if the unit is new, ",
        "record it with ferrule add-unit TAG ", model_.empty() ? "MODEL" : model_, " PLACE",
        scan_.serial.empty() ? "" : absl::StrCat(" --serial ", scan_.serial)));
  }

  ledger::Ledger& ledger_;
  NameIndex& index_;
  const std::shared_ptr<const depot::SettingsBook> book_;
  const depot::Rules& rules_;
  label::TagRules tags_;
  int year_ = 0;
  label::Scan scan_;
  std::string model_;        // that the item number names
  std::string tag_problem_;  // why the text is no tag of the depot's
  v1::ResolveScanResponse response_;
};

}  // namespace

absl::StatusOr<v1::ResolveScanResponse> ResolveScan(ledger::Ledger& ledger, NameIndex& index,
                                                    const v1::ResolveScanRequest& request,
                                                    int64_t now_us) {
  return Resolver(ledger, index, now_us).Resolve(request.text());
}

}  // namespace ferrule::board
