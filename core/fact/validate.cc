#include "core/fact/validate.h"

#include <algorithm>
#include <cmath>
#include <set>
#include <string_view>
#include <unordered_map>
#include <utility>

#include "absl/strings/str_cat.h"
#include "absl/time/civil_time.h"
#include "core/fact/field_rules.h"
#include "core/fact/subject.h"
#include "core/fact/utf8.h"
#include "core/time/civil.h"
#include "google/protobuf/descriptor.h"
#include "google/protobuf/message.h"

namespace ferrule::fact {
namespace {

using google::protobuf::Descriptor;
using google::protobuf::FieldDescriptor;
using google::protobuf::Message;
using google::protobuf::OneofDescriptor;
using google::protobuf::Reflection;

constexpr int kPlainTextLimit = 64;  // up to this length a text is a line: a name or a number
constexpr char kIdForm[] =
    "an id of 1 to 64 letters, digits, dots, underscores or hyphens, beginning with a letter or a "
    "digit, for instance K-0417";

// What a field holds, so that looking does not compare names again and again.
enum class Shape { kMessage, kInstant, kDay, kOpaque, kText, kWhole, kFraction, kEnum, kFlag };

struct FieldCheck {
  const FieldDescriptor* field;
  Shape shape;
  const FieldRule* rule;
};
// Either one field, or a choice of which at most one is set: of its many members only that one is
// looked at.
struct Step {
  FieldCheck check;
  const OneofDescriptor* choice = nullptr;
  std::vector<FieldCheck> members;  // by their index in the choice
};
struct Checks {
  const Reflection* reflection;  // of the type: asking each message for it would cost more
  std::vector<Step> steps;
};

Shape ShapeOf(const FieldDescriptor& field) {
  switch (field.cpp_type()) {
    case FieldDescriptor::CPPTYPE_STRING:
      return Shape::kText;
    case FieldDescriptor::CPPTYPE_INT32:
    case FieldDescriptor::CPPTYPE_INT64:
      return Shape::kWhole;
    case FieldDescriptor::CPPTYPE_DOUBLE:
      return Shape::kFraction;
    case FieldDescriptor::CPPTYPE_ENUM:
      return Shape::kEnum;
    case FieldDescriptor::CPPTYPE_MESSAGE:
      break;
    default:
      return Shape::kFlag;
  }
  const Descriptor* type = field.message_type();
  if (type == google::protobuf::Timestamp::descriptor()) return Shape::kInstant;
  if (type == google::type::Date::descriptor()) return Shape::kDay;
  // The settings are validated as a whole where they are read.
  return type == v1::Settings::descriptor() ? Shape::kOpaque : Shape::kMessage;
}

// The checks of every message that an entry can hold, worked out once.
class CheckBook {
 public:
  CheckBook() { Add(v1::Entry::descriptor()); }
  const Checks& Of(const Descriptor* type) const { return checks_.at(type); }

 private:
  void Add(const Descriptor* type) {
    if (checks_.count(type) != 0) return;
    checks_[type];
    Checks checks;
    checks.reflection =
        google::protobuf::MessageFactory::generated_factory()->GetPrototype(type)->GetReflection();
    for (int i = 0; i < type->field_count(); ++i) {
      const FieldDescriptor* field = type->field(i);
      const Shape shape = ShapeOf(*field);
      if (shape == Shape::kMessage) Add(field->message_type());
      const FieldCheck check{field, shape, &RuleOf(type->name(), field->name())};
      const OneofDescriptor* choice = field->real_containing_oneof();
      if (choice == nullptr || field->index_in_oneof() == 0)
        checks.steps.push_back({check, choice, {}});
      if (choice != nullptr) checks.steps.back().members.push_back(check);
    }
    checks_[type] = std::move(checks);
  }

  std::unordered_map<const Descriptor*, Checks> checks_;
};

// Where the walk is; rendered only when something is wrong.
struct Path {
  const Path* above;
  std::string_view name;
  int index;  // -1 for a field that is no list

  std::string Text() const {
    std::string text = above == nullptr ? "" : absl::StrCat(above->Text(), ".");
    text.append(name);
    if (index >= 0) absl::StrAppend(&text, "[", index, "]");
    return text;
  }
};

bool HasControlCharacter(std::string_view text, bool lines_allowed) {
  return std::any_of(text.begin(), text.end(), [lines_allowed](char c) {
    if (lines_allowed && (c == '\n' || c == '\t' || c == '\r')) return false;
    return static_cast<unsigned char>(c) < 0x20 || c == 0x7F;
  });
}

std::string Number(double value) {
  const bool whole = value == std::floor(value) && std::abs(value) < 1e16;
  return whole ? absl::StrCat(static_cast<int64_t>(value)) : absl::StrCat(value);
}

class Walk {
 public:
  explicit Walk(std::vector<Violation>* out) : out_(out) {}

