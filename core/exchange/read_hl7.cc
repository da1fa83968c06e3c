// HL7 v2 orders, discharges and moved operations, read. Which field means what: HL7 v2.5.1 by the
// npm package hl7-dictionary 1.0.1; which of them matter to a depot is common practice, no source.
#include <algorithm>
#include <map>
#include <set>

#include "core/exchange/hl7.h"
#include "core/exchange/hl7_text.h"
#include "core/exchange/news.h"
#include "core/exchange/text.h"
#include "core/fact/utf8.h"
#include "core/time/civil.h"

namespace ferrule::exchange {
namespace {

constexpr size_t kLongestReference = 64;  // of a prescriber or a facility in OrderDetails

// What ORC-1 asks for (HL7 table 0119).
struct ControlRow {
  std::string_view code;
  OrderNews::Control control;
};
constexpr ControlRow kControls[] = {
    {"NW", OrderNews::Control::kOrder},  {"XO", OrderNews::Control::kChange},
    {"RP", OrderNews::Control::kChange}, {"SC", OrderNews::Control::kChange},
    {"CA", OrderNews::Control::kCancel}, {"DC", OrderNews::Control::kCancel},
};

class Hl7Reader {
 public:
  Hl7Reader(const Hl7Message& message, const ReadOptions& options, Reading* out)
      : message_(message), options_(options), out_(*out) {}

  void Run() {
    const Hl7Segment& msh = message_.msh();
    out_.message_id = std::string(msh.Get(10));
    if (!msh.Get(7).empty() && !ParseHl7Time(msh.Get(7), options_.zone, &out_.stated_us)) {
      Invalid("MSH-7", "is no time", "send YYYYMMDDHHMMSS with an offset");
    }
    if (msh.Get(10).empty()) Missing("MSH-10", "the message's own id");
    const std::string_view type = msh.Get(9);
    if (type == "ADT") return Discharge(msh.Get(9, 2));
    if (type == "SIU") return Appointment(msh.Get(9, 2));
    Orders();
  }

 private:
  void Add(v1::Trouble trouble) { out_.troubles.push_back(std::move(trouble)); }
  void Missing(std::string_view where, std::string_view what) {
    Add(TroubleAt(v1::TROUBLE_KIND_FIELD_MISSING, where, "is missing",
                  Cat("send ", std::string(what))));
  }
  void Invalid(std::string_view where, std::string_view text, std::string_view cure) {
    Add(TroubleAt(v1::TROUBLE_KIND_FIELD_INVALID, where, text, cure));
  }
  void Decide(std::string_view where, std::string_view text, std::string_view cure) {
    Add(TroubleAt(v1::TROUBLE_KIND_NEEDS_DECISION, where, text, cure));
  }

  // The medical record number, or else the first number of the patient, with who issued it.
  std::string Patient() {
    const Hl7Segment* pid = message_.Find("PID");
    if (pid == nullptr) return "";
    size_t chosen = 1;
    for (size_t r = 1; r <= pid->Repetitions(3); ++r) {
      if (pid->Get(3, 5, r) == "MR") {
        chosen = r;
        break;
      }
    }
    const std::string_view number = pid->Get(3, 1, chosen);
    if (number.empty() || number == kHl7Delete) return "";
    return std::string(number);
  }

  // --- Orders

  void Orders() {
    const std::string patient = Patient();
    if (patient.empty()) Missing("PID-3", "the number by which the patient is known");
    OrderNews shared;
    shared.patient = patient;
    Insurance(&shared);
    Visit(&shared);
    std::set<std::string> numbers;
    for (size_t i = 0; i < message_.segments.size(); ++i) {
      if (message_.segments[i].name() != "ORC") continue;
      OrderNews news = shared;
      Order(i, &news);
      if (!news.number.empty() && !numbers.insert(news.number).second) {
        Invalid("ORC-2", "stands twice in one message", "give each order a number of its own");
      }
      out_.orders.push_back(std::move(news));
    }
    if (out_.orders.empty()) Missing("ORC", "one ORC segment an order");
  }

