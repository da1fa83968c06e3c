#include "core/exchange/fhir_check.h"

#include <algorithm>
#include <array>
#include <string>

#include "absl/time/civil_time.h"
#include "core/exchange/fhir_table.h"
#include "core/exchange/news.h"
#include "core/exchange/text.h"

namespace ferrule::exchange {
namespace {

constexpr size_t kMostTroubles = 50;
constexpr std::array<std::string_view, 10> kResources = {
    "DeviceRequest", "ServiceRequest", "DeviceUseStatement", "SupplyDelivery", "SupplyRequest",
    "Device",        "Procedure",      "Coverage",           "Task",           "Patient"};
// What every resource, and every element, may have besides.
constexpr std::array<std::string_view, 8> kOfResources = {
    "resourceType", "id", "meta", "implicitRules", "language", "text", "contained", "extension"};
constexpr std::array<std::string_view, 3> kOfElements = {"id", "extension", "modifierExtension"};

bool IsComplex(std::string_view type) { return !type.empty() && IsUpper(type[0]); }

int Number(std::string_view digits) {
  int value = 0;
  for (const char c : digits) {
    if (c < '0' || c > '9') return -1;
    value = value * 10 + (c - '0');
  }
  return digits.empty() ? -1 : value;
}

// "08:30:00", with a fraction.
bool IsTime(std::string_view text) {
  if (text.size() < 8 || text[2] != ':' || text[5] != ':') return false;
  const int hour = Number(text.substr(0, 2));
  const int minute = Number(text.substr(3, 2));
  const int second = Number(text.substr(6, 2));
  if (hour < 0 || hour > 23 || minute < 0 || minute > 59 || second < 0 || second > 60) return false;
  if (text.size() == 8) return true;
  return text[8] == '.' && Number(text.substr(9)) >= 0 && text.size() < 20;
}

bool IsOffset(std::string_view text) {
  if (text == "Z") return true;
  if (text.size() != 6 || (text[0] != '+' && text[0] != '-') || text[3] != ':') return false;
  const int hour = Number(text.substr(1, 2));
  const int minute = Number(text.substr(4, 2));
  return minute >= 0 && minute <= 59 && hour >= 0 && hour * 60 + minute <= 14 * 60;
}

bool IsBase64(std::string_view text) {
  size_t signs = 0;
  for (const char c : text) {
    if (IsBlank(c)) continue;
    ++signs;
    const bool good = IsAlphanumeric(c) || c == '+' || c == '/' || c == '=';
    if (!good) return false;
  }
  return signs % 4 == 0;
}

bool IsId(std::string_view text) {
  return !text.empty() && text.size() <= 64 && std::all_of(text.begin(), text.end(), [](char c) {
    return IsAlphanumeric(c) || c == '-' || c == '.';
  });
}

// What is wrong with a primitive value; empty when nothing.
std::string_view WrongPrimitive(std::string_view type, const Json& value) {
  if (type == "boolean") return value.is_boolean() ? "" : "is not true or false";
  if (type == "decimal") return value.is_number() ? "" : "is not a number";
  if (type == "integer" || type == "positiveInt" || type == "unsignedInt") {
    if (!value.is_number_integer()) return "is not a whole number";
    const int64_t least = type == "positiveInt" ? 1 : type == "unsignedInt" ? 0 : INT32_MIN;
    const bool big = value.is_number_unsigned() && value.get<uint64_t>() > INT32_MAX;
    if (big || value.get<int64_t>() < least || value.get<int64_t>() > INT32_MAX) {
      return "is out of range";
    }
    return "";
  }
  if (!value.is_string()) return "is not a text";
  const std::string& text = value.get_ref<const std::string&>();
  if (text.empty()) return "is empty";
  if (type == "date" && !IsFhirDate(text, false)) return "is no day of the calendar";
  if (type == "dateTime" && !IsFhirDate(text, true)) {
    return "is no day of the calendar, or its time has no offset";
  }
  if (type == "instant" && (text.size() < 20 || !IsFhirDate(text, true))) {
    return "is no instant with date, time and offset";
  }
  if (type == "time" && !IsTime(text)) return "is no time of day";
  if (type == "base64Binary" && !IsBase64(text)) return "is not base64";
  if (type == "id" && !IsId(text)) return "is no id";
  const bool is_code = type == "code" || type == "uri" || type == "url" || type == "canonical";
  if (is_code && (IsBlank(text.front()) || IsBlank(text.back()))) {
    return "begins or ends with a blank";
  }
  return "";
}

// The rows of an element's children: those one level below a path.
std::vector<const FhirElement*> ChildrenOf(std::string_view path) {
  std::vector<const FhirElement*> out;
  for (const FhirElement& e : FhirElements()) {
    if (Begins(e.path, path) && e.path.size() > path.size() && e.path[path.size()] == '.' &&
        e.path.find('.', path.size() + 1) == std::string_view::npos) {
      out.push_back(&e);
    }
  }
  return out;
}

bool IsNamed(std::string_view name, std::span<const std::string_view> names) {
  return std::find(names.begin(), names.end(), name) != names.end();
}

class Checker {
 public:
  explicit Checker(std::vector<v1::Trouble>* out) : out_(*out) {}