  void Check(const Message& message, const Path& path) {
    static const CheckBook& book = *new CheckBook();
    const Checks& checks = book.Of(message.GetDescriptor());
    const Reflection& r = *checks.reflection;
    for (const Step& step : checks.steps) {
      if (step.choice == nullptr) {
        Field(message, r, step.check, path);
      } else if (const FieldDescriptor* set = r.GetOneofFieldDescriptor(message, step.choice)) {
        Field(message, r, step.members[static_cast<size_t>(set->index_in_oneof())], path);
      }
    }
  }

  void Report(const Path& path, std::string description) {
    out_->push_back({path.Text(), std::move(description)});
  }

 private:
  void Field(const Message& message, const Reflection& r, const FieldCheck& check,
             const Path& above) {
    if (check.field->is_repeated()) return List(message, r, check, above);
    const Path path{&above, check.field->name(), -1};
    const bool explicit_presence = check.field->has_presence();
    if (explicit_presence && !r.HasField(message, check.field)) {
      if (check.rule->required) Missing(path, check);
      return;
    }
    switch (check.shape) {
      case Shape::kMessage:
        return Check(r.GetMessage(message, check.field), path);
      case Shape::kInstant:
        return Instant(r.GetMessage(message, check.field), path);
      case Shape::kDay:
        return Day(r.GetMessage(message, check.field), path);
      case Shape::kText: {
        std::string scratch;
        const std::string& text = r.GetStringReference(message, check.field, &scratch);
        if (text.empty() && !explicit_presence && !check.rule->required) return;
        return Text(text, check, path);
      }
      case Shape::kWhole:
        return Range(check.field->cpp_type() == FieldDescriptor::CPPTYPE_INT32
                         ? r.GetInt32(message, check.field)
                         : static_cast<double>(r.GetInt64(message, check.field)),
                     *check.rule, path);
      case Shape::kFraction:
        return Range(r.GetDouble(message, check.field), *check.rule, path);
      case Shape::kEnum:
        return Enum(r.GetEnumValue(message, check.field), check, check.rule->required, path);
      case Shape::kOpaque:
      case Shape::kFlag:
        return;
    }
  }

  void List(const Message& message, const Reflection& r, const FieldCheck& check,
            const Path& above) {
    const int size = r.FieldSize(message, check.field);
    const Path list{&above, check.field->name(), -1};
    const int most =
        check.field->message_type() == v1::Fact::descriptor() ? kMostFacts : kMostInList;
    if (size == 0 && check.rule->required) Missing(list, check);
    if (size > most) {
      return Report(list, absl::StrCat("has ", size, " elements: give at most ", most));
    }
    for (int i = 0; i < size; ++i) {
      const Path path{&above, check.field->name(), i};
      if (check.shape == Shape::kMessage) {
        Check(r.GetRepeatedMessage(message, check.field, i), path);
      } else if (check.shape == Shape::kEnum) {
        Enum(r.GetRepeatedEnumValue(message, check.field, i), check, true, path);
      } else {  // no list of an entry holds anything else
        std::string scratch;
        Text(r.GetRepeatedStringReference(message, check.field, i, &scratch), check, path);
      }
    }
  }

  void Missing(const Path& path, const FieldCheck& check) {
    const char* wanted = "a text";
    if (check.field->is_repeated()) {
      wanted = "at least one";
    } else if (check.shape == Shape::kInstant) {
      wanted = "the time at which it happened, for instance 2026-11-25T14:05:00Z";
    } else if (check.shape == Shape::kDay) {
      wanted = "the day, for instance 2026-11-25";
    } else if (check.shape == Shape::kMessage || check.shape == Shape::kOpaque) {
      wanted = "its content";
    } else if (check.rule->form == Form::kId) {
      wanted = kIdForm;
    } else if (check.rule->form == Form::kSubjectName) {
      wanted = "a full name, for instance units/K-0417";
    }
    Report(path, absl::StrCat("is missing: give ", wanted));
  }

