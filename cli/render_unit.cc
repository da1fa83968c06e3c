#include "cli/render_unit.h"

#include <vector>

#include "absl/strings/str_cat.h"
#include "absl/strings/str_join.h"
#include "cli/render_words.h"

namespace ferrule::cli {
namespace {

std::string CustodyWords(const v1::UnitState& unit) {
  switch (unit.custody()) {
    case v1::CUSTODY_PLACE:
      return "at " + unit.place();
    case v1::CUSTODY_HOME:
      return unit.order().empty() ? "at a patient's home" : "at the home of order " + unit.order();
    case v1::CUSTODY_UNACCOUNTED:
      return "unaccounted for, last at " + unit.place();
    default:
      return Word(unit.custody());
  }
}

std::string CommitmentWords(const v1::UnitState& unit) {
  std::string words = Word(unit.commitment());
  if (unit.commitment() == v1::COMMITMENT_HELD) {
    words = absl::StrCat(unit.hold_firm() ? "held firmly" : "held", " for order ", unit.order());
  } else if (unit.commitment() == v1::COMMITMENT_ON_RENT) {
    words = absl::StrCat("on rent with order ", unit.order());
  }
  return words;
}

std::string PartWords(const v1::UnitState& unit) {
  std::vector<std::string> words;
  for (const v1::PartIn& part : unit.parts()) {
    words.push_back(absl::StrCat(part.position(), " ", part.part()));
  }
  return absl::StrJoin(words, ", ");
}

std::string AliasWords(const v1::UnitState& unit) {
  std::vector<std::string> words;
  for (const v1::Alias& alias : unit.aliases()) {
    words.push_back(absl::StrCat(Word(alias.kind()), " ", alias.alias()));
  }
  return absl::StrJoin(words, ", ");
}

std::string HoldWords(const v1::UnitState& unit) {
  std::vector<std::string> words;
  for (const v1::Hold& hold : unit.holds()) {
    words.push_back(absl::StrCat(Word(hold.kind()), ": ", hold.reason()));
  }
  return absl::StrJoin(words, "; ");
}

std::string InspectionWords(const v1::Inspection& inspection, absl::TimeZone zone) {
  std::string words = StampWords(inspection.done(), zone);
  if (words.empty()) return words;
  absl::StrAppend(&words, ", ", inspection.checklist(), " version ", inspection.checklist_version(),
                  inspection.passed() ? ": passed" : ": failed");
  for (const v1::FailedItem& item : inspection.failed()) {
    absl::StrAppend(&words, ", ", item.item(), " ", Number(item.value()), " (limit ", item.limit(),
                    ")");
  }
  return words;
}

}  // namespace

std::string AxesWords(const v1::UnitState& unit) {
  std::vector<std::string> words;
  for (const std::string& word :
       {CustodyWords(unit), Word(unit.hygiene()), Word(unit.condition()), CommitmentWords(unit)}) {
    if (!word.empty()) words.push_back(word);
  }
  if (unit.holds_size() > 0) words.push_back("blocked (" + HoldWords(unit) + ")");
  return Printable(absl::StrJoin(words, ", "));
}

std::string RunHours(const v1::Meter& meter) {
  if (!meter.has_read() && meter.segment_count() == 0) return "";
  const int64_t run_s = meter.earlier_s() + meter.reading_s() - meter.segment_first_s();
  return absl::StrCat(meter.incomplete() ? "at least " : "", Hours(run_s));
}

Fields UnitFields(const v1::UnitState& unit, absl::TimeZone zone) {
  Fields fields;
  fields.Add("model", unit.model());
  fields.Add("serial", unit.serial());
  fields.Add("udi", unit.udi());
  fields.Add("aliases", AliasWords(unit));
  fields.Add("owner", unit.owner());
  fields.Add("purpose", Word(unit.purpose()));
  fields.Add("side", Word(unit.side()));
  fields.Add("custody", CustodyWords(unit));
  fields.Add("since", StampWords(unit.custody_since(), zone));
  fields.Add("hygiene", Word(unit.hygiene()));
  fields.Add("soiled", StampWords(unit.soiled(), zone));
  fields.Add("cleaned", StampWords(unit.cleaned(), zone));
  fields.Add("erased", StampWords(unit.erased(), zone));
  fields.Add("seal", unit.seal());
  std::string condition = Word(unit.condition());
  if (unit.condition() == v1::CONDITION_UNTESTED && unit.untested_because() != 0) {
    absl::StrAppend(&condition, ": ", Word(unit.untested_because()));
  }
  fields.Add("condition", condition);
  fields.Add("inspected", InspectionWords(unit.inspection(), zone));
  fields.Add("under repair since", StampWords(unit.repair().opened(), zone));
  fields.Add("complaint", unit.repair().complaint());
  fields.Add("parts", PartWords(unit));
  fields.Add("missing parts", Joined(unit.missing()));
  fields.Add("holds", HoldWords(unit));
  fields.Add("serviced", StampWords(unit.serviced(), zone));
  fields.Add("commitment", CommitmentWords(unit));
  if (unit.commitment() != v1::COMMITMENT_FREE) {
    fields.Add("committed", StampWords(unit.commitment_since(), zone));
  }
  fields.Add("held until", Local(unit.hold_until_time(), zone));
  for (const v1::StandingPromise& promise : unit.promises()) {
    fields.Add("promised", absl::StrCat("to ", promise.order(), ", ", PromiseWords(promise)));
  }
  fields.Add("turns", absl::StrCat(unit.turn_count()));
  if (unit.meter().has_read() || unit.meter().segment_count() > 0) {
    fields.Add("meter hours", Hours(unit.meter().reading_s()));
    fields.Add("run hours", RunHours(unit.meter()));
    fields.Add("meter read", StampWords(unit.meter().read(), zone));
  }
  return fields;
}

Table UnitTable(const google::protobuf::RepeatedPtrField<v1::UnitRow>& units) {
  Table table({{"unit"},
               {"model"},
               {"branch"},
               {"custody"},
               {"place"},
               {"hygiene"},
               {"condition"},
               {"commitment"},
               {"order"},
               {"question_count", true}});
  for (const v1::UnitRow& row : units) {
    table.Add({row.unit(), row.model(), row.branch(), Word(row.custody()), row.place(),
               Word(row.hygiene()), Word(row.condition()), Word(row.commitment()), row.order(),
               absl::StrCat(row.question_count())});
  }
  return table;
}

}  // namespace ferrule::cli
