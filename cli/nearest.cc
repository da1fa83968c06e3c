#include "cli/nearest.h"

#include <algorithm>
#include <utility>

namespace ferrule::cli {

int Distance(std::string_view a, std::string_view b) {
  std::vector<int> before_last(b.size() + 1), last(b.size() + 1), row(b.size() + 1);
  for (size_t j = 0; j <= b.size(); ++j) last[j] = static_cast<int>(j);
  for (size_t i = 1; i <= a.size(); ++i) {
    row[0] = static_cast<int>(i);
    for (size_t j = 1; j <= b.size(); ++j) {
      const int change = a[i - 1] == b[j - 1] ? 0 : 1;
      row[j] = std::min({last[j] + 1, row[j - 1] + 1, last[j - 1] + change});
      if (i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1]) {
        row[j] = std::min(row[j], before_last[j - 2] + 1);
      }
    }
    before_last.swap(last);
    last.swap(row);
  }
  return last[b.size()];
}

std::vector<std::string_view> Nearest(std::string_view word,
                                      const std::vector<std::string_view>& candidates) {
  std::vector<std::pair<int, std::string_view>> near;
  const int limit = std::max(1, std::min(3, static_cast<int>(word.size()) / 2));
  for (const std::string_view candidate : candidates) {
    // A word typed short, or a part of a longer one, is as near as one slip.
    const bool part = word.size() >= 3 && candidate.find(word) != std::string_view::npos;
    const int distance = part ? 1 : Distance(word, candidate);
    if (distance <= limit) near.emplace_back(distance, candidate);
  }
  std::stable_sort(near.begin(), near.end(),
                   [](const auto& a, const auto& b) { return a.first < b.first; });
  std::vector<std::string_view> best;
  for (const auto& [distance, candidate] : near) {
    if (best.size() == 3 || distance > near.front().first + 1) break;
    best.push_back(candidate);
  }
  return best;
}

std::string DidYouMean(std::string_view word, const std::vector<std::string_view>& candidates) {
  const std::vector<std::string_view> near = Nearest(word, candidates);
  std::string text;
  for (size_t i = 0; i < near.size(); ++i) {
    if (i > 0) text += i + 1 == near.size() ? " or " : ", ";
    text += near[i];
  }
  return text.empty() ? "." : "; did you mean " + text + "?";
}

}  // namespace ferrule::cli
