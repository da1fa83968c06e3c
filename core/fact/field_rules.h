// What each field of an entry may hold, as one table: the words of proto/ferrule/v1/facts.proto in
// a form that can be checked.
#pragma once

#include <cstdint>
#include <limits>
#include <string_view>

namespace ferrule::fact {

// Limits that hold for every field of their kind.
inline constexpr int kMostFacts = 100;   // in an entry
inline constexpr int kMostInList = 200;  // in any other list
inline constexpr int kMostPrecautions = 6;
inline constexpr int kLongestText = 2000;  // characters of a text without a limit of its own
inline constexpr int kFirstYear = 1900;    // of days and instants
inline constexpr int kLastYear = 9999;
// Seconds and amounts end where sums over a unit's life still cannot overflow.
inline constexpr double kMostSeconds = 1e10;
inline constexpr double kMostMinor = 1e15;

enum class Form {
  kText,         // any words
  kId,           // a bare id
  kSubjectName,  // a full name
};

struct FieldRule {
  std::string_view message;  // "HandedOver"
  std::string_view field;    // "unit"
  bool required = false;
  Form form = Form::kText;
  int longest = kLongestText;  // characters
  double least = -std::numeric_limits<double>::infinity();
  double most = std::numeric_limits<double>::infinity();
  bool above_least = false;  // `least` itself is not allowed
};

// The rule of one field; a field without a row of its own may be absent, and its text may have
// kLongestText characters.
const FieldRule& RuleOf(std::string_view message, std::string_view field);

}  // namespace ferrule::fact
