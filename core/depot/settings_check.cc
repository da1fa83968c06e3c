#include <cmath>
#include <map>
#include <set>
#include <utility>

#include "absl/strings/str_cat.h"
#include "core/depot/bench_check.h"
#include "core/depot/cover_check.h"
#include "core/depot/planning_check.h"
#include "core/depot/promise_check.h"
#include "core/depot/retention_check.h"
#include "core/depot/settings_text.h"
#include "core/fact/subject.h"
#include "core/fact/utf8.h"
#include "core/time/civil.h"
#include "google/protobuf/descriptor.h"

namespace ferrule::depot {
namespace {

using google::protobuf::Descriptor;
using google::protobuf::FieldDescriptor;
using google::protobuf::Message;

constexpr int kLongestName = 64;
constexpr size_t kLongestText = 500;
// The same bounds as for the motion of an order (proto/ferrule/v1/facts.proto).
constexpr double kLeastDegrees = -30;
constexpr double kMostDegrees = 180;
constexpr double kMostSpeed = 10'000;
constexpr int64_t kMostContactTime = 86'400;
constexpr int kMostInterval = 1'000'000;

bool HasControlCharacter(std::string_view text) {
  for (char c : text) {
    if ((static_cast<unsigned char>(c) < 0x20 && c != '\n' && c != '\t') || c == 0x7F) return true;
  }
  return false;
}

// The names of an enum's values, without the zero.
std::string ValuesOf(const google::protobuf::EnumDescriptor& type) {
  std::string names;
  for (int i = 1; i < type.value_count(); ++i) {
    absl::StrAppend(&names, i == 1 ? "" : ", ", type.value(i)->name());
  }
  return names;
}

std::string At(std::string_view list, int index) {
  return absl::StrCat(std::string(list), "[", index, "]");
}

class Check {
 public:
  explicit Check(const v1::Settings& settings) : settings_(settings) {}

  std::vector<SettingsError> Run() {
    Texts(settings_, "");
    Name("version", settings_.version());
    Branches();
    Classes();
    Models();
    Products();
    Checklists();
    Plans();
    Policy();
    Currency();
    Tags();
    Senders();
    CheckPlanning(settings_, &errors_);
    CheckPromises(settings_, &errors_);
    CheckBench(settings_, &errors_);
    Stores();
    return std::move(errors_);
  }

 private:
  void Wrong(std::string field, std::string message) {
    errors_.push_back({0, std::move(field), std::move(message)});
  }

  // Every text, wherever it stands.
  void Texts(const Message& message, const std::string& above) {
    std::vector<const FieldDescriptor*> fields;
    message.GetReflection()->ListFields(message, &fields);
    for (const FieldDescriptor* field : fields) {
      const std::string path = absl::StrCat(above, field->name());
      if (!field->is_repeated()) {
        TextsOf(message, *field, -1, path);
        continue;
      }
      const int size = message.GetReflection()->FieldSize(message, field);
      for (int i = 0; i < size; ++i) TextsOf(message, *field, i, At(path, i));
    }
  }

  void TextsOf(const Message& message, const FieldDescriptor& field, int index,
               const std::string& path) {
    const auto& r = *message.GetReflection();
    if (field.cpp_type() == FieldDescriptor::CPPTYPE_MESSAGE) {
      return Texts(
          index < 0 ? r.GetMessage(message, &field) : r.GetRepeatedMessage(message, &field, index),
          path + ".");
    }
    if (field.cpp_type() != FieldDescriptor::CPPTYPE_STRING) return;
    const std::string text =
        index < 0 ? r.GetString(message, &field) : r.GetRepeatedString(message, &field, index);
    if (!fact::IsUtf8(text)) return Wrong(path, "is not UTF-8: save the file as UTF-8");
    if (HasControlCharacter(text)) Wrong(path, "holds a control character: give plain text");
    if (text.size() > kLongestText) {
      Wrong(path, absl::StrCat("has ", text.size(), " bytes: give at most ", kLongestText));
    }
  }

  void Name(const std::string& path, const std::string& name) {
    if (name.empty()) return Wrong(path, "is missing: give a name, for instance \"2026-01\"");
    if (name.size() > kLongestName) {
      Wrong(path, absl::StrCat("is too long: give at most ", kLongestName, " characters"));
    }
  }