  void Resource(const Json& resource, const std::string& where) {
    const std::string& type = resource["resourceType"].get_ref<const std::string&>();
    Object(resource, type, where, true);
    if (!resource.contains("contained")) return;
    const Json& contained = resource["contained"];
    if (!contained.is_array()) return Wrong(where + ".contained", "is not a list");
    for (const Json& one : contained) {
      if (!one.is_object() || !one.contains("resourceType") || !one["resourceType"].is_string()) {
        Wrong(where + ".contained", "holds something that is no resource");
      }
    }
  }

 private:
  void Wrong(const std::string& where, std::string_view text,
             v1::TroubleKind kind = v1::TROUBLE_KIND_FIELD_INVALID, std::string_view found = "") {
    if (out_.size() >= kMostTroubles) return;
    out_.push_back(TroubleAt(kind, where, text, "correct it and send the resource again", found));
  }

  void Object(const Json& object, std::string_view path, const std::string& where, bool resource) {
    const auto children = ChildrenOf(path);
    std::vector<std::string_view> seen;
    for (const auto& [key, value] : object.items()) {
      Property(key, value, children, where, resource, &seen);
    }
    for (const FhirElement* e : children) {
      const std::string name(e->path.substr(path.size() + 1));
      const auto count = std::count(seen.begin(), seen.end(), e->path);
      if (count < e->min) {
        Wrong(Cat(where, ".", name), "is missing", v1::TROUBLE_KIND_FIELD_MISSING);
      }
      if (count > 1) {
        Wrong(Cat(where, ".", name), "is given in more than one form: give exactly one");
      }
    }
  }

  void Property(const std::string& key, const Json& value,
                const std::vector<const FhirElement*>& children, const std::string& where,
                bool resource, std::vector<std::string_view>* seen) {
    const std::string at = Cat(where, ".", key);
    if (resource && IsNamed(key, kOfResources)) return;
    if (IsNamed(key, kOfElements)) return;
    const bool shadow = key[0] == '_';  // the extensions of a primitive value
    const std::string_view name = shadow ? std::string_view(key).substr(1) : std::string_view(key);
    std::string type;
    const FhirElement* element = Match(name, children, &type);
    if (element == nullptr) return Wrong(at, "is no element of this resource");
    if (shadow) return;
    seen->push_back(element->path);
    if (value.is_null()) return Wrong(at, "is null");
    if (value.is_array() != (element->max == FhirElement::kMany)) {
      return Wrong(at, value.is_array() ? "is a list where one is allowed" : "is not a list");
    }
    if (!value.is_array()) return Value(*element, type, value, at);
    if (value.empty()) return Wrong(at, "is an empty list");
    for (size_t i = 0; i < value.size(); ++i) {
      if (value[i].is_null()) continue;  // its extensions alone are given
      Value(*element, type, value[i], Cat(at, "[", i, "]"));
    }
  }

  // "occurrence[x]" is written "occurrencePeriod": the name gives the type.
  static const FhirElement* Match(std::string_view name,
                                  const std::vector<const FhirElement*>& children,
                                  std::string* type) {
    for (const FhirElement* e : children) {
      const std::string_view own = e->path.substr(e->path.rfind('.') + 1);
      if (own == name) {
        *type = std::string(e->types);
        return e;
      }
      if (!Ends(own, "[x]")) continue;
      const std::string_view stem = own.substr(0, own.size() - 3);
      if (!Begins(name, stem) || name.size() == stem.size()) continue;
      const std::string_view rest = name.substr(stem.size());
      if (!IsUpper(rest[0])) continue;
      if (e->types == "*") return *type = std::string(rest), e;
      for (std::string_view one : Split(e->types, '|')) {
        std::string capital(one.substr(0, one.find('(')));
        capital[0] = Upper(capital[0]);
        if (capital == rest) return *type = std::string(one), e;
      }
    }
    return nullptr;
  }

