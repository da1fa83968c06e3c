// A line about a fact: a subject, and details set off by commas. Inside core/fact.
#pragma once

#include <algorithm>
#include <cstdint>
#include <string>
#include <string_view>
#include <utility>

#include "absl/strings/str_cat.h"
#include "core/fact/counted.h"
#include "core/fact/words.h"
#include "core/time/civil.h"
#include "google/protobuf/repeated_field.h"
#include "google/type/date.pb.h"

namespace ferrule::fact {

inline constexpr size_t kLongestQuote = 120;  // bytes of a free text within a line

// A free text as part of a line: no line breaks, cut between characters.
inline std::string Quote(std::string_view text) {
  std::string line(text.substr(0, kLongestQuote));
  if (text.size() > kLongestQuote) {
    size_t end = kLongestQuote;
    while (end > 0 && (static_cast<unsigned char>(text[end]) & 0xC0) == 0x80) --end;
    line = absl::StrCat(std::string(text.substr(0, end)), "...");
  }
  const auto breaks = [](char c) { return static_cast<unsigned char>(c) < 0x20; };
  std::replace_if(line.begin(), line.end(), breaks, ' ');
  return line;
}

// Builds a line out of a subject and details set off by commas.
class Line {
 public:
  explicit Line(std::string_view kind) : text_(kind) {}

  // " word value" when there is a value.
  Line& Word(std::string_view word, std::string_view value) {
    if (!value.empty()) absl::StrAppend(&text_, " ", std::string(word), Gap(word), Quote(value));
    return *this;
  }
  // ", word value" when there is a value; the first one after a colon.
  Line& Detail(std::string_view word, std::string_view value) {
    if (value.empty()) return *this;
    absl::StrAppend(&text_, details_++ == 0 ? ": " : ", ", std::string(word), Gap(word),
                    Quote(value));
    return *this;
  }
  Line& Count(int64_t count, std::string_view one, std::string_view many) {
    if (count == 0) return *this;
    return Detail("", Counted(count, one, many));
  }
  Line& Day(std::string_view word, bool known, const google::type::Date& day) {
    return Detail(word, known && time::IsValid(day) ? time::FormatDay(time::ToDay(day)) : "");
  }
  Line& Meter(bool known, int64_t seconds) {
    return Detail("meter", known ? HoursWords(seconds) : "");
  }
  Line& All(std::string_view word, const google::protobuf::RepeatedPtrField<std::string>& list) {
    std::string joined;
    for (const std::string& item : list) absl::StrAppend(&joined, joined.empty() ? "" : " ", item);
    return Detail(word, joined);
  }
  std::string Done() { return std::move(text_); }

 private:
  static const char* Gap(std::string_view word) { return word.empty() ? "" : " "; }

  std::string text_;
  int details_ = 0;
};

}  // namespace ferrule::fact
