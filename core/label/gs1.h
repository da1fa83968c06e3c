// GS1 element strings: with separators as a scanner sends them, or with brackets as people read
// them. The two are kept apart, for a bracket may be data in the first.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "absl/status/statusor.h"
#include "absl/time/civil_time.h"

namespace ferrule::label {

// Group separator: stands where the code has its function character 1 (FNC1).
inline constexpr char kSeparator = '\x1d';

struct Element {
  std::string code;   // "01"
  std::string title;  // "trade item number (GTIN)"
  std::string value;
  std::optional<absl::CivilDay> date;  // of a date, the day that it means
  bool whole_month = false;            // the date had day 00, and `date` is the month's last day
};

// Elements as a scanner sends them, one separator before them and after the last one allowed:
// "01" then 14 digits, "10", the lot, U+001D, ... InvalidArgument says which element is wrong, how,
// and what to do. `year` is the present one, for the century of two-digit years.
absl::StatusOr<std::vector<Element>> ParseElements(std::string_view data, int year);

// "(01)51022222233336(10)A213B1"; "\(" is a bracket that is data. The same errors.
absl::StatusOr<std::vector<Element>> ParseBracketed(std::string_view text, int year);

// One value under its identifier, checked.
absl::StatusOr<Element> ParseElement(std::string_view code, std::string_view value, int year);

// Sentences about elements that do not go together: a companion that is missing, two that exclude
// one another. Every code may be right where a label spreads over several. InvalidArgument when an
// element stands there twice with different values.
absl::StatusOr<std::vector<std::string>> CompanionRemarks(const std::vector<Element>& elements);

// The element with that code; null when there is none.
const Element* FindElement(const std::vector<Element>& elements, std::string_view code);

// A trade item number of 8, 12, 13 or 14 digits as 14; nothing when it has another length or a
// wrong check digit.
std::optional<std::string> Gtin14(std::string_view digits);

}  // namespace ferrule::label
