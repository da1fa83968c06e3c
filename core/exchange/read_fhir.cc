// FHIR R4 orders, read: a DeviceRequest or ServiceRequest alone, or a Bundle with the resources
// that belong to it. What stands for what: HL7's StructureDefinitions 4.0.1.
#include <cstdint>
#include <map>

#include "core/exchange/fhir_check.h"
#include "core/exchange/news.h"
#include "core/exchange/text.h"
#include "core/fact/utf8.h"
#include "core/time/civil.h"

namespace ferrule::exchange {
namespace {

constexpr size_t kMostResources = 500;
constexpr size_t kLongestReference = 64;

// A member that is there, null otherwise; several names go inwards.
const Json* At(const Json* json, std::initializer_list<const char*> names) {
  for (const char* name : names) {
    if (json == nullptr || !json->is_object()) return nullptr;
    const auto it = json->find(name);
    json = it == json->end() ? nullptr : &*it;
  }
  return json;
}
std::string TextAt(const Json* json, std::initializer_list<const char*> names) {
  const Json* found = At(json, names);
  return found != nullptr && found->is_string() ? found->get<std::string>() : "";
}
// The elements of a list; none when there is no list.
const Json::array_t& ListAt(const Json* json, const char* name) {
  static const auto& none = *new Json::array_t;
  const Json* found = At(json, {name});
  return found != nullptr && found->is_array() ? found->get_ref<const Json::array_t&>() : none;
}

class FhirReader {
 public:
  FhirReader(const ReadOptions& options, Reading* out) : options_(options), out_(*out) {}

  void Run(const Json& root) {
    const std::string type = TextAt(&root, {"resourceType"});
    if (type == "Bundle") {
      Bundle(root);
    } else {
      Index(root, "", type);
    }
    for (const auto& [resource, where] : requests_) Request(*resource, where);
    if (out_.orders.empty() && out_.troubles.empty()) Tasks();
    if (out_.message_id.empty() && type != "Bundle") {
      const std::string id = TextAt(&root, {"id"});
      const std::string version = TextAt(&root, {"meta", "versionId"});
      if (!id.empty() && !version.empty()) out_.message_id = Cat(type, "/", id, "/", version);
    }
  }

 private:
  void Add(v1::Trouble trouble) { out_.troubles.push_back(std::move(trouble)); }
  void Missing(const std::string& where, std::string_view cure) {
    Add(TroubleAt(v1::TROUBLE_KIND_FIELD_MISSING, where, "is missing", cure));
  }

  void Bundle(const Json& bundle) {
    out_.message_id = TextAt(&bundle, {"identifier", "value"});
    Instant(TextAt(&bundle, {"timestamp"}), &out_.stated_us);
    const Json::array_t& entries = ListAt(&bundle, "entry");
    if (entries.size() > kMostResources) {
      return Add(TroubleAt(v1::TROUBLE_KIND_TOO_LARGE, "Bundle.entry",
                           Cat("has more than ", kMostResources, " resources"),
                           "send it in parts"));
    }
    for (size_t i = 0; i < entries.size(); ++i) {
      const Json* resource = At(&entries[i], {"resource"});
      if (resource == nullptr) continue;
      Index(*resource, TextAt(&entries[i], {"fullUrl"}), Cat("Bundle.entry[", i, "].resource"));
    }
  }

