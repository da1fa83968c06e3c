#include "core/label/gs1.h"

#include <algorithm>

#include "absl/status/status.h"
#include "absl/strings/str_cat.h"
#include "absl/strings/str_split.h"
#include "core/label/check_characters.h"
#include "core/label/date.h"
#include "core/label/gs1_table.h"

namespace ferrule::label {
namespace {

constexpr char kAgain[] = "scan it again, or type the number below the code";

absl::Status Wrong(const Identifier& identifier, std::string_view code, std::string_view value,
                   const std::string& what) {
  return absl::InvalidArgumentError(absl::StrCat(
      std::string(identifier.title), " (", std::string(code), ") ",
      value.empty() ? "" : absl::StrCat("\"", std::string(value), "\" "), what, ": ", kAgain));
}

// "N14" in words: "exactly 14 digits".
std::string Lengths(const Identifier& identifier) {
  int least = 0;
  int most = 0;
  for (const Component& c : identifier.components) {
    least += c.min;
    most += c.max;
  }
  const char* what = identifier.components[1].max == 0 && identifier.components[0].set == 'N'
                         ? " digits"
                         : " characters";
  if (least == most) return absl::StrCat("exactly ", most, what);
  return absl::StrCat(least, " to ", most, what);
}

class Reader {
 public:
  Reader(const Identifier& identifier, std::string_view code, std::string_view value, int year)
      : identifier_(identifier), code_(code), value_(value), year_(year) {}

  absl::StatusOr<Element> Read() {
    element_ = {std::string(code_), std::string(identifier_.title), std::string(value_), {}, false};
    if (value_.empty()) return Fail("is empty");
    std::string_view rest = value_;
    for (const Component& component : identifier_.components) {
      if (component.max == 0) break;
      const std::string_view part = rest.substr(0, component.max);
      rest.remove_prefix(part.size());
      if (part.empty() && component.min == 0) break;
      if (part.size() < static_cast<size_t>(component.min)) return WrongLength();
      if (!InSet(component.set, part)) {
        return Fail(component.set == 'N' ? "has something else than digits"
                                         : "has a character that these codes do not know");
      }
      if (absl::Status checked = Check(component, part); !checked.ok()) return checked;
    }
    if (!rest.empty()) return WrongLength();
    return std::move(element_);
  }

 private:
  absl::Status Fail(const std::string& what) { return Wrong(identifier_, code_, value_, what); }
  absl::Status WrongLength() {
    return Fail(absl::StrCat("has ", value_.size(), ", not ", Lengths(identifier_)));
  }

  absl::Status Check(const Component& component, std::string_view part) {
    switch (component.lint) {
      case Lint::kNone:
        return absl::OkStatus();
      case Lint::kZeroAndCheckDigit:
        return part[0] == '0' ? CheckDigit(part) : Fail("does not begin with 0");
      case Lint::kCheckDigit:
        return CheckDigit(part);
      case Lint::kKey:
        if (part.size() >= 4 && IsDigits(part.substr(0, 4))) return absl::OkStatus();
        return Fail("does not begin with the digits of a company prefix");
      case Lint::kModelPair:
        return CheckPair(part);
      case Lint::kDate:
      case Lint::kDateOrMonth:
        return CheckDate(part, component.lint == Lint::kDateOrMonth);
      case Lint::kHourMinute:
        if (part.substr(0, 2) <= "23" && part.substr(2) <= "59") return absl::OkStatus();
        return Fail("has no such time of day");
      case Lint::kPieceOfTotal:
        if (part.substr(0, 2) > "00" && part.substr(0, 2) <= part.substr(2)) {
          return absl::OkStatus();
        }
        return Fail("says no piece out of a total");
    }
    return absl::OkStatus();
  }

  absl::Status CheckDigit(std::string_view part) {
    const char right = *Mod10(part.substr(0, part.size() - 1));
    if (part.back() == right) return absl::OkStatus();
    return Fail(absl::StrCat("has a wrong check digit, ", std::string(1, part.back()),
                             " instead of ", std::string(1, right)));
  }

  absl::Status CheckPair(std::string_view part) {
    if (part.size() < 6 || !IsDigits(part.substr(0, 4))) {
      return Fail("does not begin with the digits of a company prefix");
    }
    const auto right = ModelNumberPair(part.substr(0, part.size() - 2));
    if (right.has_value() && part.substr(part.size() - 2) == *right) return absl::OkStatus();
    return Fail("has wrong check characters at its end");
  }

  absl::Status CheckDate(std::string_view part, bool may_lack_day) {
    const std::optional<LabelDate> date = ReadYymmdd(part, year_, may_lack_day);
    if (!date.has_value()) return Fail("is no day of the calendar (year, month, day)");
    element_.date = date->day;
    element_.whole_month = date->whole_month;
    return absl::OkStatus();
  }

