// Which facts of a subject are reversed, and what reversals and answers name that is not there.
#pragma once

#include <cstddef>
#include <vector>

#include "core/fact/fact_view.h"
#include "core/finding/raise.h"
#include "ferrule/v1/states.pb.h"

namespace ferrule::fold {

// Looks over all facts of a subject, sorted and each once; they must outlive it.
class Reversals {
 public:
  explicit Reversals(const std::vector<fact::FactView>& facts);

  // Whether the fact has no effect because another one reverses it.
  bool IsReversed(size_t i) const { return any_ && reversal_of_[i] != kNowhere; }
  // Raises what is wrong with the reversal at `i`; a fact it names in vain is awaited.
  void Judge(size_t i, finding::Raiser* raiser, v1::SubjectState* state) const;
  // The same for the answer at `i`.
  void JudgeAnswer(size_t i, finding::Raiser* raiser, v1::SubjectState* state) const;
  // Answers that come before the fact at `i`, in true time, and answer what it raises.
  std::vector<const v1::QuestionAnswered*> EarlierAnswersTo(size_t i) const;

 private:
  static constexpr size_t kNowhere = static_cast<size_t>(-1);

  const std::vector<fact::FactView>& facts_;
  bool any_ = false;                 // any reversal or answer at all
  std::vector<size_t> answers_;      // positions of the answers that are not reversed
  std::vector<size_t> target_;       // of the reversal or answer at i
  std::vector<size_t> reversal_of_;  // the first reversal of the fact at i
  std::vector<size_t> first_;        // the reversal that came before the one at i, of the same fact
};

}  // namespace ferrule::fold
