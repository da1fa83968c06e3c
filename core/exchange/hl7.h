// HL7 version 2 messages with delimiters: taken apart with whatever delimiters the message itself
// names, and put together again. Knows no message type.
//
// Source of the grammar: HL7 v2.5.1 chapter 2 as tabulated in the npm package hl7-dictionary 1.0.1
// (segments and fields), and the escape sequences as python3-hl7 0.4.5 reads them.
#pragma once

#include <cstddef>
#include <string>
#include <string_view>
#include <vector>

#include "absl/status/statusor.h"

namespace ferrule::exchange {

// The characters that MSH-1 and MSH-2 name. `escape` and `subcomponent` are 0 when the message
// names none.
struct Delimiters {
  char field = '|';
  char component = '^';
  char repetition = '~';
  char escape = '\\';
  char subcomponent = '&';

  // What MSH-2 holds.
  std::string Encoding() const;
};

using Hl7Component = std::vector<std::string>;    // subcomponents
using Hl7Repetition = std::vector<Hl7Component>;  // components
using Hl7Field = std::vector<Hl7Repetition>;      // repetitions

// The two quotes that say "take the value away"; an empty field says nothing.
inline constexpr std::string_view kHl7Delete = "\"\"";

class Hl7Segment {
 public:
  Hl7Segment() = default;
  Hl7Segment(std::string_view name, std::vector<Hl7Field> fields)
      : name_(name), fields_(std::move(fields)) {}

  const std::string& name() const { return name_; }
  // Field n counts from 1 as the standard does: MSH-1 is the separator itself.
  const Hl7Field& Field(size_t n) const;
  // The text of a component of a repetition, all from 1; empty when it is not there. Subcomponents
  // after the first are dropped, and so are blanks at the end: they are optional in a string, so
  // that a number sent with and without them is one number (HL7 v2.5.1 chapter 2A, ST; from
  // memory).
  std::string_view Get(size_t field, size_t component = 1, size_t repetition = 1) const;
  size_t Repetitions(size_t field) const { return Field(field).size(); }
  bool Empty(size_t field) const { return Get(field).empty() && Field(field).size() < 2; }
  // Puts plain text into a component; whatever it needs comes to be.
  void Set(size_t field, std::string_view text, size_t component = 1);

  const std::vector<Hl7Field>& fields() const { return fields_; }

 private:
  std::string name_;
  std::vector<Hl7Field> fields_;  // [0] is field 1
};

struct Hl7Message {
  Delimiters delimiters;
  std::vector<Hl7Segment> segments;  // the first is MSH

  const Hl7Segment& msh() const { return segments.front(); }
  // The first segment of that name; null when there is none.
  const Hl7Segment* Find(std::string_view name) const;
};

// Takes a message apart. Segments end with CR; LF and CR LF are taken, too, and empty lines
// skipped. InvalidArgument, in words without the message's content, when it does not begin with
// MSH, its delimiters are not five different signs, a segment has no name of three letters or
// digits, or there are more than `kMaxHl7Segments`, or more than `kMaxHl7Parts` in all of them:
// every separator makes a part, and a message of nothing else would take hundreds of times its
// size.
absl::StatusOr<Hl7Message> ParseHl7(std::string_view bytes);
inline constexpr size_t kMaxHl7Segments = 20'000;
inline constexpr size_t kMaxHl7Parts = 300'000;

// The message with CR after each segment.
std::string ComposeHl7(const Hl7Message& message);

// Plain text as it may stand in a message, and back. An escape sequence that means nothing here
// (highlighting, character sets, local ones) stays as it is; \Xhh..\ gives the bytes.
std::string EscapeHl7(std::string_view text, const Delimiters& delimiters);
std::string UnescapeHl7(std::string_view text, const Delimiters& delimiters);

}  // namespace ferrule::exchange