  // Checks a resource and remembers it under its names.
  void Index(const Json& resource, const std::string& url, const std::string& where) {
    const std::string type = TextAt(&resource, {"resourceType"});
    const bool known = IsKnownResource(type);
    if (!known && where == type) {
      return Add(TroubleAt(v1::TROUBLE_KIND_NOT_SUPPORTED, "resourceType",
                           "is a resource that is not taken",
                           "send a DeviceRequest or a Bundle with one", type));
    }
    if (known) {
      for (v1::Trouble& trouble : CheckFhir(resource, where)) Add(std::move(trouble));
      if (At(&resource, {"modifierExtension"}) != nullptr) {
        Add(TroubleAt(v1::TROUBLE_KIND_NOT_SUPPORTED, where + ".modifierExtension",
                      "changes the meaning in a way that is not known here",
                      "send the order without it, or enter it by hand"));
      }
    }
    const std::string id = TextAt(&resource, {"id"});
    if (!url.empty()) resources_[url] = &resource;
    if (!id.empty()) resources_[Cat(type, "/", id)] = &resource;
    if (type == "DeviceRequest") requests_.push_back({&resource, where});
    if (type == "Task") tasks_.push_back({&resource, where});
    if (type == "Procedure") procedures_.push_back(&resource);
    // A ServiceRequest that asks for a device is an order itself.
    if (type == "ServiceRequest" && DeviceCode(At(&resource, {"code"})) != nullptr) {
      requests_.push_back({&resource, where});
    }
  }

  // What a reference points at: in the bundle, or among the resource's own.
  const Json* Resolve(const Json& from, const Json* reference) {
    const std::string target = TextAt(reference, {"reference"});
    if (target.empty()) return nullptr;
    if (target[0] == '#') {
      for (const Json& one : ListAt(&from, "contained")) {
        if (TextAt(&one, {"id"}) == target.substr(1)) return &one;
      }
      return nullptr;
    }
    const auto it = resources_.find(target);
    return it == resources_.end() ? nullptr : it->second;
  }

  // The first coding that asks for a class of device; null when none does.
  const v1::CodeMapping* DeviceCode(const Json* concept_) {
    for (const Json& coding : ListAt(concept_, "coding")) {
      const v1::CodeMapping* code =
          FindCode(*options_.sender, TextAt(&coding, {"system"}), TextAt(&coding, {"code"}));
      if (code != nullptr && !code->device_class().empty()) return code;
    }
    return nullptr;
  }

  // Whether any coding of a concept has a meaning; it is put into the order.
  bool Concept(const Json* concept_, OrderNews* news, const v1::CodeMapping** out = nullptr) {
    for (const Json& coding : ListAt(concept_, "coding")) {
      const v1::CodeMapping* code =
          FindCode(*options_.sender, TextAt(&coding, {"system"}), TextAt(&coding, {"code"}));
      if (code == nullptr) continue;
      PutCode(*code, news);
      if (out != nullptr) *out = code;
      return true;
    }
    return false;
  }
  void Unmapped(const std::string& where, const Json* concept_) {
    const Json::array_t& codings = ListAt(concept_, "coding");
    const Json* first = codings.empty() ? nullptr : &codings.front();
    Add(UnmappedCode(where, TextAt(first, {"system"}), TextAt(first, {"code"})));
  }

  void Request(const Json& r, const std::string& where) {
    const bool device = TextAt(&r, {"resourceType"}) == "DeviceRequest";
    OrderNews news;
    if (!Standing(r, where, &news)) return;
    for (const Json& identifier : ListAt(&r, "identifier")) {
      const std::string value = TextAt(&identifier, {"value"});
      if (value.empty()) continue;
      if (news.number.empty() || IsPlacer(identifier)) news.number = value;
    }
    if (news.number.empty()) Missing(where + ".identifier", "send the order's number");
    Version(r, where, &news);
    news.patient = Patient(r);
    if (news.patient.empty()) {
      Missing(where + ".subject", "send the number by which the patient is known");
    }
    if (device) What(r, where, &news);
    if (!device) Concept(At(&r, {"code"}), &news);
    Parameters(r, where, &news);
    Occurrence(r, where, device, &news);
    Day(TextAt(&r, {"authoredOn"}), [&] { return news.details.mutable_signed_date(); });
    Prescriber(r, &news);
    Surgery(r, &news);
    BodySites(r, where, &news);
    for (const Json& cover : ListAt(&r, "insurance")) {
      const Json* coverage = Resolve(r, &cover);
      Day(TextAt(coverage, {"period", "end"}),
          [&] { return news.details.mutable_cover_end_date(); });
    }
    if (!options_.sender->branch().empty()) news.details.set_branch(options_.sender->branch());
    for (const auto& [task, at] : tasks_) OfTask(*task, r, &news);
    out_.orders.push_back(std::move(news));
  }