  void Text(const std::string& text, const FieldCheck& check, const Path& path) {
    const FieldRule& rule = *check.rule;
    if (rule.form == Form::kId) {
      if (text.empty()) return Report(path, absl::StrCat("is missing: give ", kIdForm));
      if (!IsValidId(text)) Report(path, absl::StrCat("is no id: give ", kIdForm));
      return;
    }
    if (rule.form == Form::kSubjectName) {
      if (text.empty()) return Missing(path, check);
      const auto subject = ParseSubjectName(text);
      if (!subject.ok()) Report(path, std::string(subject.status().message()));
      return;
    }
    if (text.empty()) {
      if (rule.required) Missing(path, check);
      return;
    }
    const size_t length = CountCharacters(text);
    if (length > static_cast<size_t>(rule.longest)) {
      Report(path, absl::StrCat("has ", length, " characters: give at most ", rule.longest));
    }
    if (HasControlCharacter(text, rule.longest > kPlainTextLimit)) {
      Report(path, "holds a control character: give plain text");
    }
  }

  void Range(double value, const FieldRule& rule, const Path& path) {
    if (!std::isfinite(value)) return Report(path, "is not a number: give a finite number");
    const bool low = rule.above_least ? value <= rule.least : value < rule.least;
    if (!low && value <= rule.most) return;
    Report(path,
           absl::StrCat("is ", Number(value), ": give ",
                        rule.above_least ? "a number above " : "a number from ", Number(rule.least),
                        rule.above_least ? " up to " : " to ", Number(rule.most)));
  }

  void Enum(int value, const FieldCheck& check, bool must_be_stated, const Path& path) {
    const auto& type = *check.field->enum_type();
    const bool known = type.FindValueByNumber(value) != nullptr;
    if (known && (value != 0 || !must_be_stated)) return;
    std::string wanted;
    for (int i = 1; i < std::min(type.value_count(), 10); ++i) {
      absl::StrAppend(&wanted, i == 1 ? "" : ", ", type.value(i)->name());
    }
    if (type.value_count() > 10) absl::StrAppend(&wanted, ", ...");
    Report(path, absl::StrCat(known ? "is missing" : absl::StrCat("has the unknown value ", value),
                              ": give one of ", wanted));
  }

  void Instant(const Message& message, const Path& path) {
    const auto& t = static_cast<const google::protobuf::Timestamp&>(message);
    static const int64_t first = Seconds(kFirstYear);
    static const int64_t end = Seconds(kLastYear + 1);
    if (t.seconds() < first || t.seconds() >= end || t.nanos() < 0 || t.nanos() >= 1'000'000'000) {
      Report(path, absl::StrCat("is no time of the years ", kFirstYear, " to ", kLastYear,
                                ": give seconds since 1970 and 0 to 999,999,999 nanos"));
    }
  }

  static int64_t Seconds(int year) {
    return absl::CivilSecond(year, 1, 1) - absl::CivilSecond(1970, 1, 1);
  }

  void Day(const Message& message, const Path& path) {
    const auto& d = static_cast<const google::type::Date&>(message);
    if (time::IsValid(d) && d.year() >= kFirstYear) return;
    Report(path, absl::StrCat("is no day of the calendar from ", kFirstYear,
                              " on: give year, month and day, for instance 2026-11-25"));
  }

  std::vector<Violation>* out_;
};

// What two fields of one fact must keep between them.
class Together {
 public:
  Together(Walk* walk, const Path* fact) : walk_(walk), fact_(fact) {}