  // An id that must be there, be well formed and stand once in `seen`.
  void Id(const std::string& path, const std::string& id,
          std::map<std::string, std::string>* seen) {
    if (id.empty()) return Wrong(path, "is missing: give an id, for instance \"north\"");
    if (!fact::IsValidId(id)) {
      return Wrong(path,
                   absl::StrCat("\"", id,
                                "\" is no id: give 1 to 64 letters, digits, dots, "
                                "underscores or hyphens, beginning with a letter or a digit"));
    }
    const auto [first, is_new] = seen->try_emplace(id, path);
    if (is_new) return;
    Wrong(path,
          absl::StrCat("\"", id, "\" is given already at ", first->second, ": give each id once"));
  }

  template <typename List>
  void Reference(const std::string& path, const std::string& id, const List& list,
                 std::string_view kind) {
    for (const auto& item : list) {
      if (item.id() == id) return;
    }
    Wrong(path, absl::StrCat("there is no ", std::string(kind), " \"", id,
                             "\" in these settings: add it or correct the name"));
  }

  void Finite(const std::string& path, double value) {
    if (!std::isfinite(value)) Wrong(path, "is not a number: give a finite number");
  }

  void Branches() {
    std::map<std::string, std::string> ids;
    std::map<std::string, std::string> places;
    for (int i = 0; i < settings_.branches_size(); ++i) {
      const v1::Branch& branch = settings_.branches(i);
      const std::string path = At("branches", i);
      Id(path + ".id", branch.id(), &ids);
      if (branch.time_zone().empty()) {
        Wrong(path + ".time_zone", "is missing: give an IANA name, for instance \"Europe/Berlin\"");
      } else if (const auto zone = time::Zone(branch.time_zone()); !zone.ok()) {
        Wrong(path + ".time_zone", std::string(zone.status().message()));
      }
      for (int k = 0; k < branch.places_size(); ++k) {
        const std::string place = absl::StrCat(path, ".", At("places", k));
        Id(place + ".id", branch.places(k).id(), &places);
        Enum(place + ".kind", branch.places(k).kind(), *v1::PlaceKind_descriptor());
      }
    }
  }

  void Enum(const std::string& path, int value, const google::protobuf::EnumDescriptor& type) {
    if (value != 0 && type.FindValueByNumber(value) != nullptr) return;
    Wrong(path, absl::StrCat(value == 0 ? "is missing" : absl::StrCat("has no value ", value),
                             ": give one of ", ValuesOf(type)));
  }

  void Classes() {
    std::map<std::string, std::string> ids;
    for (int i = 0; i < settings_.device_classes_size(); ++i) {
      const v1::DeviceClass& c = settings_.device_classes(i);
      const std::string path = At("device_classes", i);
      Id(path + ".id", c.id(), &ids);
      std::map<std::string, std::string> items;
      for (int k = 0; k < c.kit_items_size(); ++k) {
        Id(absl::StrCat(path, ".", At("kit_items", k)), c.kit_items(k), &items);
      }
    }
  }

  void Models() {
    std::map<std::string, std::string> ids;
    for (int i = 0; i < settings_.models_size(); ++i) {
      const v1::Model& model = settings_.models(i);
      const std::string path = At("models", i);
      Id(path + ".id", model.id(), &ids);
      if (model.device_class().empty()) {
        Wrong(path + ".device_class", "is missing: give the id of a class of device");
      } else {
        Reference(path + ".device_class", model.device_class(), settings_.device_classes(),
                  "class of device");
      }
      std::map<std::string, std::string> positions;
      for (int k = 0; k < model.parts_size(); ++k) {
        Id(absl::StrCat(path, ".", At("parts", k), ".position"), model.parts(k).position(),
           &positions);
      }
      if (!model.checklist().empty()) {
        Reference(path + ".checklist", model.checklist(), settings_.checklists(), "checklist");
      }
      if (!model.service_plan().empty()) {
        Reference(path + ".service_plan", model.service_plan(), settings_.service_plans(),
                  "service plan");
      }
      if (model.has_motion()) Motion(path + ".motion", model.motion());
    }
  }

