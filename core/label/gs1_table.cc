#include "core/label/gs1_table.h"

#include <algorithm>

#include "core/label/check_characters.h"

namespace ferrule::label {
namespace {

constexpr Component N(int length, Lint lint = Lint::kNone) {
  return {'N', static_cast<int8_t>(length), static_cast<int8_t>(length), lint};
}
constexpr Component NUpTo(int most) { return {'N', 1, static_cast<int8_t>(most), Lint::kNone}; }
constexpr Component XUpTo(int most, Lint lint = Lint::kNone) {
  return {'X', 1, static_cast<int8_t>(most), lint};
}
constexpr Component XMaybe(int most) { return {'X', 0, static_cast<int8_t>(most), Lint::kNone}; }

constexpr std::string_view kItem = "01 02 03 8006 8026";
constexpr std::string_view kOneItem = "01 03 8006";
constexpr auto kCheck = Lint::kCheckDigit;
constexpr auto kMonth = Lint::kDateOrMonth;

// Codes, lengths, characters and companions of 00 to 22, 235 to 250, 7003, 8003, 8004, 8012 and
// 8013: gs1-syntax-dictionary.txt, repository gs1/gs1-syntax-dictionary, commit ff2eb4bfc8f6. The
// other rows are from memory; the tests hold all of them against two other programs.
constexpr Identifier kIdentifiers[] = {
    {"00", "shipment number (SSCC)", {N(18, kCheck)}},
    {"01", "trade item number (GTIN)", {N(14, kCheck)}, "", "255 37"},
    {"02", "trade item number of the content", {N(14, kCheck)}, "37"},
    {"10", "lot", {XUpTo(20)}, kItem},
    {"11", "made on", {N(6, kMonth)}, kItem},
    {"12", "payment due on", {N(6, kMonth)}, "8020"},
    {"13", "packed on", {N(6, kMonth)}, kItem},
    {"15", "best before", {N(6, kMonth)}, kItem},
    {"16", "sell by", {N(6, kMonth)}, kItem},
    {"17", "use by", {N(6, kMonth)}, "01 02 03 8006 8026 255"},
    {"20", "variant", {N(2)}, kItem},
    {"21", "serial number", {XUpTo(20)}, kOneItem, "235"},
    {"22", "consumer product variant", {XUpTo(20)}, "01"},
    {"235", "controlled serial number", {XUpTo(28)}, "01"},
    {"240", "additional item number", {XUpTo(30)}, kItem},
    {"241", "customer's part number", {XUpTo(30)}, kItem},
    {"242", "made-to-order variation", {NUpTo(6)}, "01 02 8006 8026"},
    {"243", "packaging component number", {XUpTo(20)}, "01"},
    {"250", "second serial number", {XUpTo(30)}, "01 8006"},
    {"251", "source's number", {XUpTo(30)}, "01 8006"},
    {"253", "document number", {N(13, kCheck), XMaybe(17)}},
    {"254", "extension of the location number", {XUpTo(20)}, "414"},
    {"30", "pieces", {NUpTo(8)}, "01 02"},
    {"310n", "net weight in kg", {N(6)}, "01 02"},
    {"320n", "net weight in pounds", {N(6)}, "01 02"},
    {"37", "trade items inside", {NUpTo(8)}, "00,02 8026"},
    {"400", "customer's order number", {XUpTo(30)}},
    {"401", "consignment number", {XUpTo(30, Lint::kKey)}},
    {"402", "shipment identification number", {N(17, kCheck)}},
    {"403", "routing code", {XUpTo(30)}, "00"},
    {"410", "ship to", {N(13, kCheck)}},
    {"411", "bill to", {N(13, kCheck)}},
    {"412", "purchased from", {N(13, kCheck)}},
    {"413", "ship for", {N(13, kCheck)}},
    {"414", "location", {N(13, kCheck)}},
    {"415", "invoicing party", {N(13, kCheck)}, "8020"},
    {"416", "place of production", {N(13, kCheck)}, kItem},
    {"417", "party", {N(13, kCheck)}},
    {"420", "postal code", {XUpTo(20)}},
    {"7003", "use by, with time", {N(6, Lint::kDate), N(4, Lint::kHourMinute)}, "01 02 03"},
    {"8003", "returnable asset (GRAI)", {N(14, Lint::kZeroAndCheckDigit), XMaybe(16)}},
    {"8004", "individual asset (GIAI)", {XUpTo(30, Lint::kKey)}},
    {"8006", "component of an item", {N(14, kCheck), N(4, Lint::kPieceOfTotal)}, "", "01 37"},
    {"8012", "software version", {XUpTo(20)}, kOneItem},
    {"8013", "model number (GMN)", {XUpTo(25, Lint::kModelPair)}},
    {"8017", "service provider relation", {N(18, kCheck)}, "", "8018"},
    {"8018", "service recipient relation", {N(18, kCheck)}, "", "8017"},
    {"8020", "payment slip number", {XUpTo(25)}, "415"},
    {"90", "mutually agreed", {XUpTo(30)}},
    {"91", "company's own 91", {XUpTo(90)}},
    {"92", "company's own 92", {XUpTo(90)}},
    {"93", "company's own 93", {XUpTo(90)}},
    {"94", "company's own 94", {XUpTo(90)}},
    {"95", "company's own 95", {XUpTo(90)}},
    {"96", "company's own 96", {XUpTo(90)}},
    {"97", "company's own 97", {XUpTo(90)}},
    {"98", "company's own 98", {XUpTo(90)}},
    {"99", "company's own 99", {XUpTo(90)}},
};

// What the two sets have beside digits and letters.
constexpr std::string_view kMarksOf82 = "!\"%&'()*+,-./:;<=>?_";
constexpr std::string_view kMarksOf39 = "#-/";

bool Begins(std::string_view text, const Identifier& identifier) {
  const std::string_view code = identifier.code;
  if (text.size() < code.size()) return false;
  if (code.back() != 'n') return text.substr(0, code.size()) == code;
  const size_t stem = code.size() - 1;
  return text.substr(0, stem) == code.substr(0, stem) && text[stem] >= '0' &&
         text[stem] <= identifier.last_n;
}

}  // namespace

const Identifier* FindIdentifier(std::string_view text) {
  for (const Identifier& identifier : kIdentifiers) {
    if (Begins(text, identifier)) return &identifier;
  }
  return nullptr;
}

// GS1 General Specifications, "element strings with predefined length using GS1 application
// identifiers" (from memory): 00-04, 11-20, 31-36, 41.
bool HasPredefinedLength(std::string_view code) {
  const std::string_view two = code.substr(0, 2);
  return (two >= "00" && two <= "04") || (two >= "11" && two <= "20") ||
         (two >= "31" && two <= "36") || two == "41";
}

bool InSet(char set, std::string_view text) {
  if (set == 'N') return IsDigits(text);
  return std::all_of(text.begin(), text.end(), [set](char c) {
    if ((c >= '0' && c <= '9') || (c >= 'A' && c <= 'Z')) return true;
    if (set == 'Y') return kMarksOf39.find(c) != std::string_view::npos;
    return (c >= 'a' && c <= 'z') || kMarksOf82.find(c) != std::string_view::npos;
  });
}

}  // namespace ferrule::label
