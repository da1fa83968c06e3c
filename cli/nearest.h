// The words nearest to a mistyped one.
#pragma once

#include <string>
#include <string_view>
#include <vector>

namespace ferrule::cli {

// Fewest insertions, deletions, replacements and swaps of neighbours that turn one into the other.
int Distance(std::string_view a, std::string_view b);

// At most three candidates that are near enough to be meant, the nearest first.
std::vector<std::string_view> Nearest(std::string_view word,
                                      const std::vector<std::string_view>& candidates);

// The end of a sentence: "; did you mean move or remove?", or "." when nothing is near.
std::string DidYouMean(std::string_view word, const std::vector<std::string_view>& candidates);

}  // namespace ferrule::cli
