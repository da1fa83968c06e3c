// The command tree as data. Parsing, help, completion and the man page all walk the same tables, so
// that none of them can promise what another does not know.
#pragma once

#include <string_view>
#include <vector>

#include "absl/status/status.h"

namespace ferrule::cli {

class Line;
class Session;

// Who uses a command; the headings of the help.
enum class Group { kWarehouse, kBench, kStores, kOrders, kField, kLook, kTrace, kKeep };

// What a command does with the depot; it decides which shared flags it takes.
enum class Kind {
  kRecords,  // sends one entry
  kReads,    // asks
  kLocal,    // needs no depot
  kWorks,    // asks or sends in its own way, and takes none of the flags of the first two
};

struct Flag {
  std::string_view name;          // "--meter"
  std::string_view value;         // what stands behind it, "HOURS"; empty for a switch
  std::string_view help;          // one line
  bool repeated = false;          // may be given several times
  std::string_view choices = {};  // words that may stand behind it, separated by spaces
};

enum class Arity { kOne, kOptional, kMany };

struct Positional {
  std::string_view name;  // "UNIT"
  std::string_view help;
  Arity arity = Arity::kOne;
};

struct Command {
  std::string_view name;  // one or two words: "move", "settings apply"
  Group group;
  Kind kind;
  std::string_view summary;  // one line, no full stop
  std::vector<Positional> positionals;
  std::vector<Flag> flags;  // beside the shared ones
  std::string_view example;
  absl::Status (*run)(Session&, const Line&);
};

using Catalog = std::vector<Command>;

}  // namespace ferrule::cli
