#include "core/exchange/hl7.h"

#include <algorithm>
#include <array>

#include "absl/strings/escaping.h"
#include "core/exchange/text.h"

namespace ferrule::exchange {
namespace {

bool IsNameLetter(char c) { return (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9'); }

std::vector<std::string_view> PartsOf(std::string_view text, char at) {
  return at == 0 ? std::vector<std::string_view>{text} : Split(text, at);
}

Hl7Component ParseComponent(std::string_view text, const Delimiters& d) {
  Hl7Component component;
  for (std::string_view part : PartsOf(text, d.subcomponent)) {
    component.push_back(UnescapeHl7(part, d));
  }
  return component;
}

Hl7Field ParseField(std::string_view text, const Delimiters& d) {
  Hl7Field field;
  for (std::string_view one : PartsOf(text, d.repetition)) {
    Hl7Repetition repetition;
    for (std::string_view part : PartsOf(one, d.component)) {
      repetition.push_back(ParseComponent(part, d));
    }
    field.push_back(std::move(repetition));
  }
  return field;
}

// A field whose text is not taken apart.
Hl7Field Literal(std::string_view text) { return {{{std::string(text)}}}; }

absl::StatusOr<Delimiters> ReadDelimiters(std::string_view bytes) {
  if (!Begins(bytes, "MSH") || bytes.size() < 4) {
    return absl::InvalidArgumentError(
        "the message does not begin with an MSH segment: send MSH first, with its delimiters");
  }
  Delimiters d;
  d.field = bytes[3];
  std::string_view encoding = bytes.substr(4);
  encoding = encoding.substr(0, encoding.find_first_of(std::string("\r\n") + d.field));
  if (encoding.size() < 2) {
    return absl::InvalidArgumentError(
        "MSH-2 names no delimiters: give component, repetition, escape and subcomponent, for "
        "instance ^~\\&");
  }
  d.component = encoding[0];
  d.repetition = encoding[1];
  d.escape = encoding.size() > 2 ? encoding[2] : '\0';
  d.subcomponent = encoding.size() > 3 ? encoding[3] : '\0';
  std::string signs = {d.field, d.component, d.repetition};
  if (d.escape != 0) signs += d.escape;
  if (d.subcomponent != 0) signs += d.subcomponent;
  std::sort(signs.begin(), signs.end());
  const bool plain = std::all_of(signs.begin(), signs.end(), [](char c) {
    return static_cast<unsigned char>(c) > 0x20 && static_cast<unsigned char>(c) < 0x7F &&
           !IsAlphanumeric(c) && c != '"';
  });
  if (!plain || std::adjacent_find(signs.begin(), signs.end()) != signs.end()) {
    return absl::InvalidArgumentError(
        "MSH-1 and MSH-2 must name different signs that are no letters, digits or blanks, for "
        "instance |^~\\&");
  }
  return d;
}

// The text of an escape sequence; false when it has no meaning here.
bool Meaning(std::string_view code, const Delimiters& d, std::string* out) {
  if (code == "F") return out->push_back(d.field), true;
  if (code == "S") return out->push_back(d.component), true;
  if (code == "R") return out->push_back(d.repetition), true;
  if (code == "E") return out->push_back(d.escape), true;
  if (code == "T" && d.subcomponent != 0) return out->push_back(d.subcomponent), true;
  if (code == ".br") return out->push_back('\r'), true;
  if (code.size() < 3 || code[0] != 'X' || code.size() % 2 == 0) return false;
  const std::string_view hex = code.substr(1);
  if (!std::all_of(hex.begin(), hex.end(), IsHex)) return false;
  out->append(absl::HexStringToBytes(std::string(hex)));
  return true;
}

// Highlighting, character sets, formatting and local sequences.
bool IsFormat(std::string_view code) {
  return code == "H" || code == "N" ||
         (code.size() > 1 &&
          (code[0] == 'C' || code[0] == 'M' || code[0] == 'Z' || code[0] == '.'));
}

bool Delimits(char c, const Delimiters& d) {
  return c == d.field || c == d.component || c == d.repetition || c == d.subcomponent;
}

void AppendEscape(std::string_view code, const Delimiters& d, std::string* out) {
  out->push_back(d.escape);
  out->append(code);
  out->push_back(d.escape);
}

std::string_view LineOf(std::string_view* rest) {
  const size_t end = rest->find_first_of("\r\n");
  const std::string_view line = rest->substr(0, end);
  rest->remove_prefix(end == std::string_view::npos ? rest->size() : end + 1);
  return line;
}

// Trailing empty parts are left out: they say nothing.
template <typename List, typename Render>
std::string Join(const List& list, char with, Render render) {
  std::string out;
  size_t pending = 0;
  bool first = true;
  for (const auto& part : list) {
    if (!first) ++pending;
    first = false;
    const std::string text = render(part);
    if (text.empty()) continue;
    out.append(pending, with);
    pending = 0;
    out += text;
  }
  return out;
}

std::string ComposeField(const Hl7Field& field, const Delimiters& d) {
  return Join(field, d.repetition, [&](const Hl7Repetition& repetition) {
    return Join(repetition, d.component, [&](const Hl7Component& component) {
      return Join(component, d.subcomponent == 0 ? d.component : d.subcomponent,
                  [&](const std::string& text) { return EscapeHl7(text, d); });
    });
  });
}

size_t PartsIn(std::string_view bytes, const Delimiters& d) {
  return size_t(std::count_if(bytes.begin(), bytes.end(), [&d](char c) {
    return c == d.field || c == d.component || c == d.repetition || c == d.subcomponent;
  }));
}

}  // namespace

std::string Delimiters::Encoding() const {
  std::string text = {component, repetition};
  if (escape != 0) text += escape;
  if (escape != 0 && subcomponent != 0) text += subcomponent;
  return text;
}

const Hl7Field& Hl7Segment::Field(size_t n) const {
  static const Hl7Field& none = *new Hl7Field;
  return n == 0 || n > fields_.size() ? none : fields_[n - 1];
}

std::string_view Hl7Segment::Get(size_t field, size_t component, size_t repetition) const {
  const Hl7Field& f = Field(field);
  if (repetition == 0 || repetition > f.size()) return "";
  const Hl7Repetition& r = f[repetition - 1];
  if (component == 0 || component > r.size() || r[component - 1].empty()) return "";
  std::string_view text = r[component - 1][0];
  while (!text.empty() && text.back() == ' ') text.remove_suffix(1);
  return text;
}

void Hl7Segment::Set(size_t field, std::string_view text, size_t component) {
  if (fields_.size() < field) fields_.resize(field);
  Hl7Field& f = fields_[field - 1];
  if (f.empty()) f.resize(1);
  if (f[0].size() < component) f[0].resize(component);
  f[0][component - 1] = {std::string(text)};
}

const Hl7Segment* Hl7Message::Find(std::string_view name) const {
  const auto it = std::find_if(segments.begin(), segments.end(),
                               [&](const Hl7Segment& s) { return s.name() == name; });
  return it == segments.end() ? nullptr : &*it;
}

absl::StatusOr<Hl7Message> ParseHl7(std::string_view bytes) {
  absl::StatusOr<Delimiters> delimiters = ReadDelimiters(bytes);
  if (!delimiters.ok()) return delimiters.status();
  if (PartsIn(bytes, *delimiters) > kMaxHl7Parts) {
    return absl::InvalidArgumentError(Cat("the message has more than ", kMaxHl7Parts,
                                          " fields, repetitions and components: send it in parts"));
  }
  Hl7Message message;
  message.delimiters = *delimiters;
  const Delimiters& d = message.delimiters;
  while (!bytes.empty()) {
    const std::string_view line = LineOf(&bytes);
    if (line.empty()) continue;
    if (message.segments.size() == kMaxHl7Segments) {
      return absl::InvalidArgumentError(
          Cat("the message has more than ", kMaxHl7Segments, " segments: send it in parts"));
    }
    const std::string_view name = line.substr(0, 3);
    const bool named = name.size() == 3 && std::all_of(name.begin(), name.end(), IsNameLetter) &&
                       (line.size() == 3 || line[3] == d.field);
    if (!named) {
      return absl::InvalidArgumentError(
          Cat("segment ", message.segments.size() + 1,
              " has no name: begin each with three capital letters or digits and the "
              "field separator, and end each with a carriage return"));
    }
    std::vector<Hl7Field> fields;
    std::vector<std::string_view> texts;
    if (line.size() > 3) texts = PartsOf(line.substr(4), d.field);
    if (name == "MSH") {
      fields.push_back(Literal(line.substr(3, 1)));
      fields.push_back(Literal(texts.empty() ? "" : texts[0]));
      if (!texts.empty()) texts.erase(texts.begin());
    }
    for (std::string_view text : texts) fields.push_back(ParseField(text, d));
    message.segments.emplace_back(name, std::move(fields));
  }
  return message;
}

std::string ComposeHl7(const Hl7Message& message) {
  const Delimiters& d = message.delimiters;
  std::string out;
  for (const Hl7Segment& segment : message.segments) {
    const bool msh = segment.name() == "MSH";
    std::vector<std::string> texts;
    if (msh) texts.push_back(d.Encoding());
    for (size_t i = msh ? 2 : 0; i < segment.fields().size(); ++i) {
      texts.push_back(ComposeField(segment.fields()[i], d));
    }
    while (!texts.empty() && texts.back().empty()) texts.pop_back();
    out += segment.name();
    for (const std::string& text : texts) {
      out += d.field;
      out += text;
    }
    out += '\r';
  }
  return out;
}

std::string EscapeHl7(std::string_view text, const Delimiters& d) {
  std::string out;
  out.reserve(text.size());
  for (const char c : text) {
    const auto byte = static_cast<unsigned char>(c);
    if (d.escape == 0) {
      // Without an escape sign what would be misread is left out.
      const bool safe = byte >= 0x20 && c != d.field && c != d.component && c != d.repetition;
      out += safe ? c : ' ';
    } else if (c == d.field) {
      AppendEscape("F", d, &out);
    } else if (c == d.component) {
      AppendEscape("S", d, &out);
    } else if (c == d.repetition) {
      AppendEscape("R", d, &out);
    } else if (c == d.escape) {
      AppendEscape("E", d, &out);
    } else if (d.subcomponent != 0 && c == d.subcomponent) {
      AppendEscape("T", d, &out);
    } else if (c == '\r' && !Delimits('.', d)) {
      AppendEscape(".br", d, &out);
    } else if (byte < 0x20 || byte == 0x7F) {
      static constexpr char kHex[] = "0123456789ABCDEF";
      AppendEscape(std::string{'X', kHex[byte >> 4], kHex[byte & 15]}, d, &out);
    } else {
      out += c;
    }
  }
  return out;
}

std::string UnescapeHl7(std::string_view text, const Delimiters& d) {
  if (d.escape == 0 || text.find(d.escape) == std::string_view::npos) return std::string(text);
  std::string out;
  while (!text.empty()) {
    const size_t begin = text.find(d.escape);
    out.append(text.substr(0, begin));
    if (begin == std::string_view::npos) break;
    const size_t end = text.find(d.escape, begin + 1);
    if (end == std::string_view::npos) {
      out.append(text.substr(begin));  // a lone sign is itself
      break;
    }
    if (!Meaning(text.substr(begin + 1, end - begin - 1), d, &out)) {
      // Highlighting and the like stays as it is; anything else is no sequence at all.
      const size_t kept = IsFormat(text.substr(begin + 1, end - begin - 1)) ? end + 1 : end;
      out.append(text.substr(begin, kept - begin));
      text.remove_prefix(kept);
      continue;
    }
    text.remove_prefix(end + 1);
  }
  return out;
}

}  // namespace ferrule::exchange
