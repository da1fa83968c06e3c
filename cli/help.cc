#include "cli/help.h"

#include <algorithm>

#include "absl/strings/str_cat.h"
#include "cli/catalog.h"

namespace ferrule::cli {
namespace {

constexpr std::string_view kIntro =
    "ferrule keeps the records of a depot that lends joint-motion devices and answers from them.\n";

constexpr std::string_view kExitCodes =
    "Exit codes: 0 done, 1 refused by a rule, 2 wrong usage, 3 not found, 4 unavailable.\n";

std::string Padded(std::string_view text, size_t width) {
  std::string padded(text);
  if (padded.size() < width) padded.append(width - padded.size(), ' ');
  return padded;
}

std::string FlagWords(const Flag& flag) {
  std::string words(flag.name);
  if (!flag.value.empty()) absl::StrAppend(&words, " ", std::string(flag.value));
  if (flag.repeated) words += " ...";
  return words;
}

// Breaks words over lines of 96 columns with a hanging indent.
std::string Wrapped(const std::string& head, std::string_view text, size_t indent) {
  std::string out;
  std::string line = head;
  size_t begin = 0;
  while (begin < text.size()) {
    const size_t end = std::min(text.find(' ', begin), text.size());
    const std::string_view word = text.substr(begin, end - begin);
    if (line.size() + word.size() + 1 > 96 && line.size() > indent) {
      out += line + "\n";
      line.assign(indent, ' ');
    }
    if (line.size() > indent && line.back() != ' ') line += ' ';
    line += word;
    begin = end + 1;
  }
  return out + line + "\n";
}

std::string FlagLines(std::string_view heading, std::span<const Flag> flags) {
  if (flags.empty()) return "";
  std::string out = "\n" + std::string(heading) + "\n";
  for (const Flag& flag : flags) {
    std::string help(flag.help);
    if (!flag.choices.empty() && help.find(flag.choices) == std::string::npos) {
      absl::StrAppend(&help, " (", std::string(flag.choices), ")");
    }
    const std::string head = "  " + Padded(FlagWords(flag), 26) + "  ";
    out += Wrapped(head, help, 30);
  }
  return out;
}

}  // namespace

std::string Usage(const Command& command) {
  std::string usage = "ferrule " + std::string(command.name);
  for (const Positional& positional : command.positionals) {
    const std::string name(positional.name);
    switch (positional.arity) {
      case Arity::kOne:
        usage += " " + name;
        break;
      case Arity::kOptional:
        usage += " [" + name + "]";
        break;
      case Arity::kMany:
        usage += " [" + name + " ...]";
        break;
    }
  }
  return usage;
}

std::string HelpForAll() {
  std::string out(kIntro);
  out += "\nUsage: ferrule COMMAND ... [flags]\n";
  for (const Group group : AllGroups()) {
    out += "\n" + std::string(Heading(group)) + "\n";
    for (const Command& command : AllCommands()) {
      if (command.group != group) continue;
      out += "  " + Padded(command.name, 16) + "  " + std::string(command.summary) + "\n";
    }
  }
  out +=
      "\nferrule help COMMAND tells more. The depot comes from --depot FILE or FERRULE_DEPOT, or "
      "a\nserver from --server or FERRULE_SERVER; the reporter from --as or FERRULE_ACTOR.\n";
  out += kExitCodes;
  return out;
}

std::string HelpFor(const Command& command) {
  std::string out = Usage(command) + "\n" + std::string(command.summary) + ".\n";
  if (!command.positionals.empty()) out += "\n";
  for (const Positional& positional : command.positionals) {
    out += Wrapped("  " + Padded(positional.name, 26) + "  ", positional.help, 30);
  }
  out += FlagLines("Flags of this command", command.flags);
  if (command.kind == Kind::kRecords) out += FlagLines("Flags of every report", RecordFlags());
  if (command.kind == Kind::kReads) out += FlagLines("Flags of every answer", ReadFlags());
  out += FlagLines("Flags of every command", GlobalFlags());
  if (!command.example.empty()) out += "\nFor instance: " + std::string(command.example) + "\n";
  return out;
}

}  // namespace ferrule::cli
