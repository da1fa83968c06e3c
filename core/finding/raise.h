// How a fold raises a finding about the fact that it is applying.
#pragma once

#include <initializer_list>
#include <string_view>
#include <utility>

#include "core/fact/fact_view.h"
#include "ferrule/v1/states.pb.h"

namespace ferrule::finding {

using Values = std::initializer_list<std::pair<std::string_view, std::string_view>>;
using Evidence = std::initializer_list<const v1::Stamp*>;

// Collects what one fact does wrong to one subject. A finding whose rule the fact overrides, and
// may override, goes to the state's overrides; any other becomes an open question.
class Raiser {
 public:
  Raiser(const fact::FactView& view, v1::SubjectState* state) : view_(view), state_(state) {}

  // Unset stamps (null or without time) are left out of the evidence.
  void Raise(v1::Reason reason, Values values = {}, Evidence evidence = {});
  // Takes a finding made elsewhere (readiness) and gives it this fact.
  void Raise(v1::Finding finding);

  // Questions raised so far, overridden ones not counted.
  int count() const { return count_; }

 private:
  const fact::FactView& view_;
  v1::SubjectState* state_;
  int count_ = 0;
};

// Writes when, who and which fact of the view into the stamp.
void SetStamp(const fact::FactView& view, v1::Stamp* stamp);

}  // namespace ferrule::finding