  void Check(const v1::Fact& fact) {
    switch (fact.what_case()) {
      case v1::Fact::kUnitReceived:
        return Parts("unit_received", fact.unit_received());
      case v1::Fact::kReceivedBack:
        return Parts("received_back", fact.received_back());
      case v1::Fact::kContactNoted:
        return Contact(fact.contact_noted());
      case v1::Fact::kTreatmentDone:
        return Span("treatment_done", fact.treatment_done());
      case v1::Fact::kTesterDoubted:
        return Span("tester_doubted", fact.tester_doubted());
      case v1::Fact::kMeterRolledOver:
        return RollOver(fact.meter_rolled_over());
      case v1::Fact::kCleaningFinished:
        return Cleaning(fact.cleaning_finished());
      case v1::Fact::kInspectionDone:
        return Readings(fact.inspection_done());
      case v1::Fact::kOrderTaken:
        return Details("order_taken", fact.order_taken().order(), fact.order_taken().details());
      case v1::Fact::kOrderChanged:
        return Details("order_changed", fact.order_changed().order(),
                       fact.order_changed().details());
      case v1::Fact::kOrderExtended:
        return FromThrough("order_extended", fact.order_extended());
      case v1::Fact::kAuthorisationNoted:
        return FromThrough("authorisation_noted", fact.authorisation_noted());
      case v1::Fact::kDaysBilled:
        return FromThrough("days_billed", fact.days_billed());
      case v1::Fact::kCarriedOver:
        return CarriedOver(fact.carried_over());
      case v1::Fact::kUnitHeldForOrder:
        return Held(fact);
      case v1::Fact::kHandedOver:
        return MotionOf("handed_over", fact.handed_over().motion());
      case v1::Fact::kExchanged:
        return Exchange(fact.exchanged());
      case v1::Fact::kUsageReported:
        return Usage(fact.usage_reported());
      case v1::Fact::kMotionChanged:
        return MotionOf("motion_changed", fact.motion_changed().motion());
      case v1::Fact::kUnitPromised:
        return Promised(fact);
      case v1::Fact::kReversal:
        return Subjects(fact.reversal());
      case v1::Fact::kStockMoved:
        return Moved(fact.stock_moved());
      case v1::Fact::kStockAdjusted:
        return Adjusted(fact.stock_adjusted());
      case v1::Fact::kTransferSent:
        return Sent(fact.transfer_sent());
      case v1::Fact::kClosetUseReported:
        return ClosetUse(fact.closet_use_reported());
      case v1::Fact::kRecallOpened:
        if (fact.recall_opened().has_scope()) Scope(fact.recall_opened().scope());
        return;
      case v1::Fact::kRecallOutcomeNoted:
        return Outcome(fact.recall_outcome_noted());
      case v1::Fact::kComplaintReceived:
        return Complaint(fact.complaint_received());
      case v1::Fact::kPrecautionsNoted:
        return Precautions(fact.precautions_noted());
      case v1::Fact::WHAT_NOT_SET:
        return Report("what", "is missing: say what happened, for instance unit_moved");
      default:
        return;
    }
  }

 private:
  void Report(std::string_view field, std::string description) {
    walk_->Report({fact_, field, -1}, std::move(description));
  }

  template <typename Received>
  void Parts(std::string_view name, const Received& received) {
    std::set<std::string_view> parts;
    std::set<std::string_view> positions;
    for (int i = 0; i < received.parts_size(); ++i) {
      const v1::PartInPosition& p = received.parts(i);
      const std::string path = absl::StrCat(std::string(name), ".parts[", i, "]");
      if (!p.part().empty() && !parts.insert(p.part()).second) {
        Report(absl::StrCat(path, ".part"), "is given twice: name each part once");
      }
      if (!p.position().empty() && !positions.insert(p.position()).second) {
        Report(absl::StrCat(path, ".position"), "is given twice: a position holds one part");
      }
    }
  }

  void Contact(const v1::ContactNoted& contact) {
    if (!contact.beside_unit().empty() && contact.beside_unit() == contact.unit()) {
      Report("contact_noted.beside_unit", "is the unit itself: give the soiled one beside it");
    }
  }

  template <typename Fact>
  void Span(std::string_view name, const Fact& fact) {
    if (!fact.has_from_time() || !fact.has_to_time()) return;
    if (time::ToMicros(fact.to_time()) <= time::ToMicros(fact.from_time())) {
      Report(absl::StrCat(std::string(name), ".to_time"),
             "does not lie after from_time: give the later of the two here");
    }
  }

  void RollOver(const v1::MeterRolledOver& meter) {
    if (meter.width_s() > 0 && meter.reading_s() >= meter.width_s()) {
      Report("meter_rolled_over.reading_s",
             "is not below width_s: give the reading after the meter began again at nought");
    }
  }

  void Cleaning(const v1::CleaningFinished& cleaning) {
    if (!cleaning.has_wet_from_time() || !cleaning.has_wet_to_time()) return;
    if (time::ToMicros(cleaning.wet_to_time()) < time::ToMicros(cleaning.wet_from_time())) {
      Report("cleaning_finished.wet_to_time",
             "lies before wet_from_time: give the later of the two here");
    }
  }