  void Order(size_t begin, OrderNews* news) {
    const Hl7Segment& orc = message_.segments[begin];
    Control(orc, news);
    news->number = std::string(orc.Get(2));
    Version(orc, news);
    Reference(
        orc, 12, "prescriber", [&](std::string t) { news->details.set_prescriber(t); }, news);
    Reference(
        orc, 21, "facility", [&](std::string t) { news->details.set_facility(t); }, news);
    Timing(orc.Field(7).empty() ? nullptr : &orc, news);
    bool coded = false;
    for (size_t i = begin + 1; i < message_.segments.size(); ++i) {
      const Hl7Segment& segment = message_.segments[i];
      if (segment.name() == "ORC") break;
      if (segment.name() == "TQ1") Quantity(segment, news);
      if (segment.name() == "OBX") Observation(segment, news);
      if (segment.name() == "OBR") coded |= Request(segment, news);
      if (segment.name() == "RQD") coded |= Requisition(segment, news);
    }
    if (news->number.empty()) Missing("ORC-2", "the order's number");
    if (!coded && news->control == OrderNews::Control::kOrder) {
      Missing("OBR-4", "the code of what is ordered, in OBR-4 or RQD-2 to RQD-4");
    }
    if (!news->details.has_branch() && !options_.sender->branch().empty() &&
        news->control == OrderNews::Control::kOrder) {
      news->details.set_branch(options_.sender->branch());
    }
  }

  void Control(const Hl7Segment& orc, OrderNews* news) {
    const std::string_view code = orc.Get(1);
    for (const ControlRow& row : kControls) {
      if (row.code != code) continue;
      news->control = row.control;
      if (row.control == OrderNews::Control::kCancel) {
        news->reason = std::string(orc.Get(16, 2).empty() ? orc.Get(16) : orc.Get(16, 2));
      }
      return;
    }
    if (code.empty()) return Missing("ORC-1", "the order control code, for instance NW");
    if (code == "HD" || code == "RL") {
      news->control = OrderNews::Control::kChange;  // of an order that was sent before
      return Decide("ORC-1", "holds or releases the order",
                    "record a change of the order by hand, then set this message aside");
    }
    Add(TroubleAt(v1::TROUBLE_KIND_NOT_SUPPORTED, "ORC-1", "is an order control that is not taken",
                  "send NW, XO, RP, SC, CA or DC", code));
  }

  void Version(const Hl7Segment& orc, OrderNews* news) {
    news->stated_us = out_.stated_us;
    int64_t us = 0;
    const bool own = !orc.Get(9).empty();
    if (own && !ParseHl7Time(orc.Get(9), options_.zone, &us)) {
      Invalid("ORC-9", "is no time", "send YYYYMMDDHHMMSS with an offset");
    } else if (own) {
      news->stated_us = us;
    }
    if (options_.sender->version_from() == v1::VERSION_SOURCE_COUNT) {
      const std::string_view count = message_.msh().Get(13);
      if (!ParseDigits(count, &news->version) || news->version < 1) {
        Missing("MSH-13", "the sender's count of messages, a whole number from 1");
      }
      return;
    }
    if (news->stated_us == 0) return Missing("MSH-7", "when the message was made");
    news->version = VersionOfTime(news->stated_us);
  }

  template <typename Set>
  void Reference(const Hl7Segment& segment, size_t field, const char* path, Set set,
                 OrderNews* news) {
    const std::string_view text = segment.Get(field);
    if (text == kHl7Delete) return news->cleared.emplace_back(path), void();
    if (text.empty()) return;
    if (fact::CountCharacters(text) > kLongestReference) {
      return Invalid(Cat(segment.name(), "-", field), "is too long", "send at most 64 characters");
    }
    set(std::string(text));
  }

  // OBR: what is ordered, and the operation.
  bool Request(const Hl7Segment& obr, OrderNews* news) {
    if (news->number.empty()) news->number = std::string(obr.Get(2));
    const bool coded = Code(obr, 4, news);
    for (size_t r = 1; r <= obr.Repetitions(44); ++r) {
      if (obr.Get(44, 1, r).empty()) continue;
      const v1::CodeMapping* code =
          FindCode(*options_.sender, obr.Get(44, 3, r), obr.Get(44, 1, r));
      if (code != nullptr) {
        PutCode(*code, news);
      } else {
        news->details.set_procedure(std::string(obr.Get(44, 1, r)));
      }
    }
    for (size_t r = 1; r <= obr.Repetitions(45); ++r) Modifier(obr, r, news);
    return coded;
  }

