// Help, man page and completion, all made from the command tree.
#pragma once

#include <string>

#include "cli/command.h"

namespace ferrule::cli {

// "ferrule move UNIT PLACE [flags]".
std::string Usage(const Command& command);
// All commands by who uses them, one line each.
std::string HelpForAll();
// One command with its positionals, flags and an example.
std::string HelpFor(const Command& command);
// The man page as roff.
std::string ManPage();
// A completion script for bash.
std::string BashCompletion();

}  // namespace ferrule::cli