  void Motion(const std::string& path, const v1::MotionRange& m) {
    Degrees(path + ".min_deg", m.min_deg());
    Degrees(path + ".max_deg", m.max_deg());
    if (m.max_deg() <= m.min_deg()) {
      Wrong(path + ".max_deg", "is not above min_deg: give the greatest flexion limit here");
    }
    const double speed = m.max_speed_deg_per_min();
    if (!(speed > 0 && speed <= kMostSpeed)) {
      Wrong(path + ".max_speed_deg_per_min",
            absl::StrCat("is ", speed, ": give more than 0 and at most ", kMostSpeed));
    }
  }

  void Degrees(const std::string& path, double value) {
    if (value >= kLeastDegrees && value <= kMostDegrees) return;
    Wrong(path,
          absl::StrCat("is ", value, ": give degrees from ", kLeastDegrees, " to ", kMostDegrees));
  }

  void Products() {
    std::map<std::string, std::string> ids;
    for (int i = 0; i < settings_.cleaning_products_size(); ++i) {
      const v1::CleaningProduct& product = settings_.cleaning_products(i);
      const std::string path = At("cleaning_products", i);
      Id(path + ".id", product.id(), &ids);
      if (product.contact_time_s() < 1 || product.contact_time_s() > kMostContactTime) {
        Wrong(path + ".contact_time_s", absl::StrCat("is ", product.contact_time_s(),
                                                     ": give the contact time on the label, 1 to ",
                                                     kMostContactTime, " seconds"));
      }
    }
  }

  void Checklists() {
    std::map<std::string, std::string> ids;
    for (int i = 0; i < settings_.checklists_size(); ++i) {
      const v1::Checklist& list = settings_.checklists(i);
      const std::string path = At("checklists", i);
      Id(path + ".id", list.id(), &ids);
      Name(path + ".version", list.version());
      if (list.items().empty()) {
        Wrong(path + ".items", "is empty: a unit would pass with nothing checked, so give items");
      }
      std::map<std::string, std::string> items;
      for (int k = 0; k < list.items_size(); ++k) {
        Item(absl::StrCat(path, ".", At("items", k)), list.items(k), &items);
      }
    }
  }

  void Item(const std::string& path, const v1::ChecklistItem& item,
            std::map<std::string, std::string>* seen) {
    Id(path + ".id", item.id(), seen);
    if (item.has_min()) Finite(path + ".min", item.min());
    if (item.has_max()) Finite(path + ".max", item.max());
    if (item.has_min() && item.has_max() && item.min() > item.max()) {
      Wrong(path + ".max", absl::StrCat("is ", item.max(), ", less than min ", item.min(),
                                        ": no reading could pass"));
    }
  }

  void Plans() {
    std::map<std::string, std::string> ids;
    for (int i = 0; i < settings_.service_plans_size(); ++i) {
      const v1::ServicePlan& plan = settings_.service_plans(i);
      const std::string path = At("service_plans", i);
      Id(path + ".id", plan.id(), &ids);
      Interval(path + ".interval_days", plan.interval_days());
      Interval(path + ".interval_hours", plan.interval_hours());
      Interval(path + ".interval_turns", plan.interval_turns());
      if (plan.interval_days() == 0 && plan.interval_hours() == 0 && plan.interval_turns() == 0) {
        Wrong(path, "has no interval: give interval_days, interval_hours or interval_turns");
      }
    }
  }

  void Interval(const std::string& path, int value) {
    if (value >= 0 && value <= kMostInterval) return;
    Wrong(path, absl::StrCat("is ", value, ": give 0 for none, or 1 to ", kMostInterval));
  }

  void Policy() {
    std::set<int> seen;
    const v1::DuePolicy& policy = settings_.due_policy();
    Bases("due_policy.first_known", policy.first_known(), &seen);
    Bases("due_policy.else_earliest", policy.else_earliest(), &seen);
  }

  template <typename List>
  void Bases(const std::string& path, const List& bases, std::set<int>* seen) {
    for (int i = 0; i < bases.size(); ++i) {
      Enum(At(path, i), bases.Get(i), *v1::DueBasis_descriptor());
      if (!seen->insert(bases.Get(i)).second) {
        Wrong(At(path, i), "is given twice: a date stands in the due policy once");
      }
    }
  }

