// How far demand now lies above or below what the calendar explains, and how surely that is
// known: a level that moves from block to block (a week, say) around 1 in a Poisson stream, seen
// in complete past blocks and, in part, in coming ones through what is booked already.
#pragma once

#include <cstddef>
#include <vector>

namespace ferrule::plan {

// One block of time. `expected` is what the calendar expects to have been counted: for a coming
// block that is booked in part, only that part. 0 for a block that is not seen.
struct LevelBlock {
  double counted = 0;
  double expected = 0;
};

// log level(t) = persistence * log level(t-1) + move, move ~ Normal(0, step^2), about a constant
// that makes the mean of the level 1.
struct LevelLaw {
  double persistence = .9;  // 0..1; at 1 the level wanders freely
  double step = .05;
};

// A law, and how likely it is before the stream itself is seen: a log, up to a constant of all.
struct LikelyLaw {
  LevelLaw law;
  double log_prior = 0;
};

// How likely each law of a grid makes streams, together: logs, up to a constant of the streams.
struct LawEvidence {
  std::vector<double> logs;  // empty: of no stream
  int streams = 0;

  void Add(const LawEvidence& other);
  void Remove(const LawEvidence& other);  // of what was added before
};

struct Level {
  LevelLaw law;
  std::vector<double> log_mean;    // per block, of the log level
  std::vector<double> covariance;  // of the last `kept` blocks, row by row
  size_t kept = 0;
  double log_evidence = 0;
  std::vector<LikelyLaw> likely;  // the laws that counted most, see FitLevel

  // Of block i (counted from the first): mean of the level and its squared coefficient of
  // variation; and the covariance of two of the kept blocks, i and j in 0..kept-1.
  double Mean(size_t block) const;
  double Covariance(size_t i, size_t j) const { return covariance[i * kept + j]; }
};

// The level in all blocks under a given law; covariances for the last `kept` blocks. `dispersion`
// is the variance of a count over its mean, > 0.
Level SmoothLevel(const std::vector<LevelBlock>& blocks, const LevelLaw& law, double dispersion,
                  size_t kept);
LawEvidence EvidenceOfLaws(const std::vector<LevelBlock>& blocks, double dispersion);
// The laws of the grid, from a level that all but stands still on: with a mild preference for calm
// ones, and with what streams `alike` have shown of theirs.
std::vector<LikelyLaw> UsualLaws(const LawEvidence& alike = {});
// The one that makes the stream likeliest.
LevelLaw LikeliestLaw(const std::vector<LevelBlock>& blocks, double dispersion,
                      const std::vector<LikelyLaw>& laws);
// Laws are averaged by their evidence: where few counts leave the law open, the best one alone
// would swing with them. `law` and `log_evidence` are those of the best. Those that an earlier fit
// found likely may stand for the whole grid.
Level FitLevel(const std::vector<LevelBlock>& blocks, double dispersion, size_t kept,
               const std::vector<LikelyLaw>& laws = UsualLaws());
// The level of coming blocks alone, where the expected counts are another method's, whose doubt is
// given: the variance of the log rate of each block before anything of it is seen, > 0 and never
// falling. Its errors go on from block to block, as those of a random walk.
Level LevelAround(const std::vector<LevelBlock>& ahead, const std::vector<double>& log_variance,
                  double dispersion);

}  // namespace ferrule::plan
