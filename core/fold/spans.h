// Spans: what was so from one instant until before another, in true time. They follow from the
// states alone: a span begins with the fact after which the state has it, and ends with the one
// after which it has it no more. So late facts and reversals, which fold a subject again, give the
// same spans as if everything had arrived in order.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "core/fact/fact_view.h"
#include "ferrule/v1/states.pb.h"
#include "ferrule/v1/trace_service.pb.h"

namespace ferrule::fold {

inline constexpr int64_t kLasts = INT64_MAX;  // the end of a span that goes on

// Half-open, in microseconds. proto/ferrule/v1/trace_service.proto says what the texts hold.
struct Span {
  v1::SpanKind kind = v1::SPAN_KIND_UNSPECIFIED;
  std::string holder;
  std::string detail;
  std::string lot;
  std::string fact;  // "entry#index" of a use, which alone may begin twice at one instant
  int64_t piece_count = 0;
  int64_t from_us = 0;
  int64_t to_us = kLasts;

  auto operator<=>(const Span&) const = default;
};

// What is so in this state, each with the beginning that the state gives; sorted, each once. Uses
// are left out: a lot may have thousands.
std::vector<Span> OpenSpans(const v1::SubjectState& state);

// How a run of facts changes the spans of one subject.
struct SpanChanges {
  bool all = false;         // `begun` are all of its spans, and those known before are void
  std::vector<Span> ended;  // began before the run; as long as they began they may end, then void
  std::vector<Span> begun;  // began in the run; they may have ended in it, too

  bool empty() const { return !all && ended.empty() && begun.empty(); }
};

// Notes what one fact, just applied, changed. `open` is OpenSpans of the state before it, and then
// of the state after it.
void NoteSpans(const fact::FactView& view, const v1::SubjectState& after, std::vector<Span>* open,
               SpanChanges* changes);

// Adds a later run to an earlier one.
void Append(SpanChanges later, SpanChanges* changes);

}  // namespace ferrule::fold
