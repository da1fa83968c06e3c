#include "core/label/hibc.h"

#include <algorithm>
#include <optional>

#include "absl/status/status.h"
#include "absl/strings/str_cat.h"
#include "absl/strings/str_split.h"
#include "core/label/check_characters.h"
#include "core/label/date.h"

namespace ferrule::label {
namespace {

constexpr size_t kLabelerLength = 4;
constexpr size_t kLongestProduct = 18;
constexpr size_t kLongestLot = 25;

bool IsUpperOrDigit(char c) { return (c >= '0' && c <= '9') || (c >= 'A' && c <= 'Z'); }

std::string_view Unstarred(std::string_view text) {
  if (text.size() >= 2 && text.front() == '*' && text.back() == '*') {
    return text.substr(1, text.size() - 2);
  }
  return text;
}

absl::Status Wrong(const std::string& what) {
  return absl::InvalidArgumentError(absl::StrCat(
      "the HIBC code ", what, ": scan it again, or type the serial number of the label"));
}

int Number(std::string_view digits) {
  int number = 0;
  for (char c : digits) number = number * 10 + (c - '0');
  return number;
}

struct DateForm {
  char flag;
  size_t length;        // digits behind the flag
  const char* pattern;  // Y, M, D, J (day of the year), H; one letter a digit
};
constexpr DateForm kDateForms[] = {
    {'2', 6, "MMDDYY"}, {'3', 6, "YYMMDD"},  {'4', 8, "YYMMDDHH"},
    {'5', 5, "YYJJJ"},  {'6', 7, "YYJJJHH"},
};

// The number that the digits at one letter of a pattern make; nothing when the letter is not there.
std::optional<int> Under(char letter, std::string_view pattern, std::string_view digits) {
  std::string found;
  for (size_t i = 0; i < pattern.size(); ++i) {
    if (pattern[i] == letter) found += digits[i];
  }
  if (found.empty()) return std::nullopt;
  return Number(found);
}

std::optional<absl::CivilDay> ReadDate(std::string_view pattern, std::string_view digits,
                                       int year) {
  if (Under('H', pattern, digits).value_or(0) > 23) return std::nullopt;
  const int full_year = FullYear(*Under('Y', pattern, digits), year);
  if (const auto ordinal = Under('J', pattern, digits)) return DayOfYear(full_year, *ordinal);
  const std::optional<int> month = Under('M', pattern, digits);
  const std::optional<int> day = Under('D', pattern, digits);
  if (day.has_value()) return DayOf(full_year, *month, *day);
  if (*month < 1 || *month > 12) return std::nullopt;
  return absl::CivilDay(absl::CivilMonth(full_year, *month) + 1) - 1;
}

class Reader {
 public:
  explicit Reader(int year) : year_(year) {}

  absl::StatusOr<HibcLabel> Read(std::string_view text) {
    text = Unstarred(text);
    if (text.size() < 4 || text.front() != '+') return Wrong("is too short");
    const std::optional<char> check = Mod43(text.substr(0, text.size() - 1));
    if (!check.has_value() || !Mod43(text.substr(text.size() - 1)).has_value()) {
      return Wrong("has a character that these codes do not know");
    }
    if (text.back() != *check) {
      return Wrong(absl::StrCat("has a wrong check character, ", std::string(1, text.back()),
                                " instead of ", std::string(1, *check)));
    }
    std::string_view body = text.substr(1, text.size() - 2);
    const absl::Status read = body.front() == '$' || (body.front() >= '0' && body.front() <= '9')
                                  ? Alone(body)
                                  : WithPrimary(body);
    if (!read.ok()) return read;
    return std::move(label_);
  }

 private:
  void Put(std::string_view code, std::string_view title, std::string_view value,
           std::optional<absl::CivilDay> date = std::nullopt, bool whole_month = false) {
    label_.elements.push_back(
        {std::string(code), std::string(title), std::string(value), date, whole_month});
  }

  // Secondary data in a code of its own: before the check character stands the primary's.
  absl::Status Alone(std::string_view body) {
    const char link = body.back();
    const std::vector<std::string> segments =
        absl::StrSplit(std::string(body.substr(0, body.size() - 1)), '/');
    if (absl::Status read = Secondary(segments[0]); !read.ok()) return read;
    if (absl::Status read = Supplements(segments); !read.ok()) return read;
    Put("link", "check character of the first code", std::string(1, link));
    return absl::OkStatus();
  }

  absl::Status WithPrimary(std::string_view body) {
    const std::vector<std::string> segments = absl::StrSplit(std::string(body), '/');
    const std::string& primary = segments[0];
    const bool letter_first = primary[0] >= 'A' && primary[0] <= 'Z';
    const bool right_length = primary.size() >= kLabelerLength + 2 &&
                              primary.size() <= kLabelerLength + kLongestProduct + 1;
    if (!letter_first || !right_length ||
        !std::all_of(primary.begin(), primary.end(), IsUpperOrDigit) ||
        !IsDigits(std::string_view(primary).substr(primary.size() - 1))) {
      return Wrong("does not name labeler, product and unit of measure");
    }
    label_.device_identifier = primary;
    Put("+", "device identifier", primary);
    if (segments.size() == 1) return absl::OkStatus();
    if (absl::Status read = Secondary(segments[1]); !read.ok()) return read;
    return Supplements({segments.begin() + 1, segments.end()});
  }

