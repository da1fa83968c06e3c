// The man page and the completion script, and the commands that print them.
#include <span>
#include <string>
#include <vector>

#include "absl/strings/str_cat.h"
#include "cli/catalog.h"
#include "cli/help.h"
#include "cli/line.h"
#include "cli/session.h"

namespace ferrule::cli {
namespace {

// Text that roff must not take for a request, an escape or a hyphen.
std::string Roff(std::string_view text) {
  std::string out;
  for (const char c : text) {
    if (c == '\\') {
      out += "\\e";
    } else if (c == '-') {
      out += "\\-";
    } else if (c == '\'') {
      out += "\\(aq";
    } else if (c == '.' && (out.empty() || out.back() == '\n')) {
      out += "\\&.";
    } else {
      out += c;
    }
  }
  return out;
}

std::string RoffFlags(std::span<const Flag> flags) {
  std::string out;
  for (const Flag& flag : flags) {
    out += ".TP\n\\fB" + Roff(flag.name) + "\\fR";
    if (!flag.value.empty()) out += " \\fI" + Roff(flag.value) + "\\fR";
    out += "\n" + Roff(flag.help) + ".\n";
    if (flag.repeated) out += "May be given several times.\n";
    if (!flag.choices.empty()) out += "One of: " + Roff(flag.choices) + ".\n";
  }
  return out;
}

std::string RoffCommand(const Command& command) {
  std::string out = ".TP\n\\fB" + Roff(Usage(command)) + "\\fR\n" + Roff(command.summary) + ".\n";
  if (!command.flags.empty()) out += ".RS\n" + RoffFlags(command.flags) + ".RE\n";
  return out;
}

struct ExitRow {
  std::string_view code, words;
};
constexpr ExitRow kExits[] = {
    {"0", "done, or answered"},
    {"1", "refused by a rule; every reason and what to do next is on standard error"},
    {"2", "wrong usage"},
    {"3", "not found"},
    {"4",
     "unavailable: the depot could not be opened or the server not reached, or it is not "
     "known whether the report was recorded"},
};

struct EnvironmentRow {
  std::string_view name, words;
};
constexpr EnvironmentRow kEnvironment[] = {
    {"FERRULE_DEPOT", "depot file, as --depot"},
    {"FERRULE_SERVER", "server, as --server"},
    {"FERRULE_ACTOR", "who reports, as --as"},
    {"FERRULE_BRANCH", "branch whose time zone is used, as --branch"},
};

std::string CaseOf(const Command& command) {
  std::string flags;
  for (const Flag* flag : FlagsOf(command)) {
    if (!flags.empty()) flags += ' ';
    flags += flag->name;
  }
  return absl::StrCat("    '", std::string(command.name), "') words='", flags, "' ;;\n");
}

std::string ChoiceCases() {
  // A flag's choices may differ between commands, so that the case names both.
  std::string out;
  for (const Command& command : AllCommands()) {
    for (const Flag* flag : FlagsOf(command)) {
      if (flag->choices.empty()) continue;
      absl::StrAppend(&out, "    '", std::string(command.name), " ", std::string(flag->name),
                      "') words='", std::string(flag->choices), "' ;;\n");
    }
  }
  return out;
}

absl::Status RunCompletion(Session& session, const Line&) {
  session.out().Write(BashCompletion());
  return absl::OkStatus();
}

absl::Status RunMan(Session& session, const Line&) {
  session.out().Write(ManPage());
  return absl::OkStatus();
}

absl::Status RunHelp(Session& session, const Line& line) {
  std::string name;
  for (const std::string& word : line.Args("COMMAND")) name += (name.empty() ? "" : " ") + word;
  if (name.empty()) {
    session.out().Write(HelpForAll());
    return absl::OkStatus();
  }
  const Command* command = FindCommand(name);
  if (command == nullptr) return ParseLine(line.Args("COMMAND")).status();
  session.out().Write(HelpFor(*command));
  return absl::OkStatus();
}

}  // namespace

std::string ManPage() {
  std::string out =
      ".TH FERRULE 1 \"\" \"ferrule\" \"Depot records\"\n.SH NAME\n"
      "ferrule \\- records of and answers about a depot of joint\\-motion devices\n"
      ".SH SYNOPSIS\n\\fBferrule\\fR \\fICOMMAND\\fR ... [\\fIflags\\fR]\n.SH DESCRIPTION\n"
      "Each command records one report or asks one question. "
      "A report that breaks a rule is refused with every reason and what to do next, unless it is "
      "marked as already happened.\n"
      "The prescriber\\(aqs order and the maker\\(aqs instructions rule over everything these "
      "records say.\n.SH COMMANDS\n";
  for (const Group group : AllGroups()) {
    out += ".SS " + Roff(Heading(group)) + "\n";
    for (const Command& command : AllCommands()) {
      if (command.group == group) out += RoffCommand(command);
    }
  }
  out += ".SH OPTIONS\n.SS Of every command\n" + RoffFlags(GlobalFlags());
  out += ".SS Of every report\n" + RoffFlags(RecordFlags());
  out += ".SS Of every answer\n" + RoffFlags(ReadFlags());
  out += ".SH EXIT STATUS\n";
  for (const ExitRow& row : kExits) {
    out += ".TP\n" + Roff(row.code) + "\n" + Roff(row.words) + ".\n";
  }
  out += ".SH ENVIRONMENT\n";
  for (const EnvironmentRow& row : kEnvironment) {
    out += ".TP\n\\fB" + Roff(row.name) + "\\fR\n" + Roff(row.words) + ".\n";
  }
  return out;
}

std::string BashCompletion() {
  std::string verbs, families, cases;
  for (const Command& command : AllCommands()) {
    const std::string name(command.name);
    const size_t space = name.find(' ');
    if (space == std::string::npos) {
      verbs += (verbs.empty() ? "" : " ") + name;
    } else {
      const std::string first = name.substr(0, space);
      if (families.find("'" + first + "'") == std::string::npos) {
        verbs += (verbs.empty() ? "" : " ") + first;
        std::string seconds;
        for (const Command& other : AllCommands()) {
          const std::string other_name(other.name);
          if (other_name.rfind(first + " ", 0) != 0) continue;
          seconds += (seconds.empty() ? "" : " ") + other_name.substr(first.size() + 1);
        }
        families += "    '" + first + "') seconds='" + seconds + "' ;;\n";
      }
    }
    cases += CaseOf(command);
  }
  return absl::StrCat(
      "# Completion of ferrule for bash: source <(ferrule completion bash)\n"
      "_ferrule() {\n"
      "  local here=${COMP_WORDS[COMP_CWORD]} before=${COMP_WORDS[COMP_CWORD-1]}\n"
      "  local verb=${COMP_WORDS[1]} seconds='' words=''\n"
      "  COMPREPLY=()\n"
      "  if [[ $COMP_CWORD -eq 1 ]]; then\n"
      "    COMPREPLY=($(compgen -W '",
      verbs,
      "' -- \"$here\"))\n"
      "    return\n"
      "  fi\n"
      "  case $verb in\n",
      families,
      "  esac\n"
      "  if [[ -n $seconds ]]; then\n"
      "    if [[ $COMP_CWORD -eq 2 ]]; then\n"
      "      COMPREPLY=($(compgen -W \"$seconds\" -- \"$here\"))\n"
      "      return\n"
      "    fi\n"
      "    verb=\"$verb ${COMP_WORDS[2]}\"\n"
      "  fi\n"
      "  case \"$verb $before\" in\n",
      ChoiceCases(),
      "  esac\n"
      "  if [[ -n $words ]]; then\n"
      "    COMPREPLY=($(compgen -W \"$words\" -- \"$here\"))\n"
      "    return\n"
      "  fi\n"
      "  case $before in\n"
      "    --depot | apply | check)\n"
      "      COMPREPLY=($(compgen -f -- \"$here\"))\n"
      "      return ;;\n"
      "  esac\n"
      "  [[ $here == -* ]] || return\n"
      "  case $verb in\n",
      cases,
      "  esac\n"
      "  COMPREPLY=($(compgen -W \"$words\" -- \"$here\"))\n"
      "}\n"
      "complete -F _ferrule ferrule\n");
}

void AddManualCommands(Catalog* catalog) {
  catalog->push_back({"help",
                      Group::kKeep,
                      Kind::kLocal,
                      "explain a command",
                      {{"COMMAND", "the command to explain; all of them without it", Arity::kMany}},
                      {},
                      "ferrule help hand-over",
                      RunHelp});
  catalog->push_back({"completion bash",
                      Group::kKeep,
                      Kind::kLocal,
                      "print a completion script for bash",
                      {},
                      {},
                      "source <(ferrule completion bash)",
                      RunCompletion});
  catalog->push_back({"man",
                      Group::kKeep,
                      Kind::kLocal,
                      "print the man page",
                      {},
                      {},
                      "ferrule man | man -l -",
                      RunMan});
}

}  // namespace ferrule::cli