  // Whether the request is one to act on, by intent and status.
  bool Standing(const Json& r, const std::string& where, OrderNews* news) {
    const std::string intent = TextAt(&r, {"intent"});
    const std::string status = TextAt(&r, {"status"});
    if (intent == "proposal" || intent == "plan" || intent == "option") {
      Add(TroubleAt(v1::TROUBLE_KIND_NOT_AN_ORDER, where + ".intent", "is no order yet",
                    "wait for the order, or set this aside", intent));
      return false;
    }
    if (status == "draft" || status == "unknown") {
      Add(TroubleAt(v1::TROUBLE_KIND_NOT_AN_ORDER, where + ".status", "is no order to act on",
                    "wait for the active one, or set this aside", status));
      return false;
    }
    if (status == "on-hold") {
      Add(TroubleAt(v1::TROUBLE_KIND_NEEDS_DECISION, where + ".status", "puts the order on hold",
                    "record a change of the order by hand, then set this aside", status));
    }
    if (status == "completed") {
      Add(TroubleAt(v1::TROUBLE_KIND_NEEDS_DECISION, where + ".status",
                    "says that the order is done",
                    "compare it with the records of the order, then set this aside", status));
    }
    if (status == "revoked" || status == "entered-in-error") {
      news->control = OrderNews::Control::kCancel;
      news->reason = status;
    }
    return true;
  }

  static bool IsPlacer(const Json& identifier) {
    for (const Json& coding : ListAt(At(&identifier, {"type"}), "coding")) {
      if (TextAt(&coding, {"code"}) == "PLAC") return true;
    }
    return false;
  }

  void Version(const Json& r, const std::string& where, OrderNews* news) {
    int64_t us = 0;
    for (const std::string& text :
         {TextAt(&r, {"meta", "lastUpdated"}), TextAt(&r, {"authoredOn"})}) {
      if (us == 0) Instant(text, &us);
    }
    news->stated_us = us != 0 ? us : out_.stated_us;
    if (options_.sender->version_from() == v1::VERSION_SOURCE_COUNT) {
      if (!ParseDigits(TextAt(&r, {"meta", "versionId"}), &news->version) || news->version < 1) {
        Missing(where + ".meta.versionId", "send the version, a whole number from 1");
      }
      return;
    }
    if (news->stated_us == 0) {
      return Missing(where + ".meta.lastUpdated", "send when the order was last changed");
    }
    news->version = VersionOfTime(news->stated_us);
  }

  std::string Patient(const Json& r) {
    const Json* subject = At(&r, {"subject"});
    const Json* patient = Resolve(r, subject);
    std::string first;
    for (const Json& identifier : ListAt(patient, "identifier")) {
      const std::string value = TextAt(&identifier, {"value"});
      if (value.empty()) continue;
      if (first.empty()) first = value;
      for (const Json& coding : ListAt(At(&identifier, {"type"}), "coding")) {
        if (TextAt(&coding, {"code"}) == "MR") return value;
      }
    }
    if (!first.empty()) return first;
    const std::string value = TextAt(subject, {"identifier", "value"});
    if (!value.empty()) return value;
    const std::string reference = TextAt(subject, {"reference"});
    // Only a Patient is taken; a place or a group gets no device.
    return reference.find("Patient/") != std::string::npos ? reference : "";
  }

  void What(const Json& r, const std::string& where, OrderNews* news) {
    const Json* coded = At(&r, {"codeCodeableConcept"});
    const Json* device = Resolve(r, At(&r, {"codeReference"}));
    if (coded == nullptr && device != nullptr) coded = At(device, {"type"});
    if (coded == nullptr && At(&r, {"codeReference"}) != nullptr) {
      return Add(TroubleAt(v1::TROUBLE_KIND_FIELD_MISSING, where + ".codeReference",
                           "refers to a device that is not in the message",
                           "send the Device in the same Bundle, or a code"));
    }
    if (!Concept(coded, news)) Unmapped(where + ".codeCodeableConcept", coded);
  }