  // OBR-45: modifiers; LT and RT are sides, others are of no use here.
  void Modifier(const Hl7Segment& obr, size_t r, OrderNews* news) {
    const std::string_view text = obr.Get(45, 1, r);
    if (text.empty()) return;
    const v1::CodeMapping* code = FindCode(*options_.sender, obr.Get(45, 3, r), text);
    if (code != nullptr) return PutCode(*code, news);
    const v1::Side side = ParseSide(text);
    if (side == v1::SIDE_UNSPECIFIED) return Add(UnmappedCode("OBR-45", obr.Get(45, 3, r), text));
    news->details.set_side(side);
  }

  bool Requisition(const Hl7Segment& rqd, OrderNews* news) {
    bool coded = false;
    for (const size_t field : {2u, 3u, 4u}) {
      if (!coded && !rqd.Get(field).empty()) coded = Code(rqd, field, news);
    }
    if (!rqd.Get(10).empty()) {
      PutDay("RQD-10", rqd.Get(10), "needed_date", news,
             [&] { return news->details.mutable_needed_date(); });
    }
    return coded;
  }

  // A coded element: the code, or the alternate one, must mean something.
  bool Code(const Hl7Segment& segment, size_t field, OrderNews* news) {
    if (segment.Get(field).empty() && segment.Get(field, 4).empty()) return false;
    for (const size_t at : {1u, 4u}) {
      const std::string_view code = segment.Get(field, at);
      if (code.empty()) continue;
      const v1::CodeMapping* mapping = FindCode(*options_.sender, segment.Get(field, at + 2), code);
      if (mapping == nullptr) continue;
      PutCode(*mapping, news);
      return true;
    }
    Add(UnmappedCode(Cat(segment.name(), "-", field, ".1"), segment.Get(field, 3),
                     segment.Get(field)));
    return true;
  }

  void Observation(const Hl7Segment& obx, OrderNews* news) {
    const std::string_view code = obx.Get(3);
    if (code.empty()) return Missing("OBX-3", "what the value is");
    const v1::CodeMapping* mapping = FindCode(*options_.sender, obx.Get(3, 3), code);
    if (mapping == nullptr) return Add(UnmappedCode("OBX-3.1", obx.Get(3, 3), code));
    PutCode(*mapping, news);
    if (mapping->item() == v1::INTAKE_ITEM_UNSPECIFIED ||
        mapping->item() == v1::INTAKE_ITEM_IGNORED || obx.Get(5).empty()) {
      return;
    }
    const v1::CodeMapping* value = FindCode(*options_.sender, obx.Get(5, 3), obx.Get(5));
    const bool side = value != nullptr && value->side() != v1::SIDE_UNSPECIFIED;
    PutItem(mapping->item(), {"OBX-5", obx.Get(5), obx.Get(6), side ? value : nullptr}, news,
            &out_.troubles);
  }

  template <typename Field>
  bool PutDay(std::string_view where, std::string_view text, const char* path, OrderNews* news,
              Field field) {
    if (text == kHl7Delete) return news->cleared.emplace_back(path), false;
    google::type::Date day;
    if (!ParseHl7Day(text, &day)) {
      Invalid(where, "is no day of the calendar", "send YYYYMMDD");
      return false;
    }
    *field() = day;
    return true;
  }

  // A rental from a day through a day.
  void Period(std::string_view start_where, std::string_view start, std::string_view end_where,
              std::string_view end, OrderNews* news) {
    const bool from = !start.empty() && PutDay(start_where, start, "needed_date", news,
                                               [&] { return news->details.mutable_needed_date(); });
    if (end.empty()) return;
    if (end == kHl7Delete) return news->cleared.emplace_back("length_of_need_days"), void();
    google::type::Date last;
    if (!PutDay(end_where, end, "", news, [&] { return &last; }) || !from) return;
    const int64_t days = time::ToDay(last) - time::ToDay(news->details.needed_date()) + 1;
    if (days < 1 || days > 730) {
      return Invalid(end_where, "does not lie 1 to 730 days from the start, the last day included",
                     "send the last day of use");
    }
    news->details.set_length_of_need_days(static_cast<int32_t>(days));
  }

