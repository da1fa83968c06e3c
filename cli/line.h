// A command line taken apart by the command tree.
#pragma once

#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "absl/status/statusor.h"
#include "cli/command.h"

namespace ferrule::cli {

class Line {
 public:
  const Command& command() const { return *command_; }
  bool help() const { return Has("--help"); }
  // Everything that was typed behind the program's name.
  const std::vector<std::string>& words() const { return words_; }

  // The positional of that name; empty when it is optional and was left out.
  std::string Arg(std::string_view name) const;
  // Every value of a positional that takes many.
  std::vector<std::string> Args(std::string_view name) const;

  bool Has(std::string_view flag) const { return flags_.contains(flag); }
  std::optional<std::string> Get(std::string_view flag) const;
  // The flag's value, or else the environment variable's when that is not empty.
  std::optional<std::string> GetOrEnv(std::string_view flag, const char* variable) const;
  std::vector<std::string> All(std::string_view flag) const;

 private:
  friend absl::StatusOr<Line> ParseLine(std::vector<std::string> words);

  // Reads the flag at a position, and its value, which may be the next word.
  absl::Status ReadFlag(const std::vector<const Flag*>& flags,
                        const std::vector<std::string>& words, size_t* at);
  absl::Status PutInPlace(const std::vector<std::string>& values);

  const Command* command_ = nullptr;
  std::vector<std::string> words_;
  std::map<std::string, std::vector<std::string>, std::less<>> args_;
  std::map<std::string, std::vector<std::string>, std::less<>> flags_;
};

// InvalidArgument, naming the nearest words, for an unknown verb or flag, a missing or superfluous
// positional and a flag without its value.
absl::StatusOr<Line> ParseLine(std::vector<std::string> words);

}  // namespace ferrule::cli
