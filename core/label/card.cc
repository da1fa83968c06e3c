#include "core/label/card.h"

#include <algorithm>

#include "absl/status/status.h"
#include "absl/strings/ascii.h"
#include "absl/strings/str_cat.h"
#include "absl/strings/str_split.h"

namespace ferrule::label {
namespace {

std::vector<std::string> Words(std::string_view text) {
  return absl::StrSplit(std::string(text), absl::ByAnyChar(" \t"), absl::SkipEmpty());
}

absl::Status Wrong(const std::string& what) { return absl::InvalidArgumentError(what); }

absl::StatusOr<StationLine> ParseCard(std::string_view text) {
  std::vector<std::string> words = Words(text.substr(1));
  const std::string word = words.empty() ? "" : words[0];
  for (const CardWord& card : Cards()) {
    if (card.word != word) continue;
    words.erase(words.begin());
    const int count = static_cast<int>(words.size());
    if (count < card.least || count > card.most) {
      return Wrong(absl::StrCat("/", word, " is used so: ", std::string(card.use)));
    }
    StationLine line;
    line.kind = StationLine::Kind::kCard;
    line.card = card.card;
    line.words = std::move(words);
    return line;
  }
  std::string known;
  for (const CardWord& card : Cards()) {
    absl::StrAppend(&known, known.empty() ? "/" : ", /", std::string(card.word));
  }
  return Wrong(absl::StrCat("there is no card /", word, "; there are ", known));
}

// "visual=yes stop=yes": every word has "=" in it, with something on both sides.
bool ReadReadings(std::string_view text, StationLine* line) {
  for (const std::string& word : Words(text)) {
    const size_t equals = word.find('=');
    if (equals == 0 || equals == std::string::npos || equals + 1 == word.size()) return false;
    line->readings.emplace_back(word.substr(0, equals), word.substr(equals + 1));
  }
  return !line->readings.empty();
}

// Whether a text looks like readings at all: addresses have "=" in them too.
bool MayBeReadings(std::string_view text) {
  const size_t equals = text.find('=');
  return equals != std::string_view::npos &&
         std::all_of(text.begin(), text.begin() + static_cast<long>(equals), [](char c) {
           return (c >= '0' && c <= '9') || (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') ||
                  c == '-' || c == '.' || c == '_';
         });
}

}  // namespace

const std::vector<CardWord>& Cards() {
  static const auto* const cards = new std::vector<CardWord>{
      {Card::kBy, "by", "/by PERSON, who works here from now on", 1, 1},
      {Card::kClean, "clean", "/clean, the cleaning of the unit begins", 0, 0},
      {Card::kProduct, "product",
       "/product ID [lot=LOT] [expires=YYYY-MM-DD], what it is cleaned with", 1, 3},
      {Card::kWet, "wet", "/wet, it is wet from now on; /wet MINUTES, it was wet until now", 0, 1},
      {Card::kCleaned, "cleaned", "/cleaned, the cleaning ends, wet until now", 0, 0},
      {Card::kErase, "erase", "/erase [HOW], patient data has been erased", 0, 8},
      {Card::kTester, "tester", "/tester ID, the instrument of the readings", 1, 1},
      {Card::kMeter, "meter", "/meter HOURS, the run-hour meter shows this", 1, 1},
      {Card::kHold, "hold", "/hold KIND WHY, the unit is blocked", 2, 40},
      {Card::kDrop, "drop", "/drop, forget what is collected and not sent", 0, 0},
      {Card::kQueue, "queue", "/queue, what waits for the server", 0, 0},
      {Card::kHelp, "help", "/help, the cards", 0, 0},
      {Card::kEnd, "end", "/end, leave the station", 0, 0},
  };
  return *cards;
}

std::string_view Trimmed(std::string_view text) {
  constexpr std::string_view kBlank = " \t\r\n";
  const size_t first = text.find_first_not_of(kBlank);
  if (first == std::string_view::npos) return {};
  return text.substr(first, text.find_last_not_of(kBlank) - first + 1);
}

std::string CardMeant(std::string_view line) {
  const std::vector<std::string> words = Words(line);
  if (words.empty()) return "";
  const std::string word = absl::AsciiStrToLower(words[0]);
  if (word == "?") return "/help";
  if (word == "quit" || word == "exit" || word == "q") return "/end";
  for (const CardWord& card : Cards()) {
    if (card.word == word) return "/" + word;
  }
  return "";
}

absl::StatusOr<StationLine> ParseStationLine(std::string_view text) {
  text = Trimmed(text);
  StationLine line;
  if (text.empty()) return line;
  if (text.size() > kLongestLine) {
    return Wrong(absl::StrCat("this line has ", text.size(), " bytes, more than ", kLongestLine,
                              ": two scans have run together, scan again"));
  }
  if (text.front() == '/') return ParseCard(text);
  if (MayBeReadings(text)) {
    if (!ReadReadings(text, &line)) {
      return Wrong("give readings as ITEM=VALUE, separated by blanks: visual=yes earth-ohm=0.12");
    }
    line.kind = StationLine::Kind::kReadings;
    return line;
  }
  line.kind = StationLine::Kind::kScan;
  line.scan = std::string(text);
  return line;
}

}  // namespace ferrule::label