  void Value(const FhirElement& element, std::string_view type, const Json& value,
             const std::string& at) {
    if (type.empty()) return;
    if (type[0] == '@') return Nested(value, type.substr(1), at);
    if (type == "BackboneElement" || type == "Element") return Nested(value, element.path, at);
    if (Begins(type, "Reference")) return Reference(type, value, at);
    if (IsComplex(type)) {
      // An "any" type is named by its capital even when it is primitive.
      if (element.types == "*" && !value.is_object()) return;
      return Nested(value, type, at);
    }
    const std::string_view wrong = WrongPrimitive(type, value);
    if (!wrong.empty()) return Wrong(at, wrong);
    if (element.codes.empty()) return;
    const std::string& code = value.get_ref<const std::string&>();
    for (std::string_view allowed : Split(element.codes, ' ')) {
      if (allowed == code) return;
    }
    Wrong(at, "is a code outside of the binding code system", v1::TROUBLE_KIND_FIELD_INVALID, code);
  }

  void Nested(const Json& value, std::string_view path, const std::string& at) {
    if (!value.is_object()) return Wrong(at, "is not an object");
    if (value.empty()) return Wrong(at, "is empty");
    if (ChildrenOf(path).empty()) return;  // a type outside of the table
    Object(value, path, at, false);
  }

  void Reference(std::string_view type, const Json& value, const std::string& at) {
    Nested(value, "Reference", at);
    if (!value.is_object() || !value.contains("reference") || !value["reference"].is_string()) {
      return;
    }
    const std::string& target = value["reference"].get_ref<const std::string&>();
    if (target[0] == '#' || Begins(target, "urn:")) return;
    const size_t open = type.find('(');
    if (open == std::string_view::npos) return;
    const std::string_view names = type.substr(open + 1, type.size() - open - 2);
    std::vector<std::string_view> parts = Split(target, '/');
    const auto history = std::find(parts.begin(), parts.end(), "_history");
    parts.erase(history, parts.end());
    if (parts.size() < 2 || names == "Resource") return;
    const std::string_view named = parts[parts.size() - 2];
    // Only what looks like a type can be of the wrong one.
    if (named.empty() || !IsUpper(named[0])) return;
    for (std::string_view allowed : Split(names, ',')) {
      if (allowed == named) return;
    }
    Wrong(at,
          Cat("refers to a kind of resource that does not belong there; allowed are ",
              std::string(names)),
          v1::TROUBLE_KIND_FIELD_INVALID, named);
  }

  std::vector<v1::Trouble>& out_;
};

}  // namespace

Json ParseJson(std::string_view bytes) {
  int most = 0;
  const auto watch = [&most](int depth, Json::parse_event_t, Json&) {
    most = std::max(most, depth);
    return depth <= kMostJsonDepth;
  };
  Json json = Json::parse(bytes.begin(), bytes.end(), watch, false);
  return most > kMostJsonDepth ? Json(Json::value_t::discarded) : json;
}

bool IsKnownResource(std::string_view type) { return IsNamed(type, kResources); }

std::vector<v1::Trouble> CheckFhir(const Json& resource, std::string_view where) {
  std::vector<v1::Trouble> out;
  if (!resource.is_object() || !resource.contains("resourceType") ||
      !resource["resourceType"].is_string()) {
    out.push_back(TroubleAt(v1::TROUBLE_KIND_NOT_READABLE, where, "is no FHIR resource",
                            "send a JSON object with resourceType"));
    return out;
  }
  Checker(&out).Resource(resource, std::string(where));
  return out;
}

bool IsFhirDate(std::string_view text, bool time_allowed) {
  const std::string_view date = text.substr(0, text.find('T'));
  const int year = Number(date.substr(0, 4));
  if (date.size() < 4 || year < 1) return false;
  if (date.size() == 4) return text.size() == 4;
  if (date.size() < 7 || date[4] != '-') return false;
  const int month = Number(date.substr(5, 2));
  if (month < 1 || month > 12) return false;
  if (date.size() == 7) return text.size() == 7;
  if (date.size() != 10 || date[7] != '-') return false;
  const int day = Number(date.substr(8, 2));
  const absl::CivilDay civil(year, month, day);
  if (day < 1 || civil.month() != month || civil.day() != day) return false;
  if (text.size() == 10) return true;
  if (!time_allowed) return false;
  const std::string_view rest = text.substr(11);
  const size_t sign = rest.find_first_of("Z+-");
  return sign != std::string_view::npos && IsTime(rest.substr(0, sign)) &&
         IsOffset(rest.substr(sign));
}

}  // namespace ferrule::exchange