  void Readings(const v1::InspectionDone& inspection) {
    std::set<std::string_view> items;
    for (int i = 0; i < inspection.readings_size(); ++i) {
      const std::string& item = inspection.readings(i).item();
      if (item.empty() || items.insert(item).second) continue;
      Report(absl::StrCat("inspection_done.readings[", i, "].item"),
             "is given twice: give one reading an item, the last one taken");
    }
  }

  void Details(std::string_view message, const std::string& order, const v1::OrderDetails& d) {
    const std::string path = absl::StrCat(std::string(message), ".details");
    MotionOf(path, d.motion());
    if (d.has_progression()) Progression(path + ".progression", d.progression());
    if (!order.empty() && d.linked_order() == order) {
      Report(path + ".linked_order", "is the order itself: give the earlier order");
    }
  }

  template <typename Span>
  void FromThrough(std::string_view message, const Span& span) {
    if (!time::IsValid(span.from_date()) || !time::IsValid(span.through_date())) return;
    if (time::ToDay(span.from_date()) <= time::ToDay(span.through_date())) return;
    Report(absl::StrCat(std::string(message), ".through_date"),
           "lies before from_date: give the first day and the last day");
  }

  void CarriedOver(const v1::CarriedOver& carried) {
    if (!carried.to_order().empty() && carried.to_order() == carried.from_order()) {
      Report("carried_over.to_order", "is the order whose rental ends: give the other order");
    }
    MotionOf("carried_over", carried.motion());
  }

  void MotionOf(std::string_view message, const v1::Motion& motion) {
    if (!motion.has_extension_deg() || !motion.has_flexion_deg()) return;
    if (motion.extension_deg() <= motion.flexion_deg()) return;
    Report(absl::StrCat(std::string(message), ".motion.extension_deg"),
           "is greater than flexion_deg: the extension limit is the smaller one");
  }

  void Progression(const std::string& path, const v1::MotionProgression& p) {
    const bool named = p.anchor() == v1::PROGRESSION_ANCHOR_DATE;
    if (named != p.has_anchor_date()) {
      Report(path + ".anchor_date", named
                                        ? "is missing: give the day that the order names"
                                        : "goes with PROGRESSION_ANCHOR_DATE alone: leave it out");
    }
    if (p.has_start_extension_deg() && p.has_start_flexion_deg() &&
        p.start_extension_deg() > p.start_flexion_deg()) {
      Report(path + ".start_extension_deg",
             "is greater than start_flexion_deg: the extension limit is the smaller one");
    }
    for (int i = 0; i < p.days_size(); ++i) {
      MotionOf(absl::StrCat(path, ".days[", i, "]"), p.days(i).motion());
      if (i == 0 || p.days(i).day() > p.days(i - 1).day()) continue;
      Report(absl::StrCat(path, ".days[", i, "].day"),
             "is not later than the one before: give the days once each, in rising order");
    }
  }

  void Usage(const v1::UsageReported& usage) {
    if (!usage.has_meter_s() && !usage.has_used_s()) {
      Report("usage_reported", "says no use: give meter_s, or used_s with its days");
    }
    if (usage.has_used_s() && !(usage.has_from_date() && usage.has_through_date())) {
      Report("usage_reported.used_s", "has no days: give from_date and through_date with it");
    }
    Days("usage_reported", usage);
  }

  void Promised(const v1::Fact& fact) {
    const v1::UnitPromised& promised = fact.unit_promised();
    Days("unit_promised", promised);
    if (!promised.has_until_time() || !fact.has_happened_time()) return;
    if (time::ToMicros(promised.until_time()) <= time::ToMicros(fact.happened_time())) {
      Report("unit_promised.until_time",
             "does not lie after happened_time: give when the promise lapses, or leave it out");
    }
  }

  // A first and a last day: in that order, and no further apart than a need may last.
  template <typename Message>
  void Days(const std::string& path, const Message& m) {
    if (!time::IsValid(m.from_date()) || !time::IsValid(m.through_date())) return;
    const int64_t days = time::ToDay(m.through_date()) - time::ToDay(m.from_date());
    if (days < 0) Report(path + ".through_date", "lies before from_date: give the later day here");
    if (days > 730) {
      Report(path + ".through_date", "lies more than 730 days after from_date: check the year");
    }
  }

  void Held(const v1::Fact& fact) {
    const v1::UnitHeldForOrder& held = fact.unit_held_for_order();
    if (!held.has_until_time() || !fact.has_happened_time()) return;
    if (time::ToMicros(held.until_time()) <= time::ToMicros(fact.happened_time())) {
      Report("unit_held_for_order.until_time",
             "does not lie after happened_time: give when the hold lapses, or leave it out");
    }
  }

