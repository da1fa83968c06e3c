// The largest matching between claims and units, as a largest flow.
#pragma once

#include <cstddef>
#include <utility>
#include <vector>

namespace ferrule::promise {

inline constexpr int kUnmatched = -1;

// `edges` pairs a left node (0 .. left - 1) with a right node (0 .. right - 1) that may serve it;
// each node is used once at most. Returns the right node of each left one, kUnmatched when it goes
// without. As many as can be are matched; of two ways that match as many, which one comes out
// depends on the order of the edges alone.
std::vector<int> LargestMatching(size_t left, size_t right,
                                 const std::vector<std::pair<int, int>>& edges);

}  // namespace ferrule::promise
