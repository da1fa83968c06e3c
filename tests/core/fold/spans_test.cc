#include "core/fold/spans.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <string>
#include <tuple>
#include <vector>

#include "absl/strings/str_cat.h"
#include "core/fold/fold.h"
#include "tests/support/folded_depot.h"
#include "tests/support/random_history.h"

namespace ferrule::fold {
namespace {

using ::testing::ElementsAre;
using testing::FoldedDepot;
using ::testing::IsEmpty;

// "custody shelf 10-20", minutes; "-" while it lasts.
std::vector<std::string> Spans(const FoldedDepot& d, const std::string& name) {
  SpanChanges changes;
  v1::SubjectState state;
  Fold(name, d.FactsOf(name), d.book(), &state, &changes);
  EXPECT_TRUE(changes.all);
  EXPECT_THAT(changes.ended, IsEmpty());
  std::sort(changes.begun.begin(), changes.begun.end(), [](const Span& a, const Span& b) {
    return std::tie(a.kind, a.from_us) < std::tie(b.kind, b.from_us);
  });
  std::vector<std::string> out;
  const auto minute = [](int64_t us) { return (us - FoldedDepot::Us(0)) / testing::kMinuteUs; };
  for (const Span& span : changes.begun) {
    std::string kind = v1::SpanKind_Name(span.kind).substr(10);
    std::transform(kind.begin(), kind.end(), kind.begin(), ::tolower);
    out.push_back(absl::StrCat(kind, " ", span.holder, span.detail.empty() ? "" : " " + span.detail,
                               span.lot.empty() ? "" : " " + span.lot,
                               span.piece_count == 0 ? "" : absl::StrCat(" x", span.piece_count),
                               " ", minute(span.from_us), "-",
                               span.to_us == kLasts ? "" : absl::StrCat(minute(span.to_us))));
  }
  return out;
}

TEST(Spans, OfAUnitFollowItFromPlaceToHomeAndBack) {
  FoldedDepot d;
  d.ReadyKnee();
  d.TakeOrder("R-1", 10);
  d.HandOver("K-1", "R-1", 20);
  d.PickUp("K-1", "R-1", 40);
  d.ReceiveBack("K-1", 50);
  d.Tell(60, "unit_missing { unit: 'K-1' }");
  d.Tell(70, "unit_written_off { unit: 'K-1' reason: 'lost' approved_by: 'eve' }");
  EXPECT_THAT(Spans(d, "units/K-1"),
              ElementsAre("custody places/dock 0-9", "custody places/shelf 9-20",
                          "custody orders/R-1 20-40", "custody places/van-dirty 40-50",
                          "custody places/dock 50-60", "custody nobody 60-70", "custody gone 70-"));
}

TEST(Spans, OfATransferLieBetweenItsEnds) {
  FoldedDepot d;
  d.ReadyKnee();
  d.Tell(20,
         "transfer_sent { transfer: 'T-1' from_place: 'shelf' to_place: 'west-shelf' "
         "units: 'K-1' }");
  d.Tell(90, "transfer_received { transfer: 'T-1' place: 'west-shelf' units: 'K-1' }");
  EXPECT_THAT(Spans(d, "units/K-1"),
              ElementsAre("custody places/dock 0-9", "custody places/shelf 9-20",
                          "custody transfers/T-1 20-90", "custody places/west-shelf 90-"));
}

TEST(Spans, OfAPartNameItsUnitPositionAndLot) {
  FoldedDepot d;
  d.Tell(10, "part_fitted { part: 'P-9' unit: 'K-1' position: 'board' lot: 'B-77' }");
  d.Tell(20, "part_removed { part: 'P-9' unit: 'K-1' position: 'board' }");
  d.Tell(30, "part_fitted { part: 'P-9' unit: 'K-2' position: 'board' }");
  EXPECT_THAT(Spans(d, "parts/P-9"),
              ElementsAre("part units/K-1 board B-77 10-20", "part units/K-2 board B-77 30-"));
}

TEST(Spans, OfHoldsAndPurposesStandBesideCustody) {
  FoldedDepot d;
  d.Receive("K-1", 0);
  d.Tell(10, "hold_placed { unit: 'K-1' kind: HOLD_KIND_RECALL reason: 'n' reference: 'N-7' }");
  d.Tell(15, "purpose_changed { unit: 'K-1' purpose: PURPOSE_LOANER }");
  d.Tell(20, "hold_lifted { unit: 'K-1' kind: HOLD_KIND_RECALL outcome: 'o' reference: 'N-7' }");
  d.Tell(25, "purpose_changed { unit: 'K-1' purpose: PURPOSE_RENTAL }");
  EXPECT_THAT(Spans(d, "units/K-1"), ElementsAre("custody places/dock 0-", "hold N-7 recall 10-20",
                                                 "purpose  loaner 15-25"));
}

TEST(Spans, OfALotAreItsPlacesAndItsPatients) {
  FoldedDepot d;
  d.Tell(0, "stock_received { item: 'pad-set' lot: 'L-1' place: 'shelf' piece_count: 2 }");
  d.Tell(10,
         "stock_moved { item: 'pad-set' lot: 'L-1' from_place: 'shelf' to_place: 'closet' "
         "piece_count: 1 }");
  d.HandOver("K-1", "R-1", 20, "kit { item: 'pad-set' lot: 'L-1' piece_count: 1 }");
  EXPECT_THAT(Spans(d, "lots/L-1"),
              ElementsAre("use orders/R-1 pad-set x2 20-", "stock places/shelf 0-20",
                          "stock places/closet 10-20"));
}

TEST(Spans, ThatLastNoTimeAreNone) {
  FoldedDepot d;
  d.Receive("K-1", 0);
  d.Move("K-1", 0, "bench");
  d.Move("K-1", 5, "bay");
  d.Move("K-1", 5, "bench");
  EXPECT_THAT(Spans(d, "units/K-1"),
              ElementsAre("custody places/bench 0-5", "custody places/bench 5-"));
}

TEST(Spans, OfAReversedFactAreNone) {
  FoldedDepot d;
  d.Receive("K-1", 0);
  d.Move("K-1", 10, "bench");
  d.Tell(20, "reversal { fact { entry_id: '" + d.last_entry().entry_id() +
                 "' index: 0 } subjects: 'units/K-1' because: 'wrong tag' }");
  EXPECT_THAT(Spans(d, "units/K-1"), ElementsAre("custody places/dock 0-"));
}

// A run in pieces gives what the whole gives.
TEST(Spans, AppendedFromRunToRunAreThoseOfTheWhole) {
  for (uint64_t seed = 0; seed < 200; ++seed) {
    const std::vector<v1::Entry> history = testing::RandomHistory(seed, "h-");
    const depot::SettingsBook book;
    for (const std::string& name : testing::SubjectsOfHistory("h-")) {
      std::vector<fact::FactView> views;
      for (const v1::Entry& entry : history) {
        for (int i = 0; i < entry.facts_size(); ++i) {
          if (entry.facts(i).has_reversal() || entry.facts(i).has_question_answered()) continue;
          for (const std::string& subject : fact::SubjectsOf(entry.facts(i))) {
            if (subject != name) continue;
            views.push_back({&entry, i, time::ToMicros(entry.facts(i).happened_time()), 0, 1});
          }
        }
      }
      SpanChanges whole;
      v1::SubjectState folded;
      Fold(name, views, book, &folded, &whole);
      std::sort(views.begin(), views.end(), fact::Before);
      v1::SubjectState state = Empty(name);
      std::vector<Span> open = OpenSpans(state);
      SpanChanges all;
      for (const fact::FactView& view : views) {
        SpanChanges one;
        Apply(view, book, &state);
        NoteSpans(view, state, &open, &one);
        Append(std::move(one), &all);
      }
      std::sort(all.begun.begin(), all.begun.end());
      std::sort(whole.begun.begin(), whole.begun.end());
      EXPECT_EQ(all.begun, whole.begun) << name << " of history " << seed;
      EXPECT_THAT(all.ended, IsEmpty());
      // One custodian at every instant: custody spans follow each other without a gap.
      std::vector<Span> custody;
      for (const Span& span : all.begun) {
        if (span.kind == v1::SPAN_KIND_CUSTODY) custody.push_back(span);
      }
      std::sort(custody.begin(), custody.end(),
                [](const Span& a, const Span& b) { return a.from_us < b.from_us; });
      for (size_t i = 1; i < custody.size(); ++i) {
        EXPECT_EQ(custody[i - 1].to_us, custody[i].from_us) << name << " of history " << seed;
      }
    }
  }
}

}  // namespace
}  // namespace ferrule::fold