  void Currency() {
    const std::string& currency = settings_.currency();
    const bool right =
        currency.size() == 3 &&
        currency.find_first_not_of("ABCDEFGHIJKLMNOPQRSTUVWXYZ") == std::string::npos;
    if (currency.empty() || right) return;
    Wrong("currency", absl::StrCat("\"", currency,
                                   "\" is no currency: give three capital letters of ISO 4217, for "
                                   "instance \"EUR\""));
  }

  // GS1 company prefixes have 4 to 12 digits, and the greatest identifier of an asset 30
  // characters.
  void Tags() {
    const std::string& prefix = settings_.tags().gs1_company_prefix();
    const bool right = prefix.size() >= 4 && prefix.size() <= 12 &&
                       prefix.find_first_not_of("0123456789") == std::string::npos;
    if (prefix.empty() || right) return;
    Wrong("tags.gs1_company_prefix",
          absl::StrCat("\"", prefix, "\" is no GS1 company prefix: give its 4 to 12 digits"));
  }

  void Senders() {
    std::map<std::string, std::string> ids;
    std::map<std::pair<std::string, std::string>, std::string> systems;
    std::map<std::string, const v1::Sender*> issuers;
    for (int i = 0; i < settings_.senders_size(); ++i) {
      const v1::Sender& sender = settings_.senders(i);
      const std::string path = At("senders", i);
      Id(path + ".id", sender.id(), &ids);
      if (!sender.branch().empty()) {
        Reference(path + ".branch", sender.branch(), settings_.branches(), "branch");
      }
      if (!sender.time_zone().empty()) {
        if (const auto zone = time::Zone(sender.time_zone()); !zone.ok()) {
          Wrong(path + ".time_zone", std::string(zone.status().message()));
        }
      }
      if (!sender.order_prefix().empty() && !fact::IsValidId(sender.order_prefix())) {
        Wrong(path + ".order_prefix",
              absl::StrCat("\"", sender.order_prefix(),
                           "\" cannot begin an order's number: give letters, digits, dots, "
                           "underscores or hyphens, for instance \"E-\""));
      }
      OneSystemEach(path, sender, &systems);
      OneCountEach(path, sender, &issuers);
      Codes(path, sender);
      Files(path, sender);
    }
  }

  // A message must belong to one sender.
  void OneSystemEach(const std::string& path, const v1::Sender& sender,
                     std::map<std::pair<std::string, std::string>, std::string>* systems) {
    if (sender.hl7_application().empty()) return;
    const auto [first, is_new] =
        systems->try_emplace({sender.hl7_application(), sender.hl7_facility()}, path);
    if (is_new) return;
    Wrong(path + ".hl7_application",
          absl::StrCat("with this hl7_facility is given already at ", first->second,
                       ": its messages could not be told apart"));
  }

  // Versions of one order are compared over all its channels.
  void OneCountEach(const std::string& path, const v1::Sender& sender,
                    std::map<std::string, const v1::Sender*>* issuers) {
    const auto counts = [](const v1::Sender& s) {
      return s.version_from() == v1::VERSION_SOURCE_COUNT;
    };
    const std::string issuer = sender.issuer().empty() ? sender.id() : sender.issuer();
    const auto [first, is_new] = issuers->try_emplace(issuer, &sender);
    if (is_new || counts(*first->second) == counts(sender)) return;
    Wrong(path + ".version_from",
          absl::StrCat("differs from that of \"", first->second->id(), "\", of the same issuer \"",
                       issuer, "\": versions by time and by count cannot be compared"));
  }

  void Codes(const std::string& path, const v1::Sender& sender) {
    std::map<std::pair<std::string, std::string>, std::string> seen;
    for (int i = 0; i < sender.codes_size(); ++i) {
      const v1::CodeMapping& code = sender.codes(i);
      const std::string at = absl::StrCat(path, ".", At("codes", i));
      if (code.code().empty()) Wrong(at + ".code", "is missing: give the code as it is sent");
      const auto [first, is_new] = seen.try_emplace({code.system(), code.code()}, at);
      if (!is_new) {
        Wrong(at + ".code", absl::StrCat("\"", code.code(), "\" is given already at ",
                                         first->second, ": a code means one thing"));
      }
      if (!code.device_class().empty()) {
        Reference(at + ".device_class", code.device_class(), settings_.device_classes(),
                  "class of device");
      }
      if (code.device_class().empty() && code.side() == v1::SIDE_UNSPECIFIED &&
          code.item() == v1::INTAKE_ITEM_UNSPECIFIED && code.procedure().empty()) {
        Wrong(at, "means nothing: give device_class, side, procedure or item");
      }
    }
  }