  void Exchange(const v1::Exchanged& exchange) {
    if (!exchange.unit_in().empty() && exchange.unit_in() == exchange.unit_out()) {
      Report("exchanged.unit_in", "is the unit that comes away: give the one that stays");
    }
    MotionOf("exchanged", exchange.motion());
  }

  void Subjects(const v1::Reversal& reversal) {
    std::set<std::string_view> names;
    for (int i = 0; i < reversal.subjects_size(); ++i) {
      if (names.insert(reversal.subjects(i)).second) continue;
      Report(absl::StrCat("reversal.subjects[", i, "]"), "is given twice: name each once");
    }
  }

  void Moved(const v1::StockMoved& moved) {
    if (!moved.to_place().empty() && moved.from_place() == moved.to_place()) {
      Report("stock_moved.to_place", "is where they were: give the place where they are now");
    }
  }

  void Adjusted(const v1::StockAdjusted& adjusted) {
    if (adjusted.change_count() != 0) return;
    Report("stock_adjusted.change_count",
           "is 0: give the pieces found more, or with a minus the pieces found fewer");
  }

  void Sent(const v1::TransferSent& sent) {
    if (sent.units().empty() && sent.lines().empty()) {
      Report("transfer_sent.units", "is missing: name the units or the goods that are sent");
    }
    if (!sent.to_place().empty() && sent.from_place() == sent.to_place()) {
      Report("transfer_sent.to_place", "is where they were: give the place where they are to go");
    }
  }

  void ClosetUse(const v1::ClosetUseReported& use) {
    if (use.device_class().empty() != use.item().empty()) return;
    if (!use.item().empty() && !(IsValidId(use.item()) && IsValidId(use.device_class()))) return;
    Report("closet_use_reported.item", "and device_class: give one of the two, whichever was used");
  }

  void Scope(const v1::RecallScope& scope) {
    if (scope.models().empty() && scope.serials().empty() && scope.parts().empty() &&
        scope.part_lots().empty() && scope.lots().empty() && scope.units().empty()) {
      Report("recall_opened.scope",
             "covers nothing: give models, serial numbers, parts, lots or units");
    }
  }

  void Outcome(const v1::RecallOutcomeNoted& outcome) {
    const auto subject = ParseSubjectName(outcome.subject());
    if (!subject.ok()) return;
    const bool item = subject->kind == SubjectKind::kUnit || subject->kind == SubjectKind::kPart ||
                      subject->kind == SubjectKind::kLot || subject->kind == SubjectKind::kOrder;
    if (item) return;
    Report("recall_outcome_noted.subject",
           "is no item of a recall: name a unit, a part, a lot or an order");
  }

  void Complaint(const v1::ComplaintReceived& complaint) {
    if (complaint.subject().empty()) return;
    const auto subject = ParseSubjectName(complaint.subject());
    const bool item = subject.ok() &&
                      (subject->kind == SubjectKind::kUnit || subject->kind == SubjectKind::kPart ||
                       subject->kind == SubjectKind::kLot || subject->kind == SubjectKind::kOrder);
    if (item) return;
    Report("complaint_received.subject",
           "names nothing that a complaint is about: write units/K-0417, orders/..., parts/... or "
           "lots/..., or leave it out");
  }

  void Precautions(const v1::PrecautionsNoted& noted) {
    const int count = noted.precautions_size();
    if (count > kMostPrecautions) {
      return Report("precautions_noted.precautions",
                    absl::StrCat("has ", count, " elements: give at most ", kMostPrecautions));
    }
    std::set<int> given;
    for (int i = 0; i < count; ++i) {
      if (noted.precautions(i) == 0 || given.insert(noted.precautions(i)).second) continue;
      Report(absl::StrCat("precautions_noted.precautions[", i, "]"),
             "is given twice: give each precaution once");
    }
  }

  Walk* walk_;
  const Path* fact_;
};

}  // namespace

std::vector<Violation> Validate(const v1::Entry& entry) {
  std::vector<Violation> violations;
  Walk walk(&violations);
  const Path root{nullptr, "entry", -1};
  walk.Check(entry, root);
  for (int i = 0; i < std::min(entry.facts_size(), kMostFacts); ++i) {
    const Path fact{&root, "facts", i};
    Together(&walk, &fact).Check(entry.facts(i));
  }
  return violations;
}

}  // namespace ferrule::fact