  void Parameters(const Json& r, const std::string& where, OrderNews* news) {
    const Json::array_t& list = ListAt(&r, "parameter");
    for (size_t i = 0; i < list.size(); ++i) {
      const std::string at = Cat(where, ".parameter[", i, "]");
      const v1::CodeMapping* code = nullptr;
      if (!Concept(At(&list[i], {"code"}), news, &code)) {
        Unmapped(at + ".code", At(&list[i], {"code"}));
        continue;
      }
      if (code->item() == v1::INTAKE_ITEM_UNSPECIFIED || code->item() == v1::INTAKE_ITEM_IGNORED) {
        continue;
      }
      Parameter(list[i], at, code->item(), news);
    }
  }

  void Parameter(const Json& parameter, const std::string& at, v1::IntakeItem item,
                 OrderNews* news) {
    if (const Json* quantity = At(&parameter, {"valueQuantity"})) {
      const Json* value = At(quantity, {"value"});
      if (value == nullptr) return Missing(at + ".valueQuantity.value", "send the number");
      std::string unit = TextAt(quantity, {"code"});
      if (unit.empty()) unit = TextAt(quantity, {"unit"});
      return PutItem(item, {at + ".valueQuantity", value->dump(), unit}, news, &out_.troubles);
    }
    if (const Json* coded = At(&parameter, {"valueCodeableConcept"})) {
      const v1::CodeMapping* code = nullptr;
      if (!Concept(coded, news, &code)) return Unmapped(at + ".valueCodeableConcept", coded);
      return;
    }
    Add(TroubleAt(v1::TROUBLE_KIND_FIELD_INVALID, at + ".value[x]", "is not a quantity or a code",
                  "send valueQuantity with a unit of measure"));
  }

  // DeviceRequest: the rental. ServiceRequest: the operation.
  void Occurrence(const Json& r, const std::string& where, bool device, OrderNews* news) {
    std::string start = TextAt(&r, {"occurrenceDateTime"});
    const Json* period = At(&r, {"occurrencePeriod"});
    if (period == nullptr) period = At(&r, {"occurrenceTiming", "repeat", "boundsPeriod"});
    if (start.empty()) start = TextAt(period, {"start"});
    google::type::Date* field = device ? news->details.mutable_needed_date() : nullptr;
    if (!device) {
      Day(start, [&] { return news->details.mutable_surgery_date(); });
      return;
    }
    if (!Day(start, [&] { return field; })) {
      news->details.clear_needed_date();
      return;
    }
    google::type::Date last;
    if (!Day(TextAt(period, {"end"}), [&] { return &last; })) return;
    const int64_t days = time::ToDay(last) - time::ToDay(*field) + 1;
    if (days < 1 || days > 730) {
      return Add(TroubleAt(v1::TROUBLE_KIND_FIELD_INVALID, where + ".occurrencePeriod.end",
                           "does not lie 1 to 730 days from the start, the last day included",
                           "send the last day of use"));
    }
    news->details.set_length_of_need_days(static_cast<int32_t>(days));
  }

  void Prescriber(const Json& r, OrderNews* news) {
    const Json* requester = At(&r, {"requester"});
    const Json* resolved = Resolve(r, requester);
    std::string id = TextAt(requester, {"identifier", "value"});
    for (const Json& identifier : ListAt(resolved, "identifier")) {
      if (id.empty()) id = TextAt(&identifier, {"value"});
    }
    if (id.empty() && resolved == nullptr) id = TextAt(requester, {"reference"});
    if (!id.empty() && fact::CountCharacters(id) <= kLongestReference) {
      news->details.set_prescriber(id);
    }
  }