  void Files(const std::string& path, const v1::Sender& sender) {
    std::map<std::string, std::string> ids;
    for (int i = 0; i < sender.csv_size(); ++i) {
      const v1::CsvMapping& csv = sender.csv(i);
      const std::string at = absl::StrCat(path, ".", At("csv", i));
      Id(at + ".id", csv.id(), &ids);
      Enum(at + ".kind", csv.kind(), *v1::ImportKind_descriptor());
      if (csv.columns().empty()) Wrong(at + ".columns", "is empty: say which column fills what");
      if (csv.delimiter().size() > 1 || csv.delimiter() == "\"") {
        Wrong(at + ".delimiter", "is no delimiter: give one character, for instance \";\"");
      }
      std::set<std::string> fields;
      for (int k = 0; k < csv.columns_size(); ++k) {
        const std::string column = absl::StrCat(at, ".", At("columns", k));
        if (csv.columns(k).column().empty()) Wrong(column + ".column", "is missing: give its name");
        if (csv.columns(k).field().empty()) {
          Wrong(column + ".field", "is missing: give the field that it fills");
        } else if (!fields.insert(csv.columns(k).field()).second) {
          Wrong(column + ".field", absl::StrCat("\"", csv.columns(k).field(),
                                                "\" is filled already: name each field once"));
        }
      }
    }
  }

  void Stores() {
    std::map<std::string, std::string> ids;
    for (int i = 0; i < settings_.stock_items_size(); ++i) {
      const v1::StockItem& item = settings_.stock_items(i);
      const std::string path = At("stock_items", i);
      Id(path + ".id", item.id(), &ids);
      Interval(path + ".lead_time_days", item.lead_time_days());
      Interval(path + ".review_days", item.review_days());
      Interval(path + ".package_piece_count", item.package_piece_count());
      const int percent = item.service_percent();
      if (percent != 0 && (percent < 50 || percent > 99)) {
        Wrong(path + ".service_percent",
              absl::StrCat("is ", percent, ": give 50 to 99, or 0 for 95"));
      }
    }
    for (int i = 0; i < settings_.par_levels_size(); ++i) {
      Par(At("par_levels", i), settings_.par_levels(i));
    }
    Interval("transfer_alarm_hours", settings_.transfer_alarm_hours());
    Interval("usage_window_days", settings_.usage_window_days());
  }

  void Par(const std::string& path, const v1::ParLevel& par) {
    bool known = false;
    for (const v1::Branch& branch : settings_.branches()) {
      for (const v1::Place& place : branch.places()) known = known || place.id() == par.place();
    }
    if (!known) {
      Wrong(path + ".place", absl::StrCat("there is no place \"", par.place(),
                                          "\" in these settings: add it or correct the name"));
    }
    if (par.item().empty() == par.device_class().empty()) {
      Wrong(path + ".item", "and device_class: give one of the two");
    } else if (par.item().empty()) {
      Reference(path + ".device_class", par.device_class(), settings_.device_classes(),
                "class of device");
    } else {
      Reference(path + ".item", par.item(), settings_.stock_items(), "item of the stores");
    }
    if (par.par_count() < 1 || par.par_count() > kMostInterval) {
      Wrong(path + ".par_count",
            absl::StrCat("is ", par.par_count(), ": give 1 to ", kMostInterval));
    }
  }

  const v1::Settings& settings_;
  std::vector<SettingsError> errors_;
};

}  // namespace

std::vector<SettingsError> ValidateSettings(const v1::Settings& settings) {
  std::vector<SettingsError> errors = Check(settings).Run();
  CheckCover(settings, &errors);
  CheckRetention(settings, &errors);
  return errors;
}

}  // namespace ferrule::depot
