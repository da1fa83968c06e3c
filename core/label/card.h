// The lines of the station: cards that say an action, readings of a check, and everything else,
// which is a scan. Cards begin with "/", which no tag, serial number or element string does.
#pragma once

#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "absl/status/statusor.h"

namespace ferrule::label {

enum class Card {
  kBy,       // /by tech-ada: who works
  kClean,    // /clean: cleaning begins
  kProduct,  // /product wipe-q [lot=L9] [expires=2027-01-31]
  kWet,      // /wet: wet from now on; /wet 12: wet for the last 12 minutes
  kCleaned,  // /cleaned: cleaning ends
  kErase,    // /erase [how]
  kTester,   // /tester T-3
  kMeter,    // /meter 55.0
  kHold,     // /hold insects why
  kDrop,     // /drop: forget what is collected and not yet sent
  kQueue,    // /queue: what waits for the server
  kHelp,     // /help
  kEnd,      // /end
};

struct CardWord {
  Card card;
  std::string_view word;  // without the "/"
  std::string_view use;   // one line, for /help and for the sheet of cards
  int least = 0;          // words behind it
  int most = 0;
};
const std::vector<CardWord>& Cards();

struct StationLine {
  enum class Kind { kNothing, kCard, kReadings, kScan };
  Kind kind = Kind::kNothing;
  Card card = Card::kHelp;
  std::vector<std::string> words;                             // behind a card
  std::vector<std::pair<std::string, std::string>> readings;  // "earth-ohm" and "0.12"
  std::string scan;
};

inline constexpr size_t kLongestLine = 512;

// A line as typed or scanned, without its end. InvalidArgument for an unknown card, one with too
// few or too many words, a line that is no text or is too long.
absl::StatusOr<StationLine> ParseStationLine(std::string_view line);

// The card that somebody may have meant who typed its word without the "/", or "quit" or "?", as it
// is to be typed; empty for anything else. For a line that was no name of anything.
std::string CardMeant(std::string_view line);

// Blanks, carriage returns and line feeds taken off both ends; separators stay.
std::string_view Trimmed(std::string_view text);

}  // namespace ferrule::label
