#include "core/exchange/hl7_text.h"

#include <algorithm>
#include <iterator>

#include "absl/time/time.h"
#include "core/exchange/news.h"
#include "core/exchange/text.h"
#include "core/fact/utf8.h"

namespace ferrule::exchange {
namespace {

constexpr std::string_view kUtf8 = "UNICODE UTF-8";
constexpr size_t kMostErrors = 20;

void AppendUtf8(uint32_t code, std::string* out) {
  if (code < 0x80) {
    *out += static_cast<char>(code);
  } else if (code < 0x800) {
    *out += static_cast<char>(0xC0 | (code >> 6));
    *out += static_cast<char>(0x80 | (code & 0x3F));
  } else {
    *out += static_cast<char>(0xE0 | (code >> 12));
    *out += static_cast<char>(0x80 | ((code >> 6) & 0x3F));
    *out += static_cast<char>(0x80 | (code & 0x3F));
  }
}

// ISO 8859-15 is 8859-1 but for eight signs (from memory, held against Python's codec in the
// tests).
uint32_t Latin9(unsigned char byte) {
  switch (byte) {
    case 0xA4:
      return 0x20AC;
    case 0xA6:
      return 0x160;
    case 0xA8:
      return 0x161;
    case 0xB4:
      return 0x17D;
    case 0xB8:
      return 0x17E;
    case 0xBC:
      return 0x152;
    case 0xBD:
      return 0x153;
    case 0xBE:
      return 0x178;
    default:
      return byte;
  }
}

bool IsAscii(std::string_view text) {
  return std::all_of(text.begin(), text.end(),
                     [](char c) { return static_cast<unsigned char>(c) < 0x80; });
}

// Which message types are taken, and the response that goes with each (chapters 4 and 3 of the
// standard by hl7-dictionary 1.0.1).
struct TypeRow {
  std::string_view type;
  std::string_view events;  // separated by blanks; empty for any
  std::string_view response;
  std::string_view response_event;
};
constexpr TypeRow kTypes[] = {
    {"OMG", "O19", "ORG", "O20"}, {"OMS", "O05", "ORS", "O06"}, {"OMN", "O07", "ORN", "O08"},
    {"ORM", "O01", "ORR", "O02"}, {"ADT", "", "ACK", ""},       {"SIU", "", "ACK", ""},
};

const TypeRow* FindType(std::string_view type) {
  const auto row = std::find_if(std::begin(kTypes), std::end(kTypes),
                                [&](const TypeRow& r) { return r.type == type; });
  return row == std::end(kTypes) ? nullptr : &*row;
}

// HL7 table 0357.
std::string_view ErrorCode(const v1::Trouble& trouble) {
  switch (trouble.kind()) {
    case v1::TROUBLE_KIND_NOT_READABLE:
      return "100";
    case v1::TROUBLE_KIND_FIELD_MISSING:
      return "101";
    case v1::TROUBLE_KIND_FIELD_INVALID:
      return "102";
    case v1::TROUBLE_KIND_CHARACTER_SET:
    case v1::TROUBLE_KIND_CODE_UNMAPPED:
      return "103";
    case v1::TROUBLE_KIND_TOO_LARGE:
      return "104";
    case v1::TROUBLE_KIND_NOT_SUPPORTED:
      if (trouble.where() == "MSH-9.1") return "200";
      if (trouble.where() == "MSH-9.2") return "201";
      return trouble.where() == "MSH-12" ? "203" : "103";
    case v1::TROUBLE_KIND_NOT_LIVE:
      return "202";
    case v1::TROUBLE_KIND_SENDER_UNKNOWN:
    case v1::TROUBLE_KIND_WAITS_FOR_ORDER:
      return "204";
    case v1::TROUBLE_KIND_POSSIBLE_REPEAT:
    case v1::TROUBLE_KIND_ID_REUSED:
      return "205";
    default:
      return "207";
  }
}

std::string_view ErrorWords(std::string_view code) {
  constexpr std::pair<std::string_view, std::string_view> kWords[] = {
      {"100", "Segment sequence error"},   {"101", "Required field missing"},
      {"102", "Data type error"},          {"103", "Table value not found"},
      {"104", "Value too long"},           {"200", "Unsupported message type"},
      {"201", "Unsupported event code"},   {"202", "Unsupported processing id"},
      {"203", "Unsupported version id"},   {"204", "Unknown key identifier"},
      {"205", "Duplicate key identifier"}, {"207", "Application internal error"}};
  for (const auto& [number, words] : kWords) {
    if (number == code) return words;
  }
  return "";
}

// "OBR-4.1" as "OBR", "4", "1".
std::vector<std::string_view> LocationParts(std::string_view where) {
  std::vector<std::string_view> parts = Split(where, '-');
  if (parts.size() < 2) return parts;
  const std::vector<std::string_view> numbers = Split(parts[1], '.');
  parts.resize(1);
  parts.insert(parts.end(), numbers.begin(), numbers.end());
  return parts;
}

// "OBR-4.1" as ERL: segment, sequence, field, repetition, component.
void PutLocation(std::string_view where, Hl7Segment* err) {
  const std::vector<std::string_view> parts = LocationParts(where);
  if (parts.empty() || parts[0].size() != 3) return;
  err->Set(2, parts[0], 1);
  err->Set(2, "1", 2);
  if (parts.size() > 1) err->Set(2, parts[1], 3);
  if (parts.size() > 2) {
    err->Set(2, "1", 4);
    err->Set(2, parts[2], 5);
  }
}

bool HasModernErrors(std::string_view version) {
  return version.empty() || (Begins(version, "2.") && version >= "2.5");
}

Hl7Segment ErrorSegment(const Hl7Header& header, const v1::Trouble& trouble, bool warning) {
  Hl7Segment err("ERR", {});
  const std::string_view code = ErrorCode(trouble);
  const std::string words =
      Cat(trouble.where(), trouble.where().empty() ? "" : " ", trouble.text(),
          trouble.found().empty() ? "" : Cat(" (", trouble.found(), ")"), ": ", trouble.cure());
  if (!HasModernErrors(header.msh.Get(12))) {
    const std::vector<std::string_view> parts = LocationParts(trouble.where());
    err.Set(1, parts[0], 1);
    err.Set(1, "1", 2);
    if (parts.size() > 1) err.Set(1, parts[1], 3);
    err.Set(1, code, 4);
    return err;
  }
  PutLocation(trouble.where(), &err);
  err.Set(3, code, 1);
  err.Set(3, ErrorWords(code), 2);
  err.Set(3, "HL70357", 3);
  err.Set(4, warning ? "W" : "E");
  err.Set(8, words);
  return err;
}

std::string Hl7Now(int64_t now_us) {
  return absl::FormatTime("%Y%m%d%H%M%S+0000", absl::FromUnixMicros(now_us), absl::UTCTimeZone());
}

Hl7Segment AnswerMsh(const Hl7Header& header, const Hl7Answer& answer, const TypeRow* response) {
  Hl7Segment msh("MSH", {});
  msh.Set(1, std::string(1, header.delimiters.field));
  msh.Set(2, header.delimiters.Encoding());
  constexpr std::pair<size_t, size_t> kTurned[] = {{3, 5}, {4, 6}, {5, 3}, {6, 4}};
  for (const auto& [to, from] : kTurned) {
    const Hl7Field& field = header.msh.Field(from);
    for (size_t c = 1; !field.empty() && c <= field[0].size(); ++c) {
      if (!header.msh.Get(from, c).empty()) msh.Set(to, header.msh.Get(from, c), c);
    }
  }
  msh.Set(7, Hl7Now(answer.now_us));
  if (response != nullptr) {
    msh.Set(9, response->response, 1);
    msh.Set(9, response->response_event, 2);
    msh.Set(9, Cat(std::string(response->response), "_", std::string(response->response_event)), 3);
  } else {
    msh.Set(9, "ACK", 1);
    if (!header.msh.Get(9, 2).empty()) msh.Set(9, header.msh.Get(9, 2), 2);
    msh.Set(9, "ACK", 3);
  }
  msh.Set(10, answer.control_id);
  msh.Set(11, header.msh.Get(11).empty() ? "P" : header.msh.Get(11));
  msh.Set(12, header.msh.Get(12).empty() ? "2.5.1" : header.msh.Get(12));
  msh.Set(18, kUtf8);
  return msh;
}

bool Wants(std::string_view when, bool good) {
  return when == "AL" || (when == "ER" && !good) || (when == "SU" && good);
}

bool IsGood(v1::MessageState state) { return state != v1::MESSAGE_STATE_REJECTED; }

}  // namespace

Hl7Text ToUtf8(std::string_view bytes, std::string_view otherwise) {
  Hl7Text out;
  const Hl7Header header = ReadHl7Header(bytes);
  std::string_view set = header.known ? header.msh.Get(18) : "";
  if (set.empty()) set = otherwise;
  const auto wrong = [&](std::string_view text, std::string_view cure) {
    out.troubles.push_back(TroubleAt(v1::TROUBLE_KIND_CHARACTER_SET, "MSH-18", text, cure, set));
    return out;
  };
  if (set.empty() || set == kUtf8 || set == "ASCII") {
    if (set == "ASCII" && !IsAscii(bytes)) {
      return wrong("says ASCII, and there is a byte above 127", "name the set the message is in");
    }
    if (!fact::IsUtf8(bytes)) {
      return wrong("and the characters do not agree: they are not UTF-8",
                   "send UTF-8, or name the character set in MSH-18");
    }
    out.utf8 = std::string(bytes);
    return out;
  }
  if (set != "8859/1" && set != "8859/15") {
    return wrong("names a character set that is not taken",
                 "send UNICODE UTF-8, ASCII, 8859/1 or 8859/15");
  }
  for (const char c : bytes) {
    const auto byte = static_cast<unsigned char>(c);
    AppendUtf8(set == "8859/15" ? Latin9(byte) : byte, &out.utf8);
  }
  return out;
}

Hl7Header ReadHl7Header(std::string_view bytes) {
  Hl7Header header;
  const std::string_view line = bytes.substr(0, bytes.find_first_of("\r\n"));
  const absl::StatusOr<Hl7Message> message = ParseHl7(line);
  if (!message.ok()) return header;
  header.known = true;
  header.delimiters = message->delimiters;
  header.msh = message->msh();
  return header;
}

bool Hl7Header::enhanced() const { return !msh.Get(15).empty() || !msh.Get(16).empty(); }
bool Hl7Header::WantsAccept(bool good) const { return Wants(msh.Get(15), good); }
bool Hl7Header::WantsApplication(bool good) const { return Wants(msh.Get(16), good); }

std::vector<v1::Trouble> CheckHl7Header(const Hl7Header& header) {
  std::vector<v1::Trouble> out;
  if (!header.known) {
    out.push_back(TroubleAt(v1::TROUBLE_KIND_NOT_READABLE, "MSH",
                            "is missing: the message does not begin with a header",
                            "send MSH first, with its delimiters"));
    return out;
  }
  const Hl7Segment& msh = header.msh;
  const TypeRow* type = FindType(msh.Get(9));
  if (type == nullptr) {
    out.push_back(TroubleAt(v1::TROUBLE_KIND_NOT_SUPPORTED, "MSH-9.1",
                            "is a message type that is not taken",
                            "send OMG, OMS, OMN, ORM, ADT or SIU", msh.Get(9)));
  } else if (!type->events.empty() && !msh.Get(9, 2).empty() && msh.Get(9, 2) != type->events) {
    out.push_back(TroubleAt(v1::TROUBLE_KIND_NOT_SUPPORTED, "MSH-9.2",
                            "is an event that this type does not have",
                            Cat("send ", std::string(type->events)), msh.Get(9, 2)));
  }
  if (!msh.Get(11).empty() && msh.Get(11) != "P") {
    out.push_back(TroubleAt(v1::TROUBLE_KIND_NOT_LIVE, "MSH-11",
                            "says that the message is not for live use",
                            "send processing id P for orders that count", msh.Get(11)));
  }
  const std::string_view version = msh.Get(12);
  if (!version.empty() && !Begins(version, "2.")) {
    out.push_back(TroubleAt(v1::TROUBLE_KIND_NOT_SUPPORTED, "MSH-12",
                            "is a version that is not taken", "send HL7 version 2.x", version));
  }
  return out;
}

std::string_view AnswerCode(const Hl7Answer& answer) {
  const bool accept = answer.mode == Hl7Answer::Mode::kAccept;
  if (IsGood(answer.state)) return accept ? "CA" : "AA";
  const bool content =
      std::none_of(answer.troubles.begin(), answer.troubles.end(), [](const v1::Trouble& t) {
        return t.kind() == v1::TROUBLE_KIND_NOT_READABLE ||
               t.kind() == v1::TROUBLE_KIND_TOO_LARGE || t.kind() == v1::TROUBLE_KIND_NOT_LIVE ||
               (t.kind() == v1::TROUBLE_KIND_NOT_SUPPORTED && Begins(t.where(), "MSH"));
      });
  if (accept) return content ? "CE" : "CR";
  return content ? "AE" : "AR";
}

std::string ComposeAnswer(const Hl7Header& header, const Hl7Answer& answer) {
  Hl7Message out;
  out.delimiters = header.delimiters;
  const TypeRow* type = FindType(header.msh.Get(9));
  const bool with_orders = answer.order_response && type != nullptr && type->response != "ACK" &&
                           answer.mode != Hl7Answer::Mode::kAccept;
  out.segments.push_back(AnswerMsh(header, answer, with_orders ? type : nullptr));
  Hl7Segment msa("MSA", {});
  msa.Set(1, AnswerCode(answer));
  msa.Set(2, header.msh.Get(10));
  if (!answer.troubles.empty() && !HasModernErrors(header.msh.Get(12))) {
    msa.Set(3, Cat(answer.troubles[0].where(), " ", answer.troubles[0].text()));
  }
  out.segments.push_back(std::move(msa));
  const bool good = IsGood(answer.state);
  for (const v1::Trouble& trouble : answer.troubles) {
    if (out.segments.size() == kMostErrors + 2) break;
    out.segments.push_back(ErrorSegment(header, trouble, good));
  }
  if (with_orders) {
    for (const auto& [placer, filler] : answer.orders) {
      Hl7Segment orc("ORC", {});
      orc.Set(1, good ? "OK" : "UA");
      orc.Set(2, placer);
      if (!filler.empty()) orc.Set(3, filler);
      out.segments.push_back(std::move(orc));
    }
  }
  return ComposeHl7(out);
}

}  // namespace ferrule::exchange