  // The operation, from what the request names as its ground, or from the only one in the bundle.
  void Surgery(const Json& r, OrderNews* news) {
    std::vector<const Json*> about;
    for (const Json& info : ListAt(&r, "supportingInfo")) {
      if (const Json* found = Resolve(r, &info)) about.push_back(found);
    }
    if (about.empty() && procedures_.size() == 1) about.push_back(procedures_.front());
    for (const Json* one : about) {
      const std::string type = TextAt(one, {"resourceType"});
      if (type != "Procedure" && type != "ServiceRequest") continue;
      for (const char* name : {"performedDateTime", "occurrenceDateTime"}) {
        Day(TextAt(one, {name}), [&] { return news->details.mutable_surgery_date(); });
      }
      for (const char* name : {"performedPeriod", "occurrencePeriod"}) {
        Day(TextAt(one, {name, "start"}), [&] { return news->details.mutable_surgery_date(); });
      }
      Concept(At(one, {"code"}), news);
      const Json::array_t& codings = ListAt(At(one, {"code"}), "coding");
      if (!news->details.has_procedure() && !codings.empty()) {
        news->details.set_procedure(TextAt(&codings.front(), {"code"}));
      }
      BodySites(*one, type, news);
    }
  }

  void BodySites(const Json& r, const std::string& where, OrderNews* news) {
    for (const Json& site : ListAt(&r, "bodySite")) {
      if (!ListAt(&site, "coding").empty() && !Concept(&site, news)) {
        Unmapped(where + ".bodySite", &site);
      }
    }
  }

  // A task that calls the request off.
  void OfTask(const Json& task, const Json& request, OrderNews* news) {
    if (Resolve(task, At(&task, {"focus"})) != &request) return;
    const std::string status = TextAt(&task, {"status"});
    if (status != "cancelled" && status != "entered-in-error") return;
    news->control = OrderNews::Control::kCancel;
    news->reason = status;
  }

  // A message about a task alone, or about nothing that a depot acts on.
  void Tasks() {
    for (const auto& [task, where] : tasks_) {
      const std::string status = TextAt(task, {"status"});
      if (status != "cancelled" && status != "entered-in-error") continue;
      OrderNews news;
      news.control = OrderNews::Control::kCancel;
      news.number = TextAt(task, {"focus", "identifier", "value"});
      news.reason = status;
      if (news.number.empty()) {
        Missing(where + ".focus.identifier", "send the number of the order that is called off");
      }
      Version(*task, where, &news);
      out_.orders.push_back(std::move(news));
    }
  }

  void Instant(const std::string& text, int64_t* us) {
    if (text.size() < 10 || !IsFhirDate(text, true)) return;
    const auto instant = time::ParseInstant(text, options_.zone);
    if (instant.ok()) *us = *instant;
  }
  // A date or the day of a dateTime as it is written: the sender's own local day.
  template <typename Field>
  bool Day(const std::string& text, Field field) {
    if (text.size() < 10 || !IsFhirDate(text, true)) return false;
    const auto day = time::ParseDay(text.substr(0, 10));
    if (!day.ok()) return false;
    *field() = time::FromDay(*day);
    return true;
  }

  struct Placed {
    const Json* resource;
    std::string where;
  };
  const ReadOptions& options_;
  Reading& out_;
  std::map<std::string, const Json*> resources_;
  std::vector<Placed> requests_;
  std::vector<Placed> tasks_;
  std::vector<const Json*> procedures_;
};

}  // namespace

Reading ReadFhir(std::string_view bytes, const ReadOptions& options) {
  Reading out;
  const Json json = ParseJson(bytes);
  if (json.is_discarded() || !json.is_object()) {
    out.troubles.push_back(TroubleAt(v1::TROUBLE_KIND_NOT_READABLE, "",
                                     "is no JSON object of a resource",
                                     "send one FHIR R4 resource or Bundle as JSON in UTF-8"));
    return out;
  }
  FhirReader(options, &out).Run(json);
  return out;
}

}  // namespace ferrule::exchange
