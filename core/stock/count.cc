// Stocktakes: opened with a cut-off, tallied blind, counted again, approved. What should have stood
// there is compared outside (core/trace/stocktake.h): a fold sees the stocktake's own facts alone.
#include <algorithm>
#include <string>

#include "absl/strings/str_join.h"
#include "core/stock/fold.h"

namespace ferrule::stock {
namespace {

class CountFold {
 public:
  CountFold(const fact::FactView& view, const depot::Rules& rules, finding::Raiser* raiser,
            v1::CountState* count)
      : view_(view), rules_(rules), raiser_(raiser), count_(count) {}

  void On(const v1::CountOpened& f) {
    if (count_->has_opened()) {
      return Raise(v1::REASON_COUNT_NUMBER_IN_USE, {{"item", f.count()}}, {&count_->opened()});
    }
    for (const std::string& place : f.places()) {
      if (rules_.FindPlace(place) == nullptr) Raise(v1::REASON_PLACE_UNKNOWN, {{"place", place}});
    }
    finding::SetStamp(view_, count_->mutable_opened());
    *count_->mutable_places() = f.places();
    *count_->mutable_cut_off_time() = f.cut_off_time();
  }

  void On(const v1::CountTallied& f) {
    if (!IsOpen()) return;
    if (!Counts(f.place())) {
      Raise(v1::REASON_COUNT_OTHER_PLACE, {{"place", f.place()},
                                           {"item", count_->count()},
                                           {"list", absl::StrJoin(count_->places(), ", ")}});
    }
    v1::CountTally* tally = count_->add_tallies();
    tally->set_place(f.place());
    tally->set_round(std::max(1, f.round()));
    *tally->mutable_units() = f.units();
    *tally->mutable_lines() = f.lines();
    *tally->mutable_unreadable() = f.unreadable();
    finding::SetStamp(view_, tally->mutable_tallied());
  }

  // Gains and losses are kept apart.
  void On(const v1::StockAdjusted& f) {
    if (!count_->has_opened()) return Raise(v1::REASON_COUNT_UNKNOWN, {{"item", f.count()}});
    if (f.change_count() > 0) {
      count_->set_gained_count(count_->gained_count() + f.change_count());
    } else {
      count_->set_lost_count(count_->lost_count() - f.change_count());
    }
  }

  void On(const v1::CountClosed& f) {
    if (!IsOpen()) return;
    CheckTallied();
    for (const v1::CountDifference& difference : f.differences()) CheckRecounted(difference);
    CheckApprover(f.approved_by());
    finding::SetStamp(view_, count_->mutable_closed());
    count_->set_approved_by(f.approved_by());
    *count_->mutable_differences() = f.differences();
  }

 private:
  bool IsOpen() {
    if (!count_->has_opened()) {
      Raise(v1::REASON_COUNT_UNKNOWN, {{"item", count_->count()}});
      return false;
    }
    if (count_->has_closed()) {
      Raise(v1::REASON_COUNT_CLOSED, {{"item", count_->count()}}, {&count_->closed()});
      return false;
    }
    return true;
  }

  bool Counts(const std::string& place) const {
    return std::find(count_->places().begin(), count_->places().end(), place) !=
           count_->places().end();
  }

  int Rounds(const std::string& place) const {
    int rounds = 0;
    for (const v1::CountTally& tally : count_->tallies()) {
      if (tally.place() == place) rounds = std::max(rounds, tally.round());
    }
    return rounds;
  }

  void CheckTallied() {
    std::vector<std::string> untallied;
    for (const std::string& place : count_->places()) {
      if (Rounds(place) == 0) untallied.push_back(place);
    }
    if (untallied.empty()) return;
    Raise(v1::REASON_COUNT_NOT_TALLIED,
          {{"item", count_->count()}, {"list", absl::StrJoin(untallied, ", ")}});
  }

  void CheckRecounted(const v1::CountDifference& difference) {
    if (difference.explanation() != v1::COUNT_EXPLANATION_NONE) return;
    if (Rounds(difference.place()) >= 2) return;
    Raise(v1::REASON_COUNT_NOT_RECOUNTED,
          {{"expected", difference.subject()}, {"place", difference.place()}});
  }

  void CheckApprover(const std::string& approver) {
    const auto counted = [&](const v1::CountTally& t) { return t.tallied().actor() == approver; };
    if (std::none_of(count_->tallies().begin(), count_->tallies().end(), counted)) return;
    Raise(v1::REASON_COUNT_APPROVER_COUNTED, {{"found", approver}, {"item", count_->count()}});
  }

  void Raise(v1::Reason reason, finding::Values values = {}, finding::Evidence evidence = {}) {
    raiser_->Raise(reason, values, evidence);
  }

  const fact::FactView& view_;
  const depot::Rules& rules_;
  finding::Raiser* raiser_;
  v1::CountState* count_;
};

}  // namespace

void ApplyToCount(const fact::FactView& view, const depot::SettingsBook& book,
                  finding::Raiser* raiser, v1::CountState* count) {
  CountFold fold(view, book.At(view.happened_us), raiser, count);
  const v1::Fact& fact = view.fact();
  switch (fact.what_case()) {
    case v1::Fact::kCountOpened:
      return fold.On(fact.count_opened());
    case v1::Fact::kCountTallied:
      return fold.On(fact.count_tallied());
    case v1::Fact::kStockAdjusted:
      return fold.On(fact.stock_adjusted());
    case v1::Fact::kCountClosed:
      return fold.On(fact.count_closed());
    default:
      return;  // not about a stocktake
  }
}

}  // namespace ferrule::stock