  // "$$420020216LOT1", "$LOT1", "20200LOT1", and with + before a serial number.
  absl::Status Secondary(std::string_view text) {
    if (text.size() >= 2 && text.substr(0, 2) == "$$") {
      text.remove_prefix(2);
      const bool serial = TakePlus(&text);
      if (absl::Status read = QuantityAndDate(&text); !read.ok()) return read;
      return LotOrSerial(serial ? "$$+" : "$$", serial, text);
    }
    if (!text.empty() && text.front() == '$') {
      text.remove_prefix(1);
      const bool serial = TakePlus(&text);
      return LotOrSerial(serial ? "$+" : "$", serial, text);
    }
    if (text.size() >= 5 && IsDigits(text.substr(0, 5))) {
      if (absl::Status read = Date({'5', 5, "YYJJJ"}, "", &text); !read.ok()) return read;
      return LotOrSerial("", false, text);
    }
    return Wrong("has secondary data that are not read here");
  }

  static bool TakePlus(std::string_view* text) {
    if (text->empty() || text->front() != '+') return false;
    text->remove_prefix(1);
    return true;
  }

  absl::Status QuantityAndDate(std::string_view* text) {
    if (!text->empty() && (text->front() == '8' || text->front() == '9')) {
      const size_t length = text->front() == '8' ? 2 : 5;
      const std::string_view pieces = text->substr(1, length);
      if (pieces.size() < length || !IsDigits(pieces)) return Wrong("has no number of pieces");
      Put(text->substr(0, 1), "pieces", pieces);
      text->remove_prefix(1 + length);
    }
    if (text->empty()) return absl::OkStatus();
    if (text->front() == '7') {
      text->remove_prefix(1);
      return absl::OkStatus();
    }
    if (text->front() == '0' || text->front() == '1') return Date({' ', 4, "MMYY"}, "$$", text);
    for (const DateForm& form : kDateForms) {
      if (form.flag != text->front()) continue;
      const std::string code = absl::StrCat("$$", std::string(1, form.flag));
      text->remove_prefix(1);
      return Date(form, code, text);
    }
    return Wrong("has a date in a form that is not read here");
  }

  absl::Status Date(const DateForm& form, std::string_view code, std::string_view* text) {
    const std::string_view digits = text->substr(0, form.length);
    if (digits.size() < form.length || !IsDigits(digits)) return Wrong("has a broken date");
    const auto day = ReadDate(form.pattern, digits, year_);
    if (!day.has_value()) {
      return Wrong(absl::StrCat("has the date ", std::string(digits), " (", form.pattern,
                                "), which the calendar does not have"));
    }
    Put(code, "use by", digits, day, std::string_view(form.pattern) == "MMYY");
    text->remove_prefix(form.length);
    return absl::OkStatus();
  }

  absl::Status LotOrSerial(std::string_view code, bool serial, std::string_view value) {
    if (value.empty()) return absl::OkStatus();
    if (value.size() > kLongestLot) return Wrong("has a lot or serial number that is too long");
    (serial ? label_.serial : label_.lot) = std::string(value);
    Put(code, serial ? "serial number" : "lot", value);
    return absl::OkStatus();
  }

  // What stands behind the further slashes.
  absl::Status Supplements(const std::vector<std::string>& segments) {
    for (size_t i = 1; i < segments.size(); ++i) {
      if (absl::Status read = Supplement(segments[i]); !read.ok()) return read;
    }
    return absl::OkStatus();
  }

  absl::Status Supplement(std::string_view text) {
    const bool made = text.substr(0, 3) == "16D";
    if (made || text.substr(0, 3) == "14D") {
      const std::string_view digits = text.substr(3);
      if (digits.size() != 8 || !IsDigits(digits)) return Wrong("has a broken date");
      const auto day =
          DayOf(Number(digits.substr(0, 4)), Number(digits.substr(4, 2)), Number(digits.substr(6)));
      if (!day.has_value()) return Wrong("has a date that the calendar does not have");
      Put(text.substr(0, 3), made ? "made on" : "use by", digits, day);
      return absl::OkStatus();
    }
    if (text.size() > 1 && text.front() == 'S') {
      return LotOrSerial("S", true, text.substr(1));
    }
    if (text.size() > 1 && text.front() == 'Q' && IsDigits(text.substr(1)) && text.size() <= 6) {
      Put("Q", "pieces", text.substr(1));
      return absl::OkStatus();
    }
    return Wrong(absl::StrCat("has \"", std::string(text), "\" in it, which is not read here"));
  }

  const int year_;
  HibcLabel label_;
};

}  // namespace

bool IsHibc(std::string_view text) {
  text = Unstarred(text);
  return text.size() >= 2 && text.front() == '+' && (text[1] == '$' || IsUpperOrDigit(text[1]));
}

absl::StatusOr<HibcLabel> ParseHibc(std::string_view text, int year) {
  return Reader(year).Read(text);
}

}  // namespace ferrule::label