  void Quantity(const Hl7Segment& tq1, OrderNews* news) {
    Period("TQ1-7", tq1.Get(7), "TQ1-8", tq1.Get(8), news);
    if (tq1.Get(6).empty()) return;
    PutItem(v1::INTAKE_ITEM_LENGTH_OF_NEED, {"TQ1-6", tq1.Get(6), tq1.Get(6, 2)}, news,
            &out_.troubles);
  }

  // ORC-7 of older messages: quantity^interval^duration^start^end.
  void Timing(const Hl7Segment* orc, OrderNews* news) {
    if (orc == nullptr) return;
    Period("ORC-7.4", orc->Get(7, 4), "ORC-7.5", orc->Get(7, 5), news);
    const std::string_view duration = orc->Get(7, 3);
    if (duration.size() < 2 || (duration[0] != 'D' && duration[0] != 'W')) return;
    PutItem(v1::INTAKE_ITEM_LENGTH_OF_NEED,
            {"ORC-7.3", duration.substr(1), duration[0] == 'D' ? "d" : "wk"}, news, &out_.troubles);
  }

  void Insurance(OrderNews* news) {
    const Hl7Segment* in1 = message_.Find("IN1");
    if (in1 == nullptr || in1->Get(13).empty()) return;
    PutDay("IN1-13", in1->Get(13), "cover_end_date", news,
           [&] { return news->details.mutable_cover_end_date(); });
  }

  void Visit(OrderNews* news) {
    const auto take = [&](const char* segment, size_t field) {
      const Hl7Segment* found = message_.Find(segment);
      if (found == nullptr || found->Get(field).empty()) return;
      PutDay(Cat(segment, "-", field), found->Get(field), "discharge_date", news,
             [&] { return news->details.mutable_discharge_date(); });
    };
    take("PV2", 9);   // expected
    take("PV1", 45);  // actual
  }

  // --- Patients and appointments

  OrderNews* ForPatient() {
    out_.for_patient = true;
    OrderNews news;
    news.control = OrderNews::Control::kChange;
    news.patient = Patient();
    news.stated_us = out_.stated_us;
    if (news.patient.empty()) Missing("PID-3", "the number by which the patient is known");
    if (out_.stated_us == 0) Missing("MSH-7", "when the message was made");
    out_.orders.push_back(std::move(news));
    return &out_.orders.back();
  }

  void Discharge(std::string_view event) {
    if (event == "A11" || event == "A13") {
      ForPatient();
      return Decide("MSH-9.2", "takes an admission or a discharge back",
                    "look at the patient's orders, record what changes, and set this aside");
    }
    OrderNews news;
    Visit(&news);
    if (!news.details.has_discharge_date() && news.cleared.empty()) {
      if (event == "A03") Missing("PV1-45", "the day of discharge");
      return;  // nothing for the depot
    }
    OrderNews* target = ForPatient();
    target->details = news.details;
    target->cleared = news.cleared;
  }

  void Appointment(std::string_view event) {
    OrderNews* news = ForPatient();
    const Hl7Segment* sch = message_.Find("SCH");
    if (sch == nullptr) return Missing("SCH", "the appointment");
    news->number = std::string(sch->Get(26));
    if (event == "S15" || event == "S17") {
      return Decide("MSH-9.2", "cancels the operation",
                    "ask the prescriber whether the order stands, cancel it or change its day, and "
                    "set this aside");
    }
    const Hl7Segment* ais = message_.Find("AIS");
    std::string_view start = sch->Get(11, 4);
    std::string_view where = "SCH-11.4";
    if (start.empty() && ais != nullptr) start = ais->Get(4), where = "AIS-4";
    if (start.empty()) return Missing(where, "when the operation begins");
    PutDay(where, start, "surgery_date", news,
           [&] { return news->details.mutable_surgery_date(); });
  }

  const Hl7Message& message_;
  const ReadOptions& options_;
  Reading& out_;
};

}  // namespace

Reading ReadHl7(std::string_view bytes, const ReadOptions& options) {
  Reading out;
  const absl::StatusOr<Hl7Message> message = ParseHl7(bytes);
  if (!message.ok()) {
    out.troubles.push_back(TroubleAt(v1::TROUBLE_KIND_NOT_READABLE, "MSH",
                                     std::string(message.status().message()),
                                     "correct the message and send it again"));
    return out;
  }
  Hl7Reader(*message, options, &out).Run();
  return out;
}

}  // namespace ferrule::exchange
