#include "cli/line.h"

#include <algorithm>
#include <cstdlib>
#include <utility>

#include "absl/strings/match.h"
#include "absl/strings/str_cat.h"
#include "cli/catalog.h"
#include "cli/help.h"
#include "cli/nearest.h"

namespace ferrule::cli {
namespace {

bool LooksLikeFlag(std::string_view word) { return word.size() > 2 && word.substr(0, 2) == "--"; }

// The command that the first one or two words name, and how many words that takes.
absl::StatusOr<std::pair<const Command*, size_t>> NameCommand(
    const std::vector<std::string>& words) {
  if (words.empty()) return absl::InvalidArgumentError("no command was given; see ferrule help");
  if (words.size() > 1) {
    const Command* two = FindCommand(words[0] + " " + words[1]);
    if (two != nullptr) return std::make_pair(two, size_t{2});
  }
  const Command* one = FindCommand(words[0]);
  if (one != nullptr) return std::make_pair(one, size_t{1});
  std::vector<std::string_view> names, family;
  for (const Command& command : AllCommands()) {
    names.push_back(command.name);
    if (absl::StartsWith(std::string(command.name), words[0] + " ")) family.push_back(command.name);
  }
  if (!family.empty()) {
    std::string list;
    for (const std::string_view name : family)
      list += (list.empty() ? "" : ", ") + std::string(name);
    return absl::InvalidArgumentError(absl::StrCat("say which: ", list));
  }
  return absl::InvalidArgumentError(absl::StrCat("there is no command '", words[0], "'",
                                                 DidYouMean(words[0], names),
                                                 " See ferrule help for all commands."));
}

const Flag* FindFlag(const std::vector<const Flag*>& flags, std::string_view name) {
  for (const Flag* flag : flags) {
    if (flag->name == name) return flag;
  }
  return nullptr;
}

absl::Status UnknownFlag(const Command& command, const std::vector<const Flag*>& flags,
                         const std::string& name) {
  std::vector<std::string_view> names;
  for (const Flag* flag : flags) names.push_back(flag->name);
  return absl::InvalidArgumentError(absl::StrCat("ferrule ", std::string(command.name),
                                                 " takes no flag ", name, DidYouMean(name, names)));
}

absl::Status CheckChoice(const Flag& flag, const std::string& value) {
  if (flag.choices.empty()) return absl::OkStatus();
  std::vector<std::string_view> words;
  std::string_view rest = flag.choices;
  while (!rest.empty()) {
    const size_t space = rest.find(' ');
    words.push_back(rest.substr(0, space));
    rest = space == std::string_view::npos ? std::string_view() : rest.substr(space + 1);
  }
  for (const std::string_view word : words) {
    if (word == value) return absl::OkStatus();
  }
  std::string list;
  for (const std::string_view word : words) list += (list.empty() ? "" : ", ") + std::string(word);
  return absl::InvalidArgumentError(absl::StrCat(std::string(flag.name), " '", value,
                                                 "' is none of ", list, DidYouMean(value, words)));
}

absl::Status MissingPositional(const Command& command, const Positional& positional) {
  return absl::InvalidArgumentError(
      absl::StrCat("ferrule ", std::string(command.name), " needs ", std::string(positional.name),
                   ", ", std::string(positional.help), ". Usage: ", Usage(command)));
}

// Moves the shared flags that stand before the verb, as in "ferrule --depot FILE move ...", to the
// end, so that the verb comes first.
void PutVerbFirst(std::vector<std::string>* words) {
  size_t first = 0;
  while (first < words->size() && LooksLikeFlag((*words)[first])) {
    const std::string& word = (*words)[first++];
    for (const Flag& flag : GlobalFlags()) {
      if (flag.name == word && !flag.value.empty()) ++first;
    }
  }
  if (first < words->size()) {
    std::rotate(words->begin(), words->begin() + static_cast<std::ptrdiff_t>(first), words->end());
  }
}

}  // namespace

std::string Line::Arg(std::string_view name) const {
  const auto found = args_.find(name);
  return found == args_.end() || found->second.empty() ? std::string() : found->second.front();
}

std::vector<std::string> Line::Args(std::string_view name) const {
  const auto found = args_.find(name);
  return found == args_.end() ? std::vector<std::string>() : found->second;
}

std::optional<std::string> Line::Get(std::string_view flag) const {
  const auto found = flags_.find(flag);
  if (found == flags_.end() || found->second.empty()) return std::nullopt;
  return found->second.back();
}

std::optional<std::string> Line::GetOrEnv(std::string_view flag, const char* variable) const {
  if (std::optional<std::string> value = Get(flag)) return value;
  const char* from_environment = std::getenv(variable);
  if (from_environment == nullptr || *from_environment == '\0') return std::nullopt;
  return std::string(from_environment);
}

std::vector<std::string> Line::All(std::string_view flag) const {
  const auto found = flags_.find(flag);
  return found == flags_.end() ? std::vector<std::string>() : found->second;
}

absl::Status Line::ReadFlag(const std::vector<const Flag*>& flags,
                            const std::vector<std::string>& words, size_t* at) {
  const std::string& word = words[*at];
  const size_t equals = word.find('=');
  const std::string name = word.substr(0, equals);
  const Flag* flag = FindFlag(flags, name);
  if (flag == nullptr) return UnknownFlag(*command_, flags, name);
  std::vector<std::string>& given = flags_[name];
  if (!flag->repeated && !given.empty()) {
    return absl::InvalidArgumentError(absl::StrCat(name, " was given twice"));
  }
  std::string value;
  if (equals != std::string::npos) {
    if (flag->value.empty()) {
      return absl::InvalidArgumentError(absl::StrCat(name, " takes no value"));
    }
    value = word.substr(equals + 1);
  } else if (!flag->value.empty()) {
    if (*at + 1 >= words.size() || LooksLikeFlag(words[*at + 1])) {
      return absl::InvalidArgumentError(absl::StrCat(name, " needs a value: ", name, " ",
                                                     std::string(flag->value), ", ",
                                                     std::string(flag->help)));
    }
    value = words[++*at];
  }
  given.push_back(value);
  return CheckChoice(*flag, value);
}

absl::Status Line::PutInPlace(const std::vector<std::string>& values) {
  size_t next = 0;
  for (const Positional& positional : command_->positionals) {
    std::vector<std::string>& taken = args_[std::string(positional.name)];
    if (next < values.size()) taken.push_back(values[next++]);
    while (positional.arity == Arity::kMany && next < values.size()) {
      taken.push_back(values[next++]);
    }
    if (taken.empty() && positional.arity == Arity::kOne) {
      return MissingPositional(*command_, positional);
    }
  }
  if (next == values.size()) return absl::OkStatus();
  return absl::InvalidArgumentError(absl::StrCat("'", values[next], "' is one word too many for ",
                                                 Usage(*command_),
                                                 "; put words with spaces in quotes"));
}

absl::StatusOr<Line> ParseLine(std::vector<std::string> words) {
  Line line;
  line.words_ = words;
  PutVerbFirst(&words);
  const auto named = NameCommand(words);
  if (!named.ok()) return named.status();
  line.command_ = named->first;
  const std::vector<const Flag*> flags = FlagsOf(*line.command_);
  std::vector<std::string> values;
  bool flags_over = false;
  for (size_t i = named->second; i < words.size(); ++i) {
    if (!flags_over && words[i] == "--") {
      flags_over = true;
    } else if (flags_over || !LooksLikeFlag(words[i])) {
      values.push_back(words[i]);
    } else {
      const absl::Status read = line.ReadFlag(flags, words, &i);
      if (!read.ok()) return read;
    }
  }
  if (line.help()) return line;
  const absl::Status placed = line.PutInPlace(values);
  if (!placed.ok()) return placed;
  return line;
}

}  // namespace ferrule::cli