  const Identifier& identifier_;
  std::string_view code_;
  std::string_view value_;
  int year_;
  Element element_;
};

absl::Status UnknownIdentifier(std::string_view text) {
  return absl::InvalidArgumentError(
      absl::StrCat("\"", std::string(text.substr(0, 4)),
                   "\" begins with no GS1 application identifier that is read here, so nobody can "
                   "say where its value ends: ",
                   kAgain));
}

bool Contains(std::string_view list, std::string_view code) {
  for (const auto& one : absl::StrSplit(std::string(list), ' ', absl::SkipEmpty())) {
    if (std::string_view(one.data(), one.size()) == code) return true;
  }
  return false;
}

bool HasAny(const std::vector<Element>& elements, std::string_view list) {
  return std::any_of(elements.begin(), elements.end(),
                     [list](const Element& e) { return Contains(list, e.code); });
}

// Whether one of each group is there.
bool HasCompanions(const std::vector<Element>& elements, std::string_view groups) {
  for (const std::string& group :
       std::vector<std::string>(absl::StrSplit(std::string(groups), ',', absl::SkipEmpty()))) {
    if (!HasAny(elements, group)) return false;
  }
  return true;
}

// The text up to the next bracket, with escapes taken away.
std::string BracketedValue(std::string_view text, size_t* at) {
  std::string value;
  while (*at < text.size() && text[*at] != '(') {
    if (text[*at] == '\\' && *at + 1 < text.size() && text[*at + 1] == '(') ++*at;
    value += text[(*at)++];
  }
  return value;
}

absl::Status NotBracketed(std::string_view text) {
  return absl::InvalidArgumentError(
      absl::StrCat("\"", std::string(text.substr(0, 24)),
                   "\" is not an identifier in brackets with its value behind it, as in "
                   "(01)12345678901231: ",
                   kAgain));
}

}  // namespace

absl::StatusOr<Element> ParseElement(std::string_view code, std::string_view value, int year) {
  const Identifier* identifier = FindIdentifier(code);
  if (identifier == nullptr || identifier->code.size() != code.size()) {
    return UnknownIdentifier(code);
  }
  return Reader(*identifier, code, value, year).Read();
}

absl::StatusOr<std::vector<Element>> ParseElements(std::string_view data, int year) {
  if (!data.empty() && data.front() == kSeparator) data.remove_prefix(1);
  if (data.empty()) {
    return absl::InvalidArgumentError(absl::StrCat("the code is empty: ", kAgain));
  }
  std::vector<Element> elements;
  while (!data.empty()) {
    const Identifier* identifier = FindIdentifier(data);
    if (identifier == nullptr) return UnknownIdentifier(data);
    const std::string_view code = data.substr(0, identifier->code.size());
    data.remove_prefix(code.size());
    size_t length = std::min(data.find(kSeparator), data.size());
    if (HasPredefinedLength(code)) {
      length = std::min(length, static_cast<size_t>(identifier->components[0].max));
    }
    absl::StatusOr<Element> element =
        Reader(*identifier, code, data.substr(0, length), year).Read();
    if (!element.ok()) return element.status();
    elements.push_back(*std::move(element));
    data.remove_prefix(length);
    if (!data.empty() && data.front() == kSeparator) data.remove_prefix(1);
  }
  return elements;
}

absl::StatusOr<std::vector<Element>> ParseBracketed(std::string_view text, int year) {
  std::vector<Element> elements;
  size_t at = 0;
  if (text.empty()) return NotBracketed(text);
  while (at < text.size()) {
    const size_t close = text.find(')', at);
    if (text[at] != '(' || close == std::string_view::npos) return NotBracketed(text.substr(at));
    const std::string_view code = text.substr(at + 1, close - at - 1);
    if (code.size() < 2 || code.size() > 4 || !IsDigits(code)) {
      return NotBracketed(text.substr(at));
    }
    at = close + 1;
    const std::string value = BracketedValue(text, &at);
    absl::StatusOr<Element> element = ParseElement(code, value, year);
    if (!element.ok()) return element.status();
    elements.push_back(*std::move(element));
  }
  return elements;
}

absl::StatusOr<std::vector<std::string>> CompanionRemarks(const std::vector<Element>& elements) {
  std::vector<std::string> remarks;
  for (size_t i = 0; i < elements.size(); ++i) {
    const Element& element = elements[i];
    const Identifier* identifier = FindIdentifier(element.code);
    for (size_t k = 0; k < i; ++k) {
      if (elements[k].code != element.code || elements[k].value == element.value) continue;
      return absl::InvalidArgumentError(absl::StrCat(element.title, " (", element.code,
                                                     ") stands there twice, \"", elements[k].value,
                                                     "\" and \"", element.value, "\": ", kAgain));
    }
    if (identifier == nullptr) continue;
    if (!HasCompanions(elements, identifier->with)) {
      remarks.push_back(absl::StrCat("The ", element.title, " (", element.code,
                                     ") belongs to an item number that this code does not have: "
                                     "scan the label's other code too."));
    }
    if (HasAny(elements, identifier->never_with)) {
      remarks.push_back(absl::StrCat("The ", element.title, " (", element.code,
                                     ") never stands with another of these elements: the label is "
                                     "wrong, so type what it says below the code."));
    }
  }
  return remarks;
}

const Element* FindElement(const std::vector<Element>& elements, std::string_view code) {
  for (const Element& element : elements) {
    if (element.code == code) return &element;
  }
  return nullptr;
}

std::optional<std::string> Gtin14(std::string_view digits) {
  const size_t length = digits.size();
  if (length != 8 && length != 12 && length != 13 && length != 14) return std::nullopt;
  if (Mod10(digits.substr(0, length - 1)) != digits.back()) return std::nullopt;
  return std::string(14 - length, '0') + std::string(digits);
}

}  // namespace ferrule::label
